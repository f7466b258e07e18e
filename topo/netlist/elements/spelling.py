"""Names and numbers as an element list may have them."""

from __future__ import annotations

import re

from topo.netlist.circuit import Circuit, Part
from topo.netlist.elements.figures import figure
from topo.quantities import with_unit

_BARRED = re.compile(r"[;{}'\"\\=(),\s]|^\$(?![A-Za-z]_)")


class Spelling:
    """The names of one circuit's nets and elements, each once whatever the case."""

    def __init__(self, circuit: Circuit) -> None:
        self._ground = circuit.ground
        self._inputs = [{port.net, port.reference} for port in circuit.inputs]
        self._nodes: dict[str, str] = {}
        self._taken = {"0", "gnd", "ground", "earth", "gnd!", "0v"}
        self._names: set[str] = set()
        for net in circuit.nets:
            if net != circuit.ground:
                self._nodes[net] = self._free(_plain(net), self._taken)
        for part in circuit.parts:
            for terminal in part.terminals:
                if terminal.net not in self._nodes and terminal.net != circuit.ground:
                    self._nodes[terminal.net] = self._free(_plain(terminal.net), self._taken)

    @staticmethod
    def _free(wanted: str, taken: set[str]) -> str:
        name, count = wanted, 1
        while name.casefold() in taken:
            count += 1
            name = f"{wanted}_{count}"
        taken.add(name.casefold())
        return name

    def node(self, net: str) -> str:
        """The name of a net's node."""
        return "0" if net == self._ground else self._nodes[net]

    def shown(self, net: str) -> str:
        """The name that a net has when the list is read back."""
        return "gnd" if net == self._ground else self._nodes[net]

    def is_drive(self, part: Part) -> bool:
        """Whether a source stands at an input."""
        return part.kind in ("source", "current") and {terminal.net for terminal in part.terminals} in self._inputs

    def element(self, letter: str, ref: str) -> str:
        """The name of an element of that letter for a part: its designator where that starts with the letter."""
        plain = _plain(ref)
        return self.fresh(plain if plain[:1].upper() == letter else letter + plain)

    def fresh(self, wanted: str) -> str:
        """A name that no element has yet."""
        return self._free(_plain(wanted), self._names)


def _plain(name: str) -> str:
    """A name without the signs that mean something else in a list."""
    text = _BARRED.sub("_", name).replace("//", "__")
    return f"n{text}" if text[:1] in ("*", "#", "") or text in ("-", "+") else text


def number(value: float) -> str:
    """A number with the scale factor of the form, reading back to itself: 4.7k, 10MEG, 100n."""
    text = with_unit(value, "H").removesuffix("H")
    text = f"{text[:-1]}MEG" if text.endswith("M") else text
    found = figure(text)
    return text if found is not None and found.value == value else repr(float(value))
