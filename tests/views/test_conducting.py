"""What conducts at rest: junctions, spreaders, VBE multipliers, saturated transistors, and driven linearisation."""

from pytest import approx
from viewing import seen

from topo.analysis import linearise
from topo.views.groups import Group
from topo.views.judging import judge
from topo.views.network import Network

OUTPUT_PAIR = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output out
R1 {upper} : vcc b2
{spreader}
Q1 npn : b=b1 c=b3 e=gnd
R4 {feedback} : mid b1
R5 10k : b1 gnd
C1 10u : in b1
Q2 npn : b=b2 c=vcc e=e2
Q3 pnp : b=b3 c=gnd e=e3
R2 0.47 : e2 mid
R3 0.47 : mid e3
C2 1000u : mid out
LS1 speaker 8 : out gnd
"""


def pair(spreader, upper="470", feedback="82k"):
    return seen(OUTPUT_PAIR.format(spreader=spreader, upper=upper, feedback=feedback))


def test_two_conducting_diodes_make_the_two_bases_one_net():
    found = pair("D1 diode : b2 x\nD2 diode : x b3")

    assert found.joined("b2", "b3")
    assert found.why("b2", "b3") == ("D1", "D2")


def test_a_spreader_of_two_diodes_and_a_resistor_is_a_wire():
    found = pair("D1 diode : b2 x\nR9 22 : x y\nD2 diode : y b3")

    assert found.joined("b2", "b3")
    assert [set(found.names(chain)) for chain in found.views.spreaders] == [{"D1", "R9", "D2"}]
    assert found.fate("R9") == "short"


def test_a_diode_and_a_large_resistor_are_no_spreader():
    found = pair("D1 diode : b2 x\nR9 4k7 : x b3")

    assert not found.joined("b2", "b3")


def test_diodes_the_wrong_way_round_join_nothing():
    found = pair("D1 diode : x b2\nD2 diode : b3 x\nR9 680 : b2 b3")

    assert not found.joined("b2", "b3")


MULTIPLIER = """
Q4 npn : b=b4 c=b2 e=b3
R8 1k : b2 b4
R9 1k2 : b4 b3
"""


def test_a_vbe_multiplier_is_a_wire_and_so_is_its_bypass():
    found = pair(MULTIPLIER + "C9 10u : b2 b3")

    assert found.joined("b2", "b3")
    assert found.fate("C9") == "short"
    assert set(found.names(found.verdict("C9").group)) == {"Q4", "R8", "R9", "C9"}


def test_a_multiplier_with_its_trimmer_is_found():
    found = pair("""
Q4 npn : b=w c=b2 e=b3
R8 820 : b2 t
VR1 500 at 40% : t w u
R9 820 : u b3
""")

    assert found.joined("b2", "b3")
    assert [set(found.names(chain)) for chain in found.views.spreaders] == [{"Q4", "R8", "VR1", "R9"}]


def test_a_multiplier_of_high_resistances_is_a_wire_though_its_base_current_counts():
    found = pair(MULTIPLIER.replace("1k ", "5k6 ").replace("1k2", "6k8"))

    assert found.joined("b2", "b3")


def test_a_transistor_whose_base_is_driven_is_no_multiplier():
    found = pair(MULTIPLIER + "C9 1u : in b4")

    assert found.views.spreaders == ()


def test_a_diode_connected_transistor_is_a_junction():
    found = pair("Q4 npn : b=b2 c=b2 e=x\nQ5 npn : b=x c=x e=b3")

    assert found.joined("b2", "b3")
    assert found.element("Q4") in found.views.signal.present


SWITCH = """
supply vcc 12V
signal 300Hz to 3.4kHz
R1 {base} : vcc b
R2 1k : vcc c
Q1 npn : b=b c=c e=gnd
"""


def test_a_saturated_transistor_is_a_closed_switch():
    found = seen(SWITCH.format(base="10k"))

    assert found.names(found.views.switches) == ("Q1",)
    assert found.is_zero("c")
    assert found.why("c", "gnd") == ("Q1",)


def test_a_transistor_in_its_active_region_is_no_switch():
    found = seen(SWITCH.format(base="330k"))

    assert found.views.switches == ()
    assert not found.is_zero("c")


def test_a_pair_without_bias_is_linearised_at_a_driven_current():
    found = pair("R9 0.1 : b2 b3")

    assert set(found.names(found.views.driven)) == {"Q2", "Q3"}
    assert max(found.views.driven.values()) < 1.0


def test_a_pair_that_idles_in_class_ab_is_linearised_as_it_stands_above_a_hundredth_of_the_peak():
    found = pair("D1 diode : b2 x\nR9 22 : x y\nD2 diode : y b3")

    assert found.views.driven == {}


BIAS_FOLLOWER = """
supply vcc 12V
signal 1.8MHz to 30MHz
input in
output c2
R1 1k : vcc n0
D1 diode : n0 x
D2 diode : x gnd
C1 {bypass} : n0 gnd
Q1 npn : b=n0 c=vcc e=n1
R3 150 : n1 gnd
C2 100n : n1 gnd
L1 choke 10u : n1 b2
Q2 npn : b=b2 c=c2 e=gnd
R4 100 : vcc c2
C3 10n : in b2
"""


def test_a_bias_follower_is_never_put_at_a_driven_current_so_that_its_bypass_stays_a_short():
    found = seen(BIAS_FOLLOWER.format(bypass="100n"))

    assert found.element("Q1") not in found.views.driven
    assert found.fate("C2") == "short"
    assert found.is_zero("n1")


def test_put_at_a_driven_current_it_would_outweigh_its_bypass():
    found = seen(BIAS_FOLLOWER.format(bypass="100n"))
    views, band = found.views, (1.8e6, 30e6)
    driven = Network(linearise(found.graph, views.point, driven={found.element("Q1"): 3.0}))

    verdict = judge([Group((0, found.node("n1")), "capacitor", (found.element("C2"),))], driven, band)[0]

    assert verdict.fate == "open"


AUDIO_BIAS_FOLLOWER = """
supply vee -12V
signal 300Hz to 3.4kHz
input a
output c2
R1 4k7 : vee g
R4 400 : g gnd
C4 {base} : g gnd
Q3 pnp : b=g c=vee e=tap
C1 2u2 : tap gnd
R6 470 : tap gnd
T1 transformer 1:1 primary=2H : a gnd | s1 tap
Q1 pnp germanium : b=s1 c=c2 e=e1
R2 0R47 : e1 gnd
R3 100 : vee c2
"""


def test_a_bias_followers_bypass_is_judged_with_the_follower():
    found = seen(AUDIO_BIAS_FOLLOWER.format(base="10u"))

    assert found.is_zero("tap")
    assert set(found.names(found.verdict("C1").group)) == {"C1", "Q3"}


def test_a_follower_whose_base_moves_holds_nothing():
    found = seen(AUDIO_BIAS_FOLLOWER.format(base="1n"))

    assert not set(found.names(found.verdict("C1").group)) & {"Q3"}


MIRROR_LOADED_PAIR = """
supply vp 12V
supply vn -12V
signal 30Hz to 15kHz
input in
output out
R1 22k : in gnd
Q1 npn : b=in c=c1 e=t
Q2 npn : b=f c=c2 e=t
R2 11k : t vn
Q3 pnp : b={diode} c=c1 e=vp
Q4 pnp : b={diode} c=c2 e=vp
Q5 pnp : b={second} c=out e=vp
R3 4k7 : out vn
R4 22k : out f
R5 1k : f g
C1 100u : g gnd
"""


def test_a_loop_of_the_right_sense_has_no_device_that_switches():
    assert seen(MIRROR_LOADED_PAIR.format(diode="c2", second="c1")).views.switches == ()


def test_a_long_tailed_pair_does_not_make_its_tail_a_zero():
    found = seen("""
        supply vp 12V
        supply vn -12V
        signal 300Hz to 3.4kHz
        input in
        output c2
        R1 22k : in gnd
        R6 22k : b2 gnd
        Q1 npn : b=in c=vp e=t
        Q2 npn : b=b2 c=c2 e=t
        R2 11k : t vn
        R3 4k7 : vp c2
    """)

    assert not found.is_zero("t")


def test_a_zener_reference_in_breakdown_is_a_wire_against_its_feed():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        R1 1k : vcc r
        D1 zener 5V6 : gnd r
        R2 10k : r gnd
    """)

    assert found.is_zero("r")
    assert found.verdict("D1").facing == approx(909, rel=0.05)
