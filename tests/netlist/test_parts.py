"""What a part is and where its terminals go, form by form of the language."""

from __future__ import annotations

import pytest
from pytest import approx

import topo
from topo.errors import NetlistError
from topo.netlist.circuit import Part


def part(line: str) -> Part:
    """The one part of a line."""
    return topo.loads(line).parts[-1]


def nets(line: str) -> dict[str, str]:
    """Terminal names and nets of the one part of a line."""
    return {terminal.name: terminal.net for terminal in part(line).terminals}


def codes(text: str) -> list[str]:
    """The codes of the errors of a text."""
    with pytest.raises(NetlistError) as caught:
        topo.loads(text)
    return [problem.code for problem in caught.value.problems if problem.severity == "error"]


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("R1 1k : a b", "resistor"),
        ("VR1 1k : a b c", "potentiometer"),
        ("RV1 1k : a b c", "potentiometer"),
        ("P1 1k : a b c", "potentiometer"),
        ("TH1 1k : a b", "thermistor"),
        ("RT1 1k : a b", "thermistor"),
        ("C1 1n : a b", "capacitor"),
        ("L1 1m : a b", "inductor"),
        ("FB1 : a b", "bead"),
        ("T1 : a b | c d", "transformer"),
        ("TR1 3:1 : a b | c d", "transformer"),
        ("D1 : a b", "diode"),
        ("ZD1 5V6 : a b", "zener"),
        ("REG1 5V : in=a out=b common=c", "regulator"),
        ("BT1 9V : a b", "battery"),
        ("B1 9V : a b", "battery"),
        ("LS1 8 : a b", "speaker"),
        ("MK1 : a b", "microphone"),
        ("AE1 50 : a b", "antenna"),
        ("M1 : a b", "meter"),
        ("LP1 12V 50mA : a b", "lamp"),
        ("F1 1A : a b", "fuse"),
        ("Y1 9MHz : a b", "crystal"),
        ("S1 : a b", "switch"),
        ("SW1 open : a b", "switch"),
        ("K1 : a b | c d e", "relay"),
        ("J1 : a b c", "jack"),
        ("SK1 : a", "jack"),
        ("PL1 : a b", "plug"),
        ("TR1 npn : b=a c=b e=c", "npn"),
        ("VT1 pmos : g=a d=b s=c", "pmos"),
        ("V1 triode : a=a g=b k=c", "triode"),
        ("IC1 opamp : in+=a in-=b out=c", "opamp"),
        ("LP1 inductor 1m : a b", "inductor"),
        ("X1 headphones 32 : a b", "headphones"),
        ("Rload 1k : a b", "resistor"),
    ],
)
def test_letters_imply_a_kind_and_a_kind_that_is_said_wins(line, kind):
    assert part(line).kind == kind


@pytest.mark.parametrize(
    "line", ["R1 1k 0.5W 5% : a b", "R1 5% 1k resistor 0.5W : a b", "r1 RESISTOR 0.5W 1k 5% : A B"]
)
def test_the_words_of_a_part_come_in_any_order(line):
    found = part(line)

    assert (found.kind, found.value) == ("resistor", 1000.0)
    assert found.ratings == {"W": 0.5, "%": 5.0}


@pytest.mark.parametrize("line", ["R1 ? : a b", "R1 : a b", "R1 resistor : a b"])
def test_a_value_may_be_not_known(line):
    assert part(line).value is None


def test_a_polarised_capacitor_has_plus_and_minus():
    assert nets("C1 electrolytic 10u 16V : a b") == {"+": "a", "-": "b"}
    assert nets("C1 electrolytic 10u : 1=a 2=b") == {"+": "a", "-": "b"}
    assert part("C1 electrolytic 10u 16V : a b").settings == {"polarised": True}


def test_a_diode_has_anode_and_cathode_in_that_order():
    assert nets("D1 : a b") == {"a": "a", "k": "b"}
    assert nets("D1 : k=b a=a") == {"a": "a", "k": "b"}
    assert nets("D1 : +=a -=b") == {"a": "a", "k": "b"}


def test_a_potentiometer_is_set_from_its_first_end():
    found = part("VR1 10k at 30% : top wiper bottom")

    assert found.settings == {"at": approx(0.3)}
    assert [(item.name, item.net) for item in found.terminals] == [("1", "top"), ("w", "wiper"), ("2", "bottom")]


def test_a_potentiometer_of_two_terminals_is_asked_about_with_a_line_to_type():
    with pytest.raises(NetlistError, match="VR1 10k : a b b"):
        topo.loads("VR1 10k : a b")
    assert nets("VR1 10k : 1=a w=b") == {"1": "a", "w": "b"}


def test_terminals_by_name_come_in_the_kinds_own_order_whatever_was_typed():
    one = part("Q1 npn : e=z b=x c=y")

    assert [terminal.name for terminal in one.terminals] == ["b", "c", "e"]
    assert one.terminals == part("Q1 npn : b=x c=y e=z").terminals


def test_a_transistor_without_names_is_shown_its_line_with_names():
    with pytest.raises(NetlistError) as caught:
        topo.loads("Q1   npn                 : base1 drive emit1", "intercom.net")

    assert str(caught.value).split("\n") == [
        "intercom.net, line 1, column 28: the terminals of a transistor need names.",
        "  Q1   npn                 : base1 drive emit1",
        "                             ^^^^^^^^^^^^^^^^^",
        "  Write  Q1   npn : b=base1 c=drive e=emit1   if the order was base, collector, emitter.",
    ]


def test_a_field_effect_transistor_may_have_its_substrate():
    assert nets("Q1 nmos : g=a d=b s=c b=d") == {"g": "a", "d": "b", "s": "c", "b": "d"}


def test_a_valve_may_have_its_heaters_and_may_leave_them_out():
    assert set(nets("V1 pentode : a=1 g1=2 g2=3 g3=4 k=5")) == {"a", "g1", "g2", "g3", "k"}
    assert nets("V1 triode : a=x g=y k=z h1=p h2=q")["h2"] == "q"


def test_an_operational_amplifier_may_leave_its_supply_pins_out():
    assert nets("U1 opamp : out=c in-=b in+=a") == {"in+": "a", "in-": "b", "out": "c"}
    assert nets("U1 opamp : in+=a in-=b out=c v+=p v-=n")["v-"] == "n"


def test_an_opaque_part_has_the_terminals_that_are_named():
    assert nets("U1 ic : 1=vcc 2=out RF=x") == {"1": "vcc", "2": "out", "RF": "x"}


def test_a_connector_has_any_number_of_terminals_named_or_not():
    assert nets("J1 : a b c") == {"1": "a", "2": "b", "3": "c"}
    assert nets("J1 : tip=a sleeve=b") == {"tip": "a", "sleeve": "b"}


def test_a_switch_and_a_selector_say_their_position():
    assert part("SW1 switch open : a b").settings == {"state": "open"}
    selector = part("SW1 selector at 2 : pole | a b c")
    assert selector.settings == {"way": 2}
    assert [terminal.name for terminal in selector.terminals] == ["pole", "way1", "way2", "way3"]


@pytest.mark.parametrize(("words", "state"), [("at rest", "rest"), ("worked", "worked"), ("relay at worked", "worked")])
def test_a_relay_has_a_coil_and_contact_sets(words, state):
    relay = part(f"K1 {words} : a b | c d e | f - g")

    assert relay.settings == {"state": state}
    assert [terminal.name for terminal in relay.terminals] == [
        "coil.1", "coil.2", "1.common", "1.rest", "1.worked", "2.common", "2.rest", "2.worked",
    ]  # fmt: skip


@pytest.mark.parametrize(("word", "value"), [("8", 8.0), ("8ohm", 8.0), ("8Ω", 8.0), ("8R", 8.0)])
def test_a_bare_figure_of_a_loudspeaker_is_ohms(word, value):
    assert part(f"LS1 {word} : a b").value == value


def test_a_lamp_has_its_hot_resistance():
    lamp = part("LP1 12V 50mA : a b")

    assert lamp.value == approx(240)  # Ohm's law
    assert lamp.ratings == {"V": 12.0, "A": 0.05}


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("Q1 npn 2N9999 : b=a c=b e=c", "2N9999"),
        ("D1 1N9999 : a b", "1N9999"),
        ("V1 pentode 6V6 : a=a g1=b g2=c g3=d k=e", "6V6"),
        ("U1 opamp 741 : in+=a in-=b out=c", "741"),
    ],
)
def test_a_type_that_no_line_declares_is_kept_and_is_no_value(line, name):
    found = part(line)

    assert found.type_name == name
    assert found.value is None


def test_a_transistors_ratings_are_no_type():
    found = part("Q1 npn 60V 1A : b=a c=b e=c")

    assert found.type_name is None
    assert found.ratings == {"V": 60.0, "A": 1.0}


def test_a_device_may_come_after_its_use_and_the_part_may_overrule_it():
    circuit = topo.loads("""
        Q1 TX1          : b=a c=b e=c
        Q2 tx1 hfe=200  : b=a c=b e=c
        device TX1 npn germanium hFE=80 IS=1u VA=60V
    """)

    first, second = circuit.parts
    assert (first.kind, first.type_name, first.settings) == ("npn", "TX1", {"germanium": True})
    assert first.params == {"hFE": 80.0, "IS": approx(1e-6), "VA": 60.0}
    assert second.params["hFE"] == 200.0
    assert second.params["VA"] == 60.0


def test_parameters_are_numbers_with_exponents_prefixes_or_units():
    found = part("D1 IS=1e-14 N=1.05 RS=500mohm : a b")

    assert found.params == {"IS": 1e-14, "N": 1.05, "RS": 0.5}


def test_a_mosfets_k_and_a_transformers_k_are_two_things():
    assert part("Q1 nmos VTH=2V K=0.5 : g=a d=b s=c").params == {"VTH": 2.0, "K": 0.5}
    assert part("T1 1:1 k=0.98 : a b | c d").params == {"k": 0.98}


def test_nothing_but_the_part_in_error_is_reported():
    assert codes("R1 1k : a b\nQ1 npn : a b c\nR2 1k : Q1.c gnd") == ["names-wanted"]


class TestWindings:
    """Transformers and tapped coils."""

    def test_a_ratio_has_a_figure_for_each_section(self):
        transformer = part("T1 transformer 3:1+1 : drive vcc | s1 tap s2")

        primary, secondary = transformer.windings
        assert (primary.name, primary.terminals, primary.turns) == ("w1", ("w1.1", "w1.2"), (3.0,))
        assert (secondary.terminals, secondary.turns) == (("w2.1", "w2.2", "w2.3"), (1.0, 1.0))
        assert transformer.net("w2.2") == "tap"
        assert not primary.assumed

    def test_impedances_give_the_ratio_of_whole_windings(self):
        primary, secondary = part("T1 transformer impedance 800:8 : a t b | c d").windings

        assert sum(primary.turns) / sum(secondary.turns) == approx(10)  # impedance goes with the turns squared
        assert primary.turns[0] == approx(primary.turns[1])

    def test_without_a_ratio_one_for_each_section_is_assumed_and_said(self):
        primary, secondary = part("T1 : a t b | c d").windings

        assert (primary.turns, secondary.turns) == ((1.0, 1.0), (1.0,))
        assert primary.assumed

    def test_inductance_coupling_and_resistance_are_settings(self):
        found = part("T1 transformer 2:1 primary=1H k=0.98 rdc=12ohm : a b | c d")

        assert found.params == {"primary": 1.0, "k": 0.98, "rdc": 12.0}

    def test_three_windings_are_as_good_as_two(self):
        assert len(part("T1 1:1:1 : a b | c d | e f").windings) == 3

    def test_a_tapped_coil_is_one_winding(self):
        coil = part("L1 200u 10+30 : top tap gnd")

        assert (coil.kind, coil.value) == ("inductor", approx(200e-6))
        assert [(item.name, item.net) for item in coil.terminals] == [("1", "top"), ("2", "tap"), ("3", "gnd")]
        assert coil.windings[0].turns == (10.0, 30.0)

    def test_a_plain_coil_has_no_winding_of_its_own(self):
        assert part("L1 200u : top gnd").windings == ()

    def test_a_ratio_that_does_not_fit_is_shown_one_that_does(self):
        with pytest.raises(NetlistError, match="Write  3:2  if the sections"):
            topo.loads("T1 transformer 3:1+1 : a b | c d")


def test_a_battery_may_have_a_resistance_of_its_own():
    found = part("BT1 9V R=2R2 : a b")

    assert (found.value, dict(found.params)) == (9.0, {"R": 2.2})


def test_a_current_source_is_said_and_has_a_direction():
    found = part("I1 current 2mA : tail vee")

    assert (found.kind, found.value) == ("current", 2e-3)
    assert [(item.name, item.net) for item in found.terminals] == [("+", "tail"), ("-", "vee")]


def test_a_current_source_may_flow_the_other_way():
    assert part("I1 current -500uA : a b").value == approx(-500e-6)


def test_letters_do_not_say_that_a_part_is_a_current_source():
    assert codes("I1 2mA : a b") == ["no-letters"]


@pytest.mark.parametrize("ratio", ["99999999:1", "1:0.0000000001", "impedance 1G:1u"])
def test_turns_that_no_windings_have_are_refused(ratio):
    with pytest.raises(NetlistError, match="no windings have such turns"):
        topo.loads(f"T1 transformer {ratio} : a b | c d\n")


def test_a_ratio_beside_a_winding_of_one_net_is_an_error_with_its_line():
    with pytest.raises(NetlistError, match="line 1"):
        topo.loads("L1 200u 10+30 : a\n")


def test_a_crystals_resistance_is_not_below_nothing_however_it_is_typed():
    for typed in ("-5", "RS=-5"):
        with pytest.raises(NetlistError, match="is no RS"):
            topo.loads(f"Y1 crystal {typed} : a b\nR1 1k : a b\nR2 1k : a gnd")
