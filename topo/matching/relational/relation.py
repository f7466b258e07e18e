"""Relations: rows of whole numbers, with indexes from their columns to the rest, made when asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

Row = tuple[int, ...]


class Relation:
    """Rows of one width. `single` says that the first column tells the rest: no two rows begin with one number."""

    __slots__ = ("_indexes", "rows", "single")

    def __init__(self, rows: Sequence[Row], single: bool = False) -> None:
        self.rows = rows
        self.single = single
        self._indexes: dict[tuple[int, ...], dict] = {}

    def __len__(self) -> int:
        return len(self.rows)

    def index(self, places: tuple[int, ...]) -> dict:
        """Rows by what stands in some of their places: by the number itself for one place, by a tuple for more."""
        found = self._indexes.get(places)
        if found is None:
            found = self._indexes[places] = {}
            if len(places) == 1:
                place = places[0]
                for row in self.rows:
                    key = row[place]
                    if key in found:
                        found[key].append(row)
                    else:
                        found[key] = [row]
            else:
                for row in self.rows:
                    found.setdefault(tuple([row[place] for place in places]), []).append(row)
        return found


class ColumnRelation:
    """A large relation as columns (numpy arrays of one length) of numbers below `count`; no row is ever made.

    Its index by a column is the columns sorted by that one, and for each number where its rows begin: that takes a
    fraction of the time of a table of rows, and a fifth of the memory.
    """

    __slots__ = ("_indexes", "_lists", "columns", "count")

    single = False

    def __init__(self, columns: Sequence[Any], count: int) -> None:
        self.columns = columns
        self.count = count
        self._lists: list[list[int]] | None = None
        self._indexes: dict[int, tuple[Any, ...]] = {}

    def __len__(self) -> int:
        return len(self.columns[0])

    def lists(self) -> list[list[int]]:
        """The columns as lists."""
        if self._lists is None:
            self._lists = [column.tolist() for column in self.columns]
        return self._lists

    def ranges(self, place: int) -> tuple[Any, ...]:
        """Where the rows of each number begin, in columns sorted by a place; and those columns, without that of the
        place itself.

        Of a long row of beginnings few are ever looked at, so it is not made into a list.
        """
        found = self._indexes.get(place)
        if found is None:
            import numpy as np

            key = self.columns[place]
            # Numbers of two bytes are sorted in a third of the time.
            order = np.argsort(key.astype(np.uint16) if self.count < 1 << 16 else key, kind="stable")
            starts = np.zeros(self.count + 1, dtype=np.int64)
            np.cumsum(np.bincount(key, minlength=self.count), out=starts[1:])
            others = (None if at == place else column[order].tolist() for at, column in enumerate(self.columns))
            found = self._indexes[place] = (starts.data, *others)
        return found
