"""How problems and errors are told."""

from __future__ import annotations

from topo.errors import CircuitError, NetlistError, Place, Problem, UsageError


def test_a_problem_shows_its_line_with_a_mark_under_the_place():
    problem = Problem(
        Place("intercom.net", 18, 28, 3), "no such net.", mend="Did you mean p2?", source="Q3 npn : b=s2 c=p22"
    )
    shown = Problem(Place("amp.net", 2, 4, 3), "what?", "a value", "Write 4k7", "R1 4x7 : a b")

    assert str(problem).startswith("intercom.net, line 18, column 28: no such net.\n")
    assert str(shown).split("\n") == [
        "amp.net, line 2, column 4: what?",
        "  R1 4x7 : a b",
        "     ^^^",
        "  Expected: a value",
        "  Write 4k7",
    ]


def test_a_warning_says_that_it_is_one():
    assert "warning: no supply is said." in str(Problem(Place("a.net"), "no supply is said.", severity="warning"))


def test_a_tab_before_the_place_does_not_move_the_mark():
    lines = str(Problem(Place("a.net", 1, 4, 3), "what?", source="R1\t4x7 : a b")).split("\n")

    assert lines[1].index("4x7") == lines[2].index("^")


def test_a_long_line_is_shown_around_its_place():
    source = "R1 4k7 : " + "a" * 400 + " (" + "b" * 400
    lines = str(Problem(Place("a.net", 1, source.index("(") + 1), "what?", source=source)).split("\n")

    assert len(lines[1]) < 160
    assert lines[1][lines[2].index("^")] == "("


def test_control_characters_of_a_line_are_not_printed():
    assert "\x1b" not in str(Problem(Place("a.net", 1, 1), "what?", source="\x1b[2J R1"))


def test_an_input_error_tells_all_its_problems():
    error = NetlistError((Problem(Place("a.net", 1), "one."), Problem(Place("a.net", 2), "two.")))

    assert "one." in str(error)
    assert "two." in str(error)
    assert error.exit_status == 1


def test_very_many_problems_are_counted_beyond_the_first():
    error = NetlistError(tuple(Problem(Place("a.net", line), "odd.") for line in range(1, 151)))

    assert str(error).endswith("a.net, line 100: odd.\n... and 50 more.")


def test_a_wrong_use_tells_what_is_allowed_in_order():
    error = UsageError("No such voice.", ("technician", "student"))

    assert str(error) == "No such voice. Allowed: student, technician."
    assert error.exit_status == 2


def test_a_circuit_error_tells_what_to_add():
    assert str(CircuitError("Net a floats.", ("a",), mend="Add a resistor to ground.")) == (
        "Net a floats. Add a resistor to ground."
    )


def test_a_place_without_a_line_is_its_file():
    assert str(Place("a.net")) == "a.net"
