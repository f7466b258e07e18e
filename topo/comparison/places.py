"""Parts that no block speaks of, paired by their kind and their place in the circuit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from topo.comparison.pairing import kind_of
from topo.netlist.circuit import Circuit, Part

# Rounds after which parts this many nets apart have told each other apart.
_ROUNDS = 12
_GENERIC = {"b": "ctl", "g": "ctl", "g1": "ctl", "e": "emt", "s": "emt", "k": "emt", "c": "col", "d": "col", "a": "col"}


def pairs_by_place(
    one: Circuit,
    two: Circuit,
    known: Mapping[str, str],
    left: Iterable[str],
    right: Iterable[str],
    least: int = 2,
) -> list[tuple[str, str]]:
    """Pairs of parts that are left over, of one kind and at corresponding places.

    Args:
        known: the part of B for each part of A that has a counterpart.
        left: designators of A that are to be paired with those of `right` of B.
        least: how many parts around two parts have to be alike, at the least.
    """
    left, right = list(left), list(right)
    if not left or not right:
        return []
    words: dict[object, int] = {}
    marks = {ref: place for place, ref in enumerate(known)}
    other_marks = {known[ref]: place for ref, place in marks.items()}
    mine, theirs = _Colours(one, marks, words), _Colours(two, other_marks, words)
    rounds = []
    for _ in range(_ROUNDS):
        mine.refine()
        theirs.refine()
        rounds.append((mine.parts, theirs.parts))
    found = []
    # Those first that are alike the furthest around.
    for here, there in reversed(rounds[least - 1 :]):
        for ref in list(left):
            same = next((other for other in right if there[other] == here[ref]), None)
            if same is not None:
                left.remove(ref)
                right.remove(same)
                found.append((ref, same))
    return found


class _Colours:
    """A colour for each part and net, which comes to say what lies about it."""

    def __init__(self, circuit: Circuit, marks: Mapping[str, int], words: dict[object, int]) -> None:
        self._circuit = circuit
        self._words = words
        rails = {supply.net for supply in circuit.supplies}
        self.nets = {
            net: self._colour(("net", "ground" if net == circuit.ground else "rail" if net in rails else ""))
            for net in circuit.nets
        }
        self.parts = {part.ref: self._colour(("part", _kind(part), marks.get(part.ref))) for part in circuit.parts}

    def refine(self) -> None:
        """One more round: each net sees its parts, each part its nets."""
        seen: dict[str, list[tuple[int, str]]] = {net: [] for net in self.nets}
        for part in self._circuit.parts:
            for terminal in part.terminals:
                seen.setdefault(terminal.net, []).append((self.parts[part.ref], _label(part, terminal.name)))
        self.nets = {net: self._colour((self.nets.get(net, 0), tuple(sorted(row)))) for net, row in seen.items()}
        self.parts = {part.ref: self._seen_by(part) for part in self._circuit.parts}

    def _seen_by(self, part: Part) -> int:
        row = sorted((_label(part, terminal.name), self.nets[terminal.net]) for terminal in part.terminals)
        return self._colour((self.parts[part.ref], tuple(row)))

    def _colour(self, word: object) -> int:
        return self._words.setdefault(word, len(self._words))


_DIRECTED = frozenset({"diode", "rectifier", "led", "zener", "varactor", "battery", "source", "current"})


def _kind(part: Part) -> str:
    """The kind of a part, with the polarity of devices."""
    return part.kind if kind_of(part) == "amplifying device" else kind_of(part)


def _label(part: Part, terminal: str) -> str:
    """The name of a terminal where it matters: the ends of a resistor are alike, and so are those of a winding."""
    if len(part.terminals) == 2:
        return terminal if part.kind in _DIRECTED else ""
    for winding in part.windings:
        if terminal in winding.terminals:
            return f"{winding.name} {'end' if terminal in (winding.terminals[0], winding.terminals[-1]) else 'tap'}"
    return _GENERIC.get(terminal, terminal) if kind_of(part) == "amplifying device" else terminal
