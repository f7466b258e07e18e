"""A relation: rows of whole numbers, with indexes from some of their columns to the rest, made when asked for."""

from __future__ import annotations

from collections.abc import Sequence

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
