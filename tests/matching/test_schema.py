"""The loader refuses what the pattern language forbids, and says where and what it expected."""

from __future__ import annotations

import pytest

from tests.matching.building import HEAD, TAIL, document_of, pattern_text
from topo.matching.schema import read_pattern

GOOD = """
roles:
  feed: {kind: resistor, is: feed resistor}
  device: {kind: amplifying, is: device}
nets:
  rail: {is: rail}
  bias:
joins:
  dc:
    - rail -feed- bias
    - bias ~ device.ctl
"""


def problems_of(body: str = GOOD, head: str = HEAD, tail: str = TAIL) -> list[str]:
    _, problems = read_pattern(pattern_text(body, head, tail), "thing.yaml")
    assert all(problem.place.line for problem in problems)
    return [f"{problem.message} {problem.expected} {problem.mend}" for problem in problems]


def test_a_good_file_is_taken():
    assert problems_of() == []


BROKEN = {
    "no source": (GOOD, HEAD.replace("source: common practice\n", ""), TAIL, "`source` is missing"),
    "no reading": (GOOD, HEAD.replace("reading: {claim: beside, sort: coupling}\n", ""), TAIL, "`reading` is missing"),
    "misspelt key": (GOOD + "figurs: {}\n", HEAD, TAIL, "Perhaps `figures` was meant"),
    "kin of no words": (GOOD + "kin: ' '\n", HEAD, TAIL, "`kin` is empty"),
    "unknown family": (GOOD, HEAD.replace("coupling\n", "couplings\n"), TAIL, "Perhaps `coupling` was meant"),
    "stage claim without a rank": (GOOD, HEAD.replace("claim: beside", "claim: stage"), TAIL, "needs a rank"),
    "unknown claim": (GOOD, HEAD.replace("claim: beside", "claim: besides"), TAIL, "Perhaps `beside` was meant"),
    "unknown kind": (GOOD.replace("kind: resistor", "kind: resister"), HEAD, TAIL, "Perhaps `resistor` was meant"),
    "unknown role key": (GOOD.replace("is: feed", "iz: feed"), HEAD, TAIL, "key of the role `feed`"),
    "role without kind": (GOOD.replace("kind: amplifying, ", ""), HEAD, TAIL, "lacks its kind"),
    "least without many": (GOOD.replace("is: device", "is: device, least: 2"), HEAD, TAIL, "goes with `many: true`"),
    "unknown role in a join": (GOOD.replace("-feed-", "-fed-"), HEAD, TAIL, "Perhaps `feed` was meant"),
    "unknown net in a join": (GOOD.replace("rail -feed- bias", "rail -feed- bios"), HEAD, TAIL, "Perhaps `bias`"),
    "unknown terminal": (GOOD.replace("device.ctl", "device.base"), HEAD, TAIL, "terminal of `device`"),
    "role as a net": (GOOD.replace("bias ~ device.ctl", "feed ~ device.ctl"), HEAD, TAIL, "is a role, not a net"),
    "device as a link": (GOOD + "    - bias -device- rail\n", HEAD, TAIL, "cannot stand between two nodes"),
    "arrow on a resistor": (GOOD.replace("-feed-", "-feed>"), HEAD, TAIL, "has no direction"),
    "unreadable join": (GOOD.replace("bias ~ device.ctl", "bias ~~ device.ctl"), HEAD, TAIL, "cannot be read"),
    "join that yaml took": (GOOD + "    - bias: feed\n", HEAD, TAIL, "YAML took one of its signs"),
    "unused role": (GOOD.replace("nets:", "  idle: {kind: diode}\nnets:"), HEAD, TAIL, "`idle` is in no join"),
    "unused net": (GOOD.replace("joins:", "  idle:\njoins:"), HEAD, TAIL, "`idle` is in no join"),
    "joins that fall apart": (
        GOOD.replace("    - bias ~ device.ctl\n", "    - rail -feed- 0\n    - device.ctl ~ other\n").replace(
            "joins:", "  other:\njoins:"
        ),
        HEAD,
        TAIL,
        "do not hang together",
    ),
    "nothing required": (
        GOOD.replace("resistor, is", "resistor, optional: true, is").replace("is: device", "optional: true"),
        HEAD,
        TAIL,
        "No role is required",
    ),
    "many on a net of its own": (
        GOOD.replace("is: device", "many: true")
        .replace("bias ~ device.ctl", "lone ~ device.ctl")
        .replace("joins:", "  lone:\njoins:"),
        HEAD,
        TAIL,
        "is bound by no other role",
    ),
    "net that is a role": (GOOD.replace("  bias:\n", "  bias:\n  feed:\n"), HEAD, TAIL, "is a role as well"),
    "hyphen in a name": (GOOD.replace("feed", "feed-in"), HEAD, TAIL, "cannot be a name here"),
    "unknown sort of net": (GOOD.replace("{is: rail}", "{is: rails}"), HEAD, TAIL, "Perhaps `rail` was meant"),
    "unknown view": (GOOD.replace("  dc:", "  dcc:"), HEAD, TAIL, "Perhaps `dc` was meant"),
    "bad expression": (GOOD + "where: ['drop(feed) >']\n", HEAD, TAIL, "cannot be read"),
    "unknown function": (GOOD + "where: ['dropp(feed) > 1']\n", HEAD, TAIL, "Perhaps `drop` was meant"),
    "too many arguments": (GOOD + "where: ['drop(feed, feed) > 1']\n", HEAD, TAIL, "does not take 2 arguments"),
    "unknown name": (GOOD + "where: ['drop(fed) > 1']\n", HEAD, TAIL, "Perhaps `feed` was meant"),
    "role as a number": (GOOD + "where: ['feed > 1']\n", HEAD, TAIL, "`value(feed)`"),
    "terminal of a net": (GOOD + "where: ['held(bias.ctl)']\n", HEAD, TAIL, "has no terminals"),
    "volts with amperes": (GOOD + "where: ['drop(feed) > current(feed)']\n", HEAD, TAIL, "compared with"),
    "figure without unit": (GOOD + "figures: {x: {is: 'drop(feed)'}}\n", HEAD, TAIL, "lacks its formula or unit"),
    "figure in another unit": (GOOD + "figures: {x: {is: 'drop(feed)', unit: A}}\n", HEAD, TAIL, "comes out in V"),
    "figure of itself": (GOOD + "figures: {x: {is: 'x + 1', unit: ''}}\n", HEAD, TAIL, "computed from itself"),
    "unknown placeholder": (GOOD, HEAD, TAIL.replace("It is one.", "{fed} is one."), "Perhaps `feed` was meant"),
    "lone brace": (GOOD, HEAD, TAIL.replace("It is one.", "It is {one."), "has no partner"),
    "one voice": (GOOD, HEAD, TAIL.replace('    technician: ["It is one."]\n', ""), "the technician"),
    "text of no role": (GOOD, HEAD, TAIL.replace("text:", "text:\n  roles: {fed: x}"), "There is no role `fed`"),
    "omit of no role": (GOOD + "omit: {working: {fed: x}}\n", HEAD, TAIL, "There is no role `fed`"),
    "omit at no detail": (GOOD + "omit: {whole: {feed: x}}\n", HEAD, TAIL, "working, principle"),
    "one example": (
        GOOD,
        HEAD,
        TAIL.replace('    - {as: two, netlist: "R1 1k : a b"}\n', ""),
        "two are the least",
    ),
    "no counterexample": (GOOD, HEAD, TAIL[: TAIL.index("  no match:")], "0 examples under `no match`"),
    "two examples of one name": (GOOD, HEAD, TAIL.replace("as: four", "as: three"), "are called `three`"),
    "example without netlist": (GOOD, HEAD, TAIL.replace(', netlist: "R1 1k : a b"}', "}", 1), "lacks `netlist`"),
    "unknown role in an example": (
        GOOD,
        HEAD,
        TAIL.replace("{as: one,", "{as: one, roles: {fed: R1},"),
        "There is no role `fed`",
    ),
    "stage of no role": (
        GOOD,
        HEAD.replace("sort: coupling", "sort: coupling, stage: [devise]"),
        TAIL,
        "Perhaps `device` was meant",
    ),
    "symmetry of unlike roles": (GOOD + "symmetry: [[feed, device]]\n", HEAD, TAIL, "of one kind"),
    "incomplete acts as": (GOOD + "acts as: {ctl: device.ctl}\n", HEAD, TAIL, "lacks polarity"),
    "not without words": (GOOD + "not:\n  - dc: [bias ~ device.col]\n", HEAD, TAIL, "says in words"),
    "empty not": (GOOD + "not:\n  - as: nothing\n", HEAD, TAIL, "holds joins or conditions"),
    "drawing of no role": (GOOD + "drawing: {fed: {at: [0, 1]}}\n", HEAD, TAIL, "There is no role `fed`"),
    "drawing without a place": (GOOD + "drawing: {feed: {o: v}}\n", HEAD, TAIL, "needs a place"),
    "variant with an unused role": (
        GOOD + "variants:\n  one: {roles: {idle: {kind: diode}}}\n  two: {}\n",
        HEAD,
        TAIL,
        "`idle` is in no join",
    ),
    "composite with roles": (GOOD + "made of: {drive: [thing]}\n", HEAD, TAIL, "has no `roles`"),
    "composite of nothing": ("made of: {}\n", HEAD, TAIL, "needs a component"),
}


@pytest.mark.parametrize("case", BROKEN, ids=lambda case: case.replace(" ", "-"))
def test_each_rule_has_a_broken_file_that_it_refuses(case: str):
    body, head, tail, words = BROKEN[case]

    assert any(words in problem for problem in problems_of(body, head, tail)), problems_of(body, head, tail)


def test_all_problems_of_a_file_are_told_in_one_run():
    body = GOOD.replace("kind: resistor", "kind: resister").replace("device.ctl", "device.base") + "figurs: {}\n"

    assert len(problems_of(body)) == 3


def test_a_problem_stands_at_the_word_it_is_about():
    text = pattern_text(GOOD.replace("bias ~ device.ctl", "bias ~ devise.ctl"))
    _, problems = read_pattern(text, "thing.yaml")

    (first, *_) = problems
    line = text.splitlines()[first.place.line - 1]
    assert line[first.place.column - 1 :].startswith("devise.ctl")


def test_a_flow_list_may_hold_expressions_with_commas():
    document = document_of(GOOD + "where: [equal(value(feed), 1k, 5%), on(device)]\n")

    assert [condition.text for condition in document.pattern.shapes[0].where] == [
        "equal(value(feed), 1k, 5%)",
        "on(device)",
    ]


def test_a_condition_of_a_role_on_others_is_one_of_the_whole():
    document = document_of(GOOD.replace("is: feed resistor", "when: drop(feed) > vbe(device)"))

    assert document.pattern.roles["feed"].when is None
    assert document.pattern.shapes[0].where[0].names == ("feed", "device")


def test_the_stem_of_the_file_is_the_slug():
    assert document_of(GOOD, slug="some-thing").pattern.slug == "some-thing"
