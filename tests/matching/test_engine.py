"""What the engine takes for joined, and what it binds."""

from __future__ import annotations

from tests.matching.building import found, pattern_of, roles_found, views_of
from topo.matching import matches
from topo.matching.engine import droppable_joins, matches_without
from topo.matching.shelf import Library

FOLLOWER = """
    supply vcc 9V
    input in
    output out
    signal 100Hz to 10kHz
    R1 100k : vcc b
    R2 100k : b gnd
    C1 1u : in b
    R5 1k : b base
    Q1 npn : b=base c=vcc e=e
    R3 1k : e gnd
    C2 47u : e out
    R4 4k7 : out gnd
"""
BIAS = """
roles:
  upper: {kind: resistor}
  lower: {kind: resistor}
  device: {kind: amplifying}
nets:
  rail: {is: rail}
  base:
joins:
  dc:
    - rail -upper- base
    - base -lower- gnd
"""


def test_a_stopper_does_not_break_a_join_through_a_lead():
    (roles,) = roles_found(FOLLOWER, BIAS + "    - base ~ device.ctl\n")

    assert roles == {"upper": ("R1",), "lower": ("R2",), "device": ("Q1",)}


CHAIN = """
roles:
  upper: {kind: resistor}
  lower: {kind: resistor}
  second: {kind: resistor, optional: true}
  bypass: {kind: capacitor, optional: true}
nets:
  rail: {is: rail}
  base:
  foot: {is: any}
joins:
  dc:
    - rail -upper- base -(second)- foot -lower- gnd
    - base -bypass- gnd
"""


def test_a_chain_is_evidence_though_one_of_its_optional_roles_is_not_there():
    (match,) = found(FOLLOWER, CHAIN)

    assert match.roles == {"upper": ("R1",), "lower": ("R2",)}
    assert [evidence.join for evidence in match.evidence] == ["rail -upper- base -(second)- foot -lower- gnd"]


def test_what_a_lead_passes_is_evidence_and_claimed():
    (match,) = found(FOLLOWER, BIAS + "    - base ~ device.ctl\n")

    assert [evidence.through for evidence in match.evidence] == [(), (), ("R5",)]
    assert "R5" in match.claimed


def test_a_plain_join_does_not_reach_through_a_stopper():
    netlist = FOLLOWER.replace("R5 1k : b base", "R5 22k : b base")

    assert roles_found(netlist, BIAS + "    - base = device.ctl\n") == []


def test_terminals_that_meet_at_a_rail_are_not_joined():
    netlist = """
        supply vcc 9V
        Q1 npn : b=b1 c=vcc e=e1
        Q2 npn : b=b2 c=vcc e=e2
        R1 100k : vcc b1
        R2 100k : vcc b2
        R3 1k : e1 gnd
        R4 1k : e2 gnd
    """
    body = """
roles: {one: {kind: npn}, other: {kind: npn}}
nets: {meeting: {is: %s}}
joins: {wire: [one.col ~ meeting, other.col ~ meeting]}
symmetry: [[one, other]]
"""

    assert roles_found(netlist, body % "signal") == []
    assert roles_found(netlist, body % "any") == [{"one": ("Q1",), "other": ("Q2",)}]
    assert (
        roles_found(netlist, "roles: {one: {kind: npn}, other: {kind: npn}}\njoins: {wire: [one.col = other.col]}\n")
        == []
    )


PAIR = """
    supply vcc 9V
    R1 100k : vcc b1
    R2 100k : vcc b2
    Q9 npn : b=b1 c=c1 e=e
    Q1 npn : b=b2 c=c2 e=e
    R3 1k : e gnd
    R4 1k : vcc c1
    R5 1k : vcc c2
"""
TWO_EMITTERS = """
roles: {one: {kind: npn}, other: {kind: npn}, foot: {kind: resistor}}
nets: {e: }
joins: {wire: [one.emt ~ e, other.emt ~ e, e -foot- gnd]}
"""


def test_without_symmetry_each_way_round_is_a_match():
    assert [roles["one"] for roles in roles_found(PAIR, TWO_EMITTERS)] == [("Q1",), ("Q9",)]


def test_of_each_symmetry_class_one_match_is_given_with_the_lower_designator_first():
    assert roles_found(PAIR, TWO_EMITTERS + "symmetry: [[one, other]]\n") == [
        {"one": ("Q1",), "other": ("Q9",), "foot": ("R3",)}
    ]


def test_optional_roles_never_decide():
    body = BIAS + "    - base ~ device.ctl\n  wire:\n    - device.emt -load- 0\n    - base -bypass- 0\n"
    body = body.replace(
        "nets:", "  load: {kind: resistor, optional: true}\n  bypass: {kind: capacitor, optional: true}\nnets:"
    )

    (roles,) = roles_found(FOLLOWER, body)

    assert roles["load"] == ("R3",)
    assert "bypass" not in roles


def test_a_condition_on_an_optional_role_restricts_what_it_binds():
    body = BIAS + "    - base ~ device.ctl\n  wire:\n    - device.emt -load- 0\nwhere: [value(load) > 2k]\n"
    body = body.replace("nets:", "  load: {kind: resistor, optional: true}\nnets:")

    (roles,) = roles_found(FOLLOWER, body)

    assert "load" not in roles


def test_a_condition_that_asks_what_is_bound_decides():
    body = BIAS + "    - base ~ device.ctl\n  wire:\n    - base -bypass- 0\nwhere: [bound(bypass)]\n"
    body = body.replace("nets:", "  bypass: {kind: capacitor, optional: true}\nnets:")

    assert roles_found(FOLLOWER, body) == []


def test_optional_parts_that_want_the_same_thing_are_bound_together():
    netlist = "supply vcc 9V\nR1 1k : vcc m\nR2 2k : m gnd\nD1 led : m gnd\n"
    body = """
roles:
  lamp: {kind: led}
  one: {kind: resistor, optional: true}
  other: {kind: resistor, optional: true}
nets: {m: , side: {is: rail or ground}, rail: {is: rail}}
joins: {wire: [m -lamp> gnd, m -one- side, m -other- rail]}
"""

    assert roles_found(netlist, body) == [{"lamp": ("D1",), "one": ("R2",), "other": ("R1",)}]


def test_many_binds_all_that_satisfy():
    netlist = """
        supply vcc 9V
        R1 1k : vcc b
        D1 diode : b gnd
        R2 10 : b b1
        R3 10 : b b2
        Q1 npn : b=b1 c=vcc e=gnd
        Q2 npn : b=b2 c=vcc e=gnd
        Q3 npn : b=gnd c=vcc e=gnd
    """
    body = """
roles: {feed: {kind: resistor}, drop: {kind: diode}, device: {kind: amplifying, many: true, least: 2, witness: true}}
nets: {rail: {is: rail}, b: }
joins: {dc: [rail -feed- b, b -drop> gnd, b ~ device.ctl, device.emt = gnd]}
"""

    (match,) = found(netlist, body)

    assert match.roles["device"] == ("Q1", "Q2")
    assert match.claimed == {"R1", "D1"}
    assert roles_found(netlist, body.replace("least: 2", "least: 3")) == []


def test_not_excludes_what_it_describes():
    body = BIAS + "    - base ~ device.ctl\n"
    not_followed = """
not:
  - as: something loads the emitter
    roles: {load: {kind: resistor}}
    wire: [device.emt -load- gnd]
"""

    assert roles_found(FOLLOWER, body) != []
    assert roles_found(FOLLOWER, body + not_followed) == []


def test_a_role_of_not_is_another_part_than_those_claimed():
    body = BIAS + "    - base ~ device.ctl\n"
    other = (
        "not:\n  - as: another resistor to ground\n    roles: {more: {kind: resistor}}\n    wire: [base -more- gnd]\n"
    )

    assert roles_found(FOLLOWER, body + other) != []


def test_an_optional_link_is_a_wire_or_a_part():
    body = """
roles: {device: {kind: npn}, re: {kind: resistor}, other: {kind: npn}}
nets: {n: }
joins: {wire: [device.emt -(re)- n, n = other.ctl]}
"""
    netlist = """
        supply vcc 9V
        R1 10k : vcc b
        Q1 npn : b=b c=vcc e=e
        Q2 npn : b=%s c=vcc e=gnd
        R2 100 : e x
        R3 1M : e gnd
    """

    assert roles_found(netlist % "e", body) == [{"device": ("Q1",), "other": ("Q2",)}]
    assert roles_found(netlist % "x", body) == [{"device": ("Q1",), "re": ("R2",), "other": ("Q2",)}]


def test_a_direction_is_kept_and_turns_over_with_the_pattern():
    body = "roles: {d: {kind: diode}}\nnets: {rail: {is: rail}, n: }\njoins: {wire: [rail -d> n]}\n"
    plus = "supply vcc 9V\nD1 diode : vcc n\nR1 1k : n gnd\n"
    minus = "supply vee -9V\nD1 diode : n vee\nR1 1k : n gnd\n"

    assert roles_found(plus, body) == [{"d": ("D1",)}]
    assert roles_found(minus, body) == []
    assert roles_found(minus, body + "turns over: true\n") == [{"d": ("D1",)}]


def test_a_winding_may_be_either_way_round():
    netlist = """
        supply vcc 9V
        input in
        output out
        signal 300Hz to 3kHz
        R1 100k : vcc b
        C1 1u : in b
        Q1 npn : b=b c=c e=gnd
        T1 transformer 5:1 primary=1H : %s | out gnd
        LS1 speaker 8 : out gnd
    """
    body = """
roles: {device: {kind: amplifying}, primary: {kind: winding}}
joins: {wire: [device.col = primary.end, primary.other = supply]}
"""

    assert roles_found(netlist % "c vcc", body) == [{"device": ("Q1",), "primary": ("T1",)}]
    assert roles_found(netlist % "vcc c", body) == [{"device": ("Q1",), "primary": ("T1",)}]


def test_two_resistors_in_series_are_one_branch_where_nothing_else_hangs_on_their_joint():
    netlist = FOLLOWER.replace(
        "R2 100k : b gnd", "R2 47k : b x\n    R6 47k : x gnd\n    C9 1u : x y\n    R9 1M : y gnd"
    )

    roles = roles_found(netlist, BIAS + "    - base ~ device.ctl\n")

    assert {"upper": ("R1",), "lower": ("R2", "R6"), "device": ("Q1",)} in roles


def test_distinct_nets_are_distinct_unless_said_otherwise():
    netlist = (
        "supply vcc 9V\nR1 1k : vcc a\nR2 1k : a gnd\nQ1 npn : b=a c=vcc e=e\nR3 1k : e gnd\nQ2 npn : b=a c=vcc e=e\n"
    )
    body = """
roles: {device: {kind: npn}, one: {kind: resistor}, other: {kind: resistor}}
nets: {p: , q: }
joins: {wire: [device.ctl = p, p -one- gnd, supply -other- q, q = device.ctl]}
"""

    assert roles_found(netlist, body) == []
    assert len(roles_found(netlist, body + "may coincide: [[p, q]]\n")) == 2


COMPOUND = """
roles: {first: {kind: amplifying}, second: {kind: amplifying}}
nets: {inner: }
joins: {wire: [first.emt ~ inner, inner ~ second.ctl]}
acts as: {polarity: first, ctl: first.ctl, emt: second.emt, col: second.col}
"""


def test_a_compound_serves_wherever_a_device_does():
    netlist = """
        supply vcc 9V
        R1 100k : vcc b
        Q1 npn : b=b c=vcc e=x
        Q2 npn : b=x c=c e=e
        R2 1k : vcc c
        R3 1k : e gnd
        R4 10k : x gnd
    """
    body = """
roles: {device: {kind: amplifying, make: compound}, load: {kind: resistor}, foot: {kind: resistor}}
nets: {c: , e: , rail: {is: rail}}
joins: {wire: [device.col = c, rail -load- c, device.emt = e, e -foot- gnd]}
"""

    (roles,) = roles_found(netlist, body, COMPOUND)

    assert roles == {"device": ("Q1", "Q2"), "load": ("R2",), "foot": ("R3",)}


def test_a_compound_within_a_larger_one_of_its_pattern_is_left_out():
    netlist = """
        supply vcc 9V
        R1 1M : vcc b
        Q1 npn : b=b c=vcc e=x
        Q2 npn : b=x c=vcc e=y
        Q3 npn : b=y c=vcc e=e
        R3 100 : e gnd
    """
    body = """
roles: {device: {kind: amplifying, make: compound}, foot: {kind: resistor}}
nets: {e: }
joins: {wire: [device.emt = e, e -foot- gnd]}
"""

    assert [roles["device"] for roles in roles_found(netlist, body, COMPOUND)] == [("Q1", "Q2", "Q3")]


def test_a_pattern_with_variants_is_found_by_any_of_them():
    body = """
roles: {feed: {kind: resistor}}
nets: {rail: {is: rail}, m: }
joins: {wire: [rail -feed- m]}
variants:
  with a lamp: {roles: {lamp: {kind: led}}, joins: {wire: [m -lamp> gnd]}}
  with a resistor: {roles: {lower: {kind: resistor}}, joins: {wire: [m -lower- gnd]}}
"""

    (lamp,) = found("supply vcc 9V\nR1 1k : vcc m\nD1 led : m gnd\nC1 1n : m x\nR9 1M : x gnd\n", body)
    (divider,) = found("supply vcc 9V\nR1 1k : vcc m\nR2 1k : m gnd\nC1 1n : m x\nR9 1M : x gnd\n", body)

    assert (lamp.variant, divider.variant) == ("with a lamp", "with a resistor")


def test_an_unknown_value_makes_a_condition_undecided():
    body = """
roles: {r: {kind: resistor}}
nets: {rail: {is: rail}, n: }
joins: {wire: [rail -r- n]}
where: [value(r) > 1k]
"""

    (match,) = found("supply vcc 9V\nR1 ? : vcc n\nD1 led : n gnd\n", body)

    assert match.undecided == ("value(r) > 1k",)


def test_a_dropped_join_finds_what_lacks_it_alone():
    pattern = pattern_of(BIAS + "    - base ~ device.ctl\n    - device.col = rail\n")
    netlist = (
        FOLLOWER.replace("c=vcc", "c=loose")
        .replace("R5 1k", "R5 10")
        .replace("R4 4k7", "R7 100k : vcc loose\n    R4 4k7")
    )
    circuit, library = views_of(netlist), Library((pattern,))

    assert matches(circuit, library) == ()
    shape, join = droppable_joins(pattern)[-1]
    (match,) = matches_without(circuit, pattern, join, library, shape)
    assert match.missing == "device.col = rail"


def test_a_join_that_alone_holds_a_role_is_never_dropped():
    pattern = pattern_of(BIAS + "    - base ~ device.ctl\n")

    assert droppable_joins(pattern) == []


def test_a_short_lies_where_its_ends_are_and_not_anywhere_in_its_class():
    netlist = """
        supply vcc 9V
        input in
        output out
        signal 100Hz to 10kHz
        R1 100k : vcc b
        R2 10k : b gnd
        C1 10u : in b
        Q1 npn : b=b c=c e=e
        R3 4k7 : vcc c
        R4 1k : e gnd
        C2 470u : e gnd
        C3 10u : c x
        R6 1M : x out
        R5 100k : out gnd
    """
    body = """
roles: {device: {kind: amplifying, witness: true}, coupling: {kind: capacitor}}
nets: {base: , far: }
joins: {signal: [device.ctl ~ base, base -coupling- far]}
may coincide: [[base, far]]
"""

    assert [roles["coupling"] for roles in roles_found(netlist, body)] == [("C1",)]
