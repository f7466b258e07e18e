"""The verbs of a pattern's text agree with a role that several parts fill."""

import pytest

from tests.matching.test_filling import NETLIST, filled
from topo.matching.agreement import Agreement, is_subject

TWO_FEEDS = NETLIST.replace("R1 1k : vcc mid", "R1 1k : vcc mid\nR2 1k : vcc mid")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{feed} feeds {lamp} and keeps its current small.", "R1 and R2 feed D1 and keep their current small."),
        ("It is {feed} that carries it.", "It is R1 and R2 that carries it."),
        ("The end of {feed} is at {mid}.", "The end of R1 and R2 is at mid."),
        ("{feed} carries its share; {lamp} glows.", "R1 and R2 carry their share; D1 glows."),
        ("Dark means that {feed} is open.", "Dark means that R1 and R2 are open."),
    ],
)
def test_verbs_agree_with_a_role_of_several_parts(text: str, words: str):
    found = filled(text, TWO_FEEDS)

    assert found is not None
    assert found.text == words


def test_verbs_stay_with_a_role_of_one_part():
    found = filled("{feed} feeds {lamp} and keeps its current small.")

    assert found is not None
    assert found.text == "R1 feeds D1 and keeps its current small."


@pytest.mark.parametrize("words", [" across the winding", " as a whole", " give up", " towards ground"])
def test_what_is_no_verb_stays(words: str):
    verbs = Agreement()
    verbs.subject("", several=True)

    assert verbs.words(words) == words


def test_what_comes_after_between_is_no_subject():
    assert not is_subject("the voltage between Q1 and ")
