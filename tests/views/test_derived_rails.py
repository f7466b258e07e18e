"""Derived rails: decoupled and switched nets that feed like a rail, and what looks like one and is none."""

from viewing import seen, seen_by_position

DECOUPLED = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output c
R1 {feed} : vcc v1
C1 {capacitor}
R2 2k2 : v1 c
R3 220k : c b
C2 10u : in b
Q1 npn : b=b c=c e=gnd
"""


def decoupled(feed="470", capacitor="100u : v1 gnd"):
    return seen(DECOUPLED.format(feed=feed, capacitor=capacitor))


def test_a_decoupled_net_that_feeds_a_collector_is_a_derived_rail():
    found = decoupled()

    assert found.derived() == {"v1": "vcc"}
    assert found.names(found.views.derived[0].feed) == ("R1",)
    assert found.names(found.views.derived[0].capacitors) == ("C1",)
    for name in ("wire", "dc"):
        view = found.view(name)
        assert view.class_of[found.node("v1")] in view.rails


def test_without_its_capacitor_it_is_none():
    assert decoupled(capacitor="100u : vcc gnd").derived() == {}


def test_a_capacitor_too_small_for_the_band_makes_none():
    assert decoupled(capacitor="10n : v1 gnd").derived() == {}


def test_a_net_that_loses_most_of_the_rail_is_none():
    assert decoupled(feed="10k").derived() == {}


def test_two_decouplings_in_a_row_are_two_derived_rails():
    found = seen(
        DECOUPLED.format(feed="470", capacitor="100u : v1 gnd") + "R9 470 : v1 v2\nC9 47u : v2 gnd\nR8 10k : v2 gnd"
    )

    assert found.derived() == {"v1": "vcc", "v2": "v1"}


def test_a_choke_and_capacitor_make_a_derived_rail():
    found = seen("""
        supply vcc 12V
        signal 1.8MHz to 30MHz
        input in
        output c
        L1 choke 10u : vcc v1
        C1 100n : v1 gnd
        R2 100 : v1 c
        R3 22k : c b
        C2 10n : in b
        Q1 npn : b=b c=c e=gnd
    """)

    assert found.derived() == {"v1": "vcc"}
    assert found.names(found.views.derived[0].feed) == ("L1",)


BASE_DIVIDER = """
supply vcc 12V
signal 300Hz to 3.4kHz
input in
output c
R1 10k : vcc n
R2 5k6 : n gnd
C1 47u : n gnd
R3 1k : vcc c
R4 470 : e gnd
C3 10u : in e
Q1 npn : b={base} c=c e=e
{more}
"""


def test_a_base_divider_with_its_bypass_is_no_rail():
    assert seen(BASE_DIVIDER.format(base="n", more="")).derived() == {}


def test_nor_is_it_one_where_the_base_hangs_on_it_by_a_winding():
    more = "T1 transformer 1:1 primary=1H : b n | x gnd\nR9 1k : x gnd"

    assert seen(BASE_DIVIDER.format(base="b", more=more)).derived() == {}


def test_a_gain_control_line_that_ends_at_a_base_through_a_winding_is_no_rail():
    found = seen("""
        supply vcc 9V
        signal 450kHz to 460kHz
        input x
        output c
        R1 150k : vcc agc
        C1 10u : agc gnd
        T1 transformer 10:1 primary=600u : x gnd | b agc
        Q1 npn : b=b c=c e=e
        R2 470 : e gnd
        R3 1k : vcc c
    """)

    assert found.is_zero("agc")
    assert found.derived() == {}


def test_an_emitter_resistor_with_its_bypass_is_no_rail():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        input in
        output c
        R1 22k : b gnd
        R2 4k7 : vcc b
        R3 470 : vcc e
        C1 100u : e gnd
        R4 1k : c gnd
        C2 10u : in b
        Q1 pnp : b=b c=c e=e
    """)

    assert found.is_zero("e")
    assert found.derived() == {}


def test_a_decoupled_net_that_feeds_an_emitter_and_a_divider_is_a_rail():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        input in
        output c
        R9 100 : vcc v1
        C1 470u : v1 gnd
        R1 22k : b gnd
        R2 4k7 : v1 b
        R3 470 : v1 e
        R4 1k : c gnd
        C2 10u : in b
        Q1 pnp : b=b c=c e=e
    """)

    assert found.derived() == {"v1": "vcc"}


def test_a_zener_reference_is_no_rail():
    found = seen("""
        supply vcc 12V
        signal 300Hz to 3.4kHz
        R1 470 : vcc r
        D1 zener 9V1 : gnd r
        C1 100u : r gnd
        R2 10k : r gnd
    """)

    assert found.is_zero("r")
    assert found.derived() == {}


def test_a_rail_behind_a_conducting_protection_diode_is_derived():
    found = seen("""
        supply batt 13.8V
        signal 300Hz to 3.4kHz
        D1 rectifier : batt vcc
        C1 1000u : vcc gnd
        R1 1k : vcc gnd
    """)

    assert found.derived() == {"vcc": "batt"}


SWITCHED = """
supply vcc 12V
signal 300Hz to 3.4kHz
Q1 pnp : b=b c=v1 e=vcc
R1 {base} : b gnd
R2 1k : v1 gnd
"""


def test_a_rail_behind_a_saturated_transistor_is_derived():
    assert seen(SWITCHED.format(base="4k7")).derived() == {"v1": "vcc"}


def test_a_rail_behind_a_transistor_that_is_not_saturated_is_none():
    assert seen(SWITCHED.format(base="2M2")).derived() == {}


def test_by_position_a_decoupled_net_is_a_rail_too():
    found = seen_by_position(DECOUPLED.format(feed="470", capacitor="electrolytic ? : v1 gnd"))

    assert found.derived() == {"v1": "vcc"}
