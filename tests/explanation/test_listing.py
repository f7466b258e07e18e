from topo.explanation.listing import in_order, listed, named


def test_words_stand_in_a_row():
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed([]) == ""


def test_three_designators_in_sequence_are_a_range():
    assert named(["Q1", "Q2", "Q3", "D1"]) == "Q1 to Q3 and D1"


def test_two_designators_in_sequence_are_both_said():
    assert named(["Q1", "Q2"]) == "Q1 and Q2"


def test_a_gap_or_another_letter_ends_a_range():
    assert named(["R1", "R2", "R4", "C5"]) == "R1, R2, R4 and C5"


def test_designators_stand_by_letters_then_by_number():
    assert in_order(["R10", "Q1", "IC2A", "R9", "D2", "LS"]) == ["D2", "IC2A", "LS", "Q1", "R9", "R10"]
