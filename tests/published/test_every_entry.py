"""Every entry of the published check values is a test here, or has its reason in this table."""

import re
from pathlib import Path

HERE = Path(__file__).parent
ELSEWHERE = HERE.parent / "analysis"

EXAMPLES = [f"W{number:02}" for number in range(1, 64)]
FACTS = [f"F{number:02}" for number in range(1, 126)]

NOT_COMPUTED = {
    "F61": "a limit of junction temperature: the tool computes no heat of junctions",
    "F87": "the transition frequency: devices have no capacitances of their own here",
    "F89": "thermal resistances: the tool computes dissipation, and no temperature from it",
    "F90": "derating by case temperature: the same",
    "F109": "tolerance letters: a tolerance is typed in percent, and a letter is refused (see F110)",
    "F113": "class letters of IEC 81346-2: a purpose letter does not tell the kind, so the kind is typed",
    "F114": "which standard draws which outline: no number; the two styles are tested with the figures",
    "F115": "that IEC 60050 defines the classes: no number; the classes themselves are F01 to F04",
    "F124": "figures 1 and 2 after a valve's class letter: not told by the tool",
}
"""Entries that cannot be a test of this tool, and why."""


def cited() -> set[str]:
    """The ids that stand in the comments of the tests, runs such as `F25 to F29` counted whole."""
    found: set[str] = set()
    for path in [*sorted(HERE.glob("test_*.py")), *sorted(ELSEWHERE.rglob("test_*.py"))]:
        if path.name == Path(__file__).name:
            continue
        text = path.read_text(encoding="utf-8")
        found.update(re.findall(r"\b[WF]\d{2,3}\b", text))
        for first, last in re.findall(r"\bF(\d{2,3}) to F(\d{2,3})\b", text):
            found.update(f"F{number:02}" for number in range(int(first), int(last) + 1))
    return found


def test_every_worked_example_is_a_test():
    assert [entry for entry in EXAMPLES if entry not in cited()] == []


def test_every_fact_is_a_test_or_has_its_reason():
    assert [entry for entry in FACTS if entry not in cited() and entry not in NOT_COMPUTED] == []


def test_no_reason_stands_beside_a_test():
    assert sorted(cited() & set(NOT_COMPUTED)) == []
