"""The shape of a part made of an element: terminals on the nets of its nodes, values of its words."""

from __future__ import annotations

from topo.errors import Place
from topo.netlist.circuit import Part, Terminal
from topo.netlist.elements.expanding import Element, Names
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.problems import Findings
from topo.netlist.grammar import KEYWORDS
from topo.netlist.kinds import kind_of
from topo.netlist.syntax import Word

# Words and settings of a part's line that are about reckoning, temperature or layout.
_IDLE = frozenset(
    (
        *("tc", "tc1", "tc2", "temp", "dtemp", "ic", "off", "noise", "noiseless", "tol", "tolerance", "scale"),
        *("ad", "as", "pd", "ps", "nrd", "nrs", "nrg", "nrb", "geo", "sa", "sb", "sd"),
    )
)
LARGEST_VALUE = 1e30


class Shaper:
    """Makes parts of elements once it is known what they are."""

    def __init__(self, names: Names, found: Findings) -> None:
        self.names = names
        self.found = found

    def part(self, element: Element, kind: str, terminals: tuple[str, ...], nodes: tuple[Word, ...], **more) -> Part:
        """A part of an element: terminals on the nets of its nodes."""
        line, scope = element.row.line, element.scope
        joined = tuple(
            Terminal(name, self.names.net(node, scope), line.place(node.start, len(node.text)))
            for name, node in zip(terminals, nodes, strict=True)
        )
        order = kind_of(kind).terminals
        if all(terminal.name in order for terminal in joined):
            joined = tuple(sorted(joined, key=lambda terminal: order.index(terminal.name)))
        place: Place = line.place(element.row.head.start, len(element.row.head.text))
        return Part(designator(element.ref), kind, joined, place=place, source=line.source, **more)

    def value(self, element: Element, word: Word | None, what: str) -> float | None:
        """The value of a word; None, with the reason among the findings, where it has none."""
        if word is None or word.text == "?":
            return None
        line = element.row.line
        try:
            value, by_letter = element.scope.figure(word)
        except FormulaError as error:
            self.found.warn("bad-value", line, word, f"{what} of {element.ref}: {error}; it is taken as not known.")
            return None
        if not abs(value) <= LARGEST_VALUE:
            self.found.warn("bad-value", line, word, f"{what} of {element.ref} is beyond all measure; it is not used.")
            return None
        if by_letter:
            self.found.note(
                "letter-for-point", line, word, f"{word.text} is read as {value:g}, the letter being its decimal point."
            )
        return value

    def tell_unused(self, element: Element, words: tuple[Word, ...], used: frozenset[str]) -> None:
        """Note the words and settings of a line that mean nothing here, but for those that matter to no diagram."""
        row = element.row
        texts = [word.text for word in words if word.text.casefold() not in _IDLE]
        texts += [
            f"{row.names[name].text}={word.text}"
            for name, word in row.settings.items()
            if name not in used and name not in _IDLE
        ]
        if texts:
            listed = " ".join(texts[:6]) + (" ..." if len(texts) > 6 else "")
            self.found.note("not-used", row.line, row.head, f"of the line of {element.ref} this is not used: {listed}")

    def setting(self, element: Element, *names: str) -> float | None:
        """The value of a setting by any of its names."""
        for name in names:
            if name in element.row.settings:
                return self.value(element, element.row.settings[name], name.upper())
        return None


def designator(ref: str) -> str:
    """A designator free of what the netlist language keeps for itself."""
    free = "".join("_" if character in ':|=#,()"\\' or character.isspace() else character for character in ref)
    return f"{free}_" if free.casefold() in KEYWORDS else free
