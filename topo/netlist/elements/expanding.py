"""Elements of the whole list, sub-circuits written out: `Q1` of a sub-circuit used as `X1` is `X1.Q1`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from topo.netlist.drafting import MOST_PARTS
from topo.netlist.elements.bodies import Body, Listing
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.known_bodies import Known, halves, known_part
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.scopes import Scope
from topo.netlist.elements.tokens import Row
from topo.netlist.spelling import did_you_mean
from topo.netlist.syntax import Word
from topo.netlist.where import MOST_TERMINALS

DEEPEST_USE = 20
# So many of one sub-circuit in parallel are the most.
MOST_ALIKE = 100
GROUND = "gnd"
GROUND_NAMES = frozenset(("0", "gnd", "gnd!", "0v"))
# Letters of elements that have a counterpart among the parts of a circuit diagram.
MEANT = frozenset("RCLKDQJMZVIXT")


@dataclass(frozen=True)
class Element:
    """An element in its place: its designator, its words behind the name, where its names are looked up.

    `known` is what an `X` line stands for where it is a part by itself.
    """

    ref: str
    row: Row
    scope: Scope
    known: Known | None = None

    @property
    def letter(self) -> str:
        """The letter of the kind of element."""
        return self.row.letter


class Names:
    """The nets' names: one spelling each, free of what the netlist language keeps for itself."""

    def __init__(self, global_names: set[str]) -> None:
        self._globals = global_names
        self._shown: dict[str, str] = {}
        self._taken: dict[str, str] = {}
        self.changed: list[tuple[str, str]] = []

    def net(self, word: Word, scope: Scope) -> str:
        """The net that a node's name means where it stands."""
        folded = word.text.casefold()
        if folded in GROUND_NAMES:
            return GROUND
        if folded in scope.nodes:
            return scope.nodes[folded]
        prefix = "" if folded in self._globals else scope.prefix
        key = f"{prefix.casefold()}\0{folded}"
        shown = self._shown.get(key)
        if shown is None:
            shown = self._shown[key] = self._free(prefix + word.text, key)
        return shown

    def _free(self, wanted: str, key: str) -> str:
        name = "".join("_" if character in ':|=#,()"\\' or character.isspace() else character for character in wanted)
        name = f"n{name}" if name in ("-", "+") else name
        base, number = name, 1
        while self._taken.get(name.casefold(), key) != key or name.casefold() in ("gnd", "ground", "earth", "0"):
            number += 1
            name = f"{base}_{number}"
        self._taken[name.casefold()] = key
        if name != wanted:
            self.changed.append((wanted, name))
        return name


class Expander:
    """Writes out the sub-circuits of one listing."""

    def __init__(self, listing: Listing, found: Findings, temperature: float) -> None:
        self.listing = listing
        self.found = found
        self.names = Names(listing.globals)
        self.top = Scope(listing.body, temperature=temperature)
        self._count = 0
        self._meaningless: dict[int, str] = {}

    def elements(self) -> Iterator[Element]:
        """Every element, in the order of the lines that use them."""
        yield from self._of(self.top, ())

    def _of(self, scope: Scope, open_bodies: tuple[int, ...]) -> Iterator[Element]:
        for row in scope.body.rows:
            self._count += 1
            if self._count > MOST_PARTS:
                if self._count == MOST_PARTS + 1:
                    self.found.error("too-many-parts", row.line, row.head, f"there are more than {MOST_PARTS} parts.")
                return
            ref = scope.prefix + row.head.text
            if row.letter == "X":
                yield from self._use(row, ref, scope, open_bodies)
            else:
                yield Element(ref, row, scope)

    def _use(self, row: Row, ref: str, scope: Scope, open_bodies: tuple[int, ...]) -> Iterator[Element]:
        """The elements of a sub-circuit where it is used; one part where it stands for one."""
        name, nodes = self._parted(row, scope)
        if name is None:
            self.found.error(
                "bad-use", row.line, row.head, f"{row.head.text} names no sub-circuit.", "X1 node node ... NAME"
            )
            return
        if len(nodes) > MOST_TERMINALS:
            message = f"{ref} has more than {MOST_TERMINALS} nodes."
            self.found.error("too-many-terminals", row.line, nodes[MOST_TERMINALS], message, "fewer nodes")
            return
        body = scope.body.body(name.text)
        known = known_part(name.text, [node.text for node in nodes], body)
        if known is None and body is not None and len(nodes) == len(body.nodes) and (pair := halves(name.text, body)):
            self.found.note(
                "double-valve", row.line, name, f"{ref} is a double valve, its halves shown as {ref}.A and {ref}.B."
            )
            for letter, (half, places) in zip("AB", pair, strict=True):
                own = tuple(nodes[place] for place in places)
                yield Element(f"{ref}.{letter}", Row(row.head, own, row.settings, row.names, row.line), scope, half)
            return
        if not nodes and (known is not None or body is None):
            self.found.error("bad-use", row.line, row.head, f"{row.head.text} has no nodes.", "X1 node node ... NAME")
            return
        if known is not None or body is None:
            if known is None:
                near = did_you_mean(name.text, [other.name for other in _bodies_in_reach(scope.body)])
                message = f"there is no sub-circuit {name.text}; {ref} is taken as a part of which nothing is known."
                self.found.warn("unknown-body", row.line, name, message, mend=near)
                known = Known("other", tuple(str(number) for number in range(1, len(nodes) + 1)), name.text)
            yield Element(ref, Row(row.head, nodes, row.settings, row.names, row.line), scope, known)
            return
        if len(nodes) != len(body.nodes):
            message = f"{name.text} has {len(body.nodes)} nodes, and {len(nodes)} are given."
            self.found.error(
                "node-count", row.line, name, message, f"X1 {' '.join(node.text for node in body.nodes)} {name.text}"
            )
            return
        if id(body) in open_bodies or scope.depth >= DEEPEST_USE:
            what = "uses itself" if id(body) in open_bodies else f"stands more than {DEEPEST_USE} deep in others"
            self.found.error("too-deep", row.line, name, f"the sub-circuit {name.text} {what}.")
            return
        missing = self._without_meaning(body, (id(body),))
        if missing:
            message = (
                f"{ref} is taken as one part of which nothing is known: {name.text} holds {missing}, which has no"
                " counterpart here."
            )
            self.found.warn("opaque-body", row.line, name, message)
            terminals = tuple(_terminal_names(body))
            yield Element(
                ref,
                Row(row.head, nodes, row.settings, row.names, row.line),
                scope,
                Known("other", terminals, name.text),
            )
            return
        declared = {*body.defaults, *body.params}
        many = 1 if "m" in declared else self._many(row, scope)
        for setting in row.settings:
            if setting not in declared and setting != "m":
                message = f"{row.names[setting].text} is no parameter that {name.text} declares"
                self.found.warn(
                    "undeclared", row.line, row.names[setting], f"{message}; it holds within it all the same."
                )
        outside = {
            inner.text.casefold(): self.names.net(node, scope) for inner, node in zip(body.nodes, nodes, strict=True)
        }
        for number in range(1, many + 1):
            prefix = f"{ref}." if number == 1 else f"{ref}_{number}."
            inner = Scope(body, scope, row.settings, prefix, outside, scope.temperature)
            yield from self._of(inner, (*open_bodies, id(body)))

    def _many(self, row: Row, scope: Scope) -> int:
        """How many of a sub-circuit a line stands for, all of them in parallel (`M=2`)."""
        word = row.settings.get("m")
        if word is None:
            return 1
        try:
            many = scope.value(word)
        except FormulaError:
            many = 0.0
        if many != int(many) or not 1 <= many <= MOST_ALIKE:
            message = f"{row.head.text} cannot be {word.text} times there; it is taken once."
            self.found.warn("bad-value", row.line, word, message, f"a number from 1 to {MOST_ALIKE}")
            return 1
        return int(many)

    def _parted(self, row: Row, scope: Scope) -> tuple[Word | None, tuple[Word, ...]]:
        """The name of the sub-circuit and the nodes of a line that uses one."""
        words = tuple(word for word in row.words if word.text.casefold().rstrip(":") != "params")
        for position in range(len(words) - 1, 0, -1):
            if scope.body.body(words[position].text) is not None:
                return words[position], words[:position]
        return (words[-1], words[:-1]) if words else (None, ())

    def _without_meaning(self, body: Body, open_bodies: tuple[int, ...]) -> str:
        """The first element of a body, or of those that it uses, that has no counterpart here; "" if there is none."""
        if id(body) not in self._meaningless:
            self._meaningless[id(body)] = ""
            for row in body.rows:
                said = "" if row.letter in MEANT else row.head.text
                if row.letter == "X":
                    name, nodes = self._parted(row, Scope(body))
                    inner = None if name is None else body.body(name.text)
                    if (
                        name is not None
                        and inner is not None
                        and not known_part(name.text, [n.text for n in nodes], inner)
                    ):
                        said = (
                            "" if id(inner) in open_bodies else self._without_meaning(inner, (*open_bodies, id(inner)))
                        )
                if said:
                    self._meaningless[id(body)] = said
                    break
        return self._meaningless[id(body)]


def _terminal_names(body: Body) -> Iterator[str]:
    """Names for the terminals of an opaque part: its nodes' names where they may be typed, else numbers."""
    seen: set[str] = set()
    for number, node in enumerate(body.nodes, 1):
        name = "".join("_" if character in ':|=#,()".' else character for character in node.text)
        name = str(number) if not name or name.casefold() in seen else name
        seen.add(name.casefold())
        yield name


def _bodies_in_reach(body: Body) -> Iterator[Body]:
    here: Body | None = body
    while here is not None:
        yield from here.bodies.values()
        here = here.outer
