"""Fills the texts of a pattern for one match: designators, net names and computed numbers in place of braces."""

from __future__ import annotations

from typing import Any, NamedTuple

from topo.matching.agreement import Agreement
from topo.matching.context import Context
from topo.matching.evaluating import Result, evaluate_result
from topo.matching.match import Device, Match
from topo.matching.schema_texts import Segments
from topo.matching.scope import Scope, Unbound

# A current depends on a junction's voltage: two figures are all that can be meant; so with powers.
_DIGITS = {"A": 2, "W": 2}
# Less than this is the solver's rounding, and means none.
_LEAST = {"V": 1e-7, "A": 1e-13, "W": 1e-12}


class Filled(NamedTuple):
    """A filled text: the words, the designators that it speaks of, and whether a number in it rests on an assumption.

    `rests_on` are further parts that its numbers were computed from; `numbers` are (words, value, unit) of each number.
    """

    text: str
    refs: tuple[str, ...] = ()
    assumed: bool = False
    rests_on: tuple[str, ...] = ()
    numbers: tuple[tuple[str, float, str], ...] = ()


def fill(text: Segments, match: Match, context: Context) -> Filled | None:
    """A text (as segments, see `Library.texts`) for a match; None if anything in it is unbound or not known."""
    return _Filler(match, context).fill(text)


class _Filler:
    """Collects words, designators and doubts while the segments of one text are filled."""

    def __init__(self, match: Match, context: Context) -> None:
        self.match = match
        self.context = context
        self.scope = context.scope(match)
        self.refs: dict[str, None] = {}
        self.rests_on: dict[str, None] = {}
        self.numbers: list[tuple[str, float, str]] = []
        self.assumed = False

    def fill(self, text: Segments) -> Filled | None:
        words: list[str] = []
        verbs = Agreement()
        for segment in text:
            found = segment[1] if segment[0] == "text" else self._word(segment)
            if found is None:
                return None
            if segment[0] == "role":
                verbs.subject("".join(words), " and " in found)
            words.append(verbs.words(found) if segment[0] == "text" else found)
        rest = tuple(part for part in self.rests_on if part not in self.refs)
        return Filled("".join(words), tuple(self.refs), self.assumed, rest, tuple(self.numbers))

    def _word(self, segment: list[Any]) -> str | None:
        sort, name = segment[0], segment[1]
        if sort == "role":
            return self._designators(name)
        if sort == "word":
            return self._role_word(name)
        if sort == "net":
            return self._net(name)
        if sort == "figure":
            figure = self.scope.figure(name)
            return None if figure is None else self._number(evaluate_result(figure.tree, self.scope), figure.unit)
        return self._number(evaluate_result(segment[1], self.scope), segment[2])

    def _designators(self, name: str) -> str | None:
        refs = self.match.roles.get(name, ())
        if not refs:
            return None
        self.refs.update(dict.fromkeys(refs))
        return _joined(self._as_devices(name, refs))

    def _as_devices(self, name: str, refs: tuple[str, ...]) -> tuple[str, ...]:
        """Designators of a role, those of a device of several transistors as one: "Q7+Q9"."""
        handles = self.match.handles.get(name, ())
        if not handles or not all(isinstance(handle, Device) for handle in handles):
            return refs
        elements = self.context.views.graph.elements
        members = [
            tuple(ref for index in handle.elements for ref in elements[index].members)
            for handle in handles
            if isinstance(handle, Device)
        ]
        if sorted(ref for row in members for ref in row) != sorted(refs):
            return refs
        return tuple("+".join(row) for row in members)

    def _role_word(self, name: str) -> str | None:
        match, role_name = self.match, name
        if "." in name:
            component, _, role_name = name.partition(".")
            found = self.match.components.get(component)
            if found is None:
                return None
            match = found
        role = self.context.library.get(match.pattern).roles.get(role_name)
        return role.word if role is not None and match.roles.get(role_name) else None

    def _net(self, name: str) -> str | None:
        try:
            node = self.scope.net(name).node
        except Unbound:
            return None
        return net_name(self.scope, node)

    def _number(self, result: Result, unit: str) -> str | None:
        from topo.quantities import show

        value = result.value
        if isinstance(value, str):
            return value
        values = value if isinstance(value, list) else [value]
        if not values or any(item is None or isinstance(item, bool) for item in values):
            return None
        self.assumed = self.assumed or result.assumed
        self.rests_on.update(dict.fromkeys(result.parts))
        values = [0.0 if abs(item) < _LEAST.get(unit, 0.0) else item for item in values]
        shown = [show(item, unit, _DIGITS.get(unit, 3)) for item in values]
        self.numbers.extend((word, float(item), unit) for word, item in zip(shown, values, strict=True))
        return _joined(tuple(dict.fromkeys(shown)))


def net_name(scope: Scope, node: int) -> str:
    """The shown name of a node, "ground" for ground."""
    return "ground" if node == 0 else scope.graph.nets[node]


def _joined(words: tuple[str, ...]) -> str:
    """ "Q2", "Q2 and Q3", "Q2, Q3 and Q4"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
