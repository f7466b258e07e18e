"""Which terminals are one net, and what that net is called."""

from __future__ import annotations

from collections.abc import Iterable

from topo.errors import Place

# What a net takes its name from: a name typed, else the first reference to a terminal, else the terminal itself.
TYPED, REFERRED, UNNAMED = 0, 1, 2


class Nets:
    """Nets as disjoint sets of mentions; each mention is a small integer."""

    def __init__(self) -> None:
        self._parent: list[int] = []
        self._name: list[tuple[int, int, str]] = []  # rank, order of mention, spelling
        self._place: list[Place] = []
        self._by_name: dict[str, int] = {}

    def named(self, folded: str, spelling: str, place: Place) -> int:
        """The net of a typed name."""
        found = self._by_name.get(folded)
        if found is None:
            found = self._by_name[folded] = self._new(TYPED, spelling, place)
        return found

    def find(self, folded: str) -> int | None:
        """The net of a typed name, if anyone typed it."""
        return self._by_name.get(folded)

    def fresh(self, spelling: str, place: Place, referred: bool = False) -> int:
        """A net without a typed name, which may be joined later."""
        return self._new(REFERRED if referred else UNNAMED, spelling, place)

    def _new(self, rank: int, spelling: str, place: Place) -> int:
        number = len(self._parent)
        self._parent.append(number)
        self._name.append((rank, number, spelling))
        self._place.append(place)
        return number

    def join(self, first: int, second: int) -> None:
        """Make two nets one."""
        one, two = self.root(first), self.root(second)
        if one != two:
            low, high = (one, two) if self._name[one] < self._name[two] else (two, one)
            self._parent[high] = low  # the root carries the name

    def root(self, number: int) -> int:
        """The net that a mention is of."""
        parent = self._parent
        top = number
        while parent[top] != top:
            top = parent[top]
        while parent[number] != top:
            parent[number], number = top, parent[number]
        return top

    def shown(self, number: int) -> str:
        """The name that a net is shown by."""
        return self._name[self.root(number)][2]

    def shown_or(self, folded: str, otherwise: str) -> str:
        """The shown name of the net of a typed name, or another word if nobody typed it."""
        number = self._by_name.get(folded)
        return otherwise if number is None else self.shown(number)

    def place(self, number: int) -> Place:
        """Where the net is first named."""
        return self._place[self.root(number)]

    def aliases(self, kept: Iterable[int]) -> dict[str, str]:
        """Every typed name of the nets that are kept, case-folded, to the net's shown name; shown names too."""
        roots = {self.root(number): None for number in kept}
        table = {self._name[root][2].casefold(): self._name[root][2] for root in roots}
        for folded, number in self._by_name.items():
            root = self.root(number)
            if root in roots:
                table[folded] = self._name[root][2]
        return table
