from topo.report.layout import Page, names


def test_a_figure_stays_on_one_line_with_its_unit():
    page = Page(20)

    assert page.paragraph("the current is about 22 mA at rest") == ["the current is about", "22 mA at rest"]


def test_a_paragraph_keeps_to_the_width():
    page = Page(50)

    assert all(len(line) <= 50 for line in page.paragraph("word " * 60, "   "))


def test_what_stands_at_the_right_of_a_head_goes_below_where_there_is_no_room():
    assert Page(30).head("1  Output", "Q1 Q2") == ["1  Output                Q1 Q2"]
    assert Page(20).head("1  Output: a pair", "Q1 Q2 T1", "   ") == ["1  Output: a pair", "   Q1 Q2 T1"]


def test_emphasis_is_set_only_where_the_page_has_it():
    assert Page().strong("Signal") == "Signal"
    assert Page(bold=True).strong("Signal") == "\x1b[1mSignal\x1b[0m"


def test_the_last_column_of_a_table_wraps_under_itself():
    lines = Page(40).table([("R1", "sets the current through the diode, whatever the supply does")])

    assert lines[0].startswith("R1  sets the current")
    assert lines[1].startswith("    ")


def test_a_row_too_long_for_its_column_goes_below():
    lines = Page(40).table([("R1, R2, R3, R4, R5, R6, R7", "hold the base")])

    assert lines == ["R1, R2, R3, R4, R5, R6, R7", "    hold the base"]


def test_designators_stand_in_a_row():
    assert names(["R1"]) == "R1"
    assert names(["R1", "R2", "R3"]) == "R1, R2 and R3"
