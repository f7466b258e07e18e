from topo.drawing.lettering import lines, width


def test_a_wider_letter_takes_more_room():
    assert width("W", 10) > width("i", 10)


def test_a_text_breaks_at_spaces_so_that_each_line_fits():
    broken = lines("push-pull pair with centre-tapped output transformer", 10, 120)

    assert " ".join(broken) == "push-pull pair with centre-tapped output transformer"
    assert all(width(line, 10) <= 120 for line in broken)


def test_a_text_of_too_many_lines_ends_in_an_ellipsis():
    assert lines("one two three four five six", 10, 30, most=2)[-1].endswith("…")


def test_a_word_without_spaces_is_cut_to_the_room():
    (line,) = lines("x" * 200, 10, 50)

    assert width(line, 10) <= 50
