"""Counting squares from sums gives what counting them one by one gives."""

from hypothesis import given
from hypothesis import strategies as st

from topo.drawing.marks.sums import Sums

CELLS = st.sets(st.tuples(st.integers(-6, 6), st.integers(-6, 6)), min_size=1)
EDGE = st.floats(-9, 9, allow_nan=False)
SIDE = st.floats(0.1, 8, allow_nan=False)


@given(CELLS, EDGE, EDGE, SIDE, SIDE)
def test_the_share_of_a_box_is_that_of_its_squares_counted_one_by_one(cells, x, y, wide, tall):
    box = (x, y, x + wide, y + tall)
    columns = range(int(box[0] // 1), int(-(-box[2] // 1)))
    rows = range(int(box[1] // 1), int(-(-box[3] // 1)))
    squares = [(column, row) for column in columns for row in rows]

    assert Sums(cells).share(box) == sum(cell in cells for cell in squares) / len(squares)
