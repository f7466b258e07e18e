"""What an element list cannot say and `topo convert` kept in its comments, as lines of the netlist language.

A comment `*topo LS1 speaker 8 : spk gnd = RLS1` says that the element RLS1 stands for the part of that line. It holds
as long as the elements are there and on the nets that the line says; else the elements are what counts. A comment
without elements is a statement: `*topo input mic`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from topo.netlist.circuit import Circuit, Part, Supply
from topo.netlist.elements.expanding import GROUND
from topo.netlist.elements.parts import Made
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.shaping import designator
from topo.netlist.lines import Line

_Kept = list[tuple[str, tuple[str, ...], Line]]


@dataclass
class Keeping:
    """What was kept: a circuit without parts that has the statements, and the sections with the lines they start in."""

    said: Circuit | None = None
    sections: list[tuple[int, str]] = field(default_factory=list)
    supplies: list[Supply] = field(default_factory=list)

    def section_at(self, line: int) -> str | None:
        """The section in which a line stands."""
        return next((name for start, name in reversed(self.sections) if start < line), None)


def take_kept(kept: _Kept, made: Made, found: Findings) -> Keeping:
    """Put the parts of kept lines in the place of the elements that stand for them; gives what else was kept."""
    statements = [(own, line) for own, names, line in kept if not names]
    idle = [(own, names) for own, names, _ in kept if names and own[:7].casefold() == "supply "]
    types = "".join(f"{own}\n" for own, _ in statements if own[:7].casefold() == "device ")
    keeping = Keeping()
    rows = [own for own, _ in statements]
    if rows:
        keeping.said = _circuit("\n".join(rows))
        if keeping.said is None:
            _tell(found, statements[0][1])
    for own, line in statements:
        keyword, _, name = own.partition(" ")
        if keyword.casefold() == "section":
            keeping.sections.append((line.number, " ".join(name.split())))
    _replace(
        made, [(types + own, names, line) for own, names, line in kept if names and (own, names) not in idle], found
    )
    _take_idle_supplies(idle, made, keeping)
    return keeping


def _take_idle_supplies(idle: list[tuple[str, tuple[str, ...]]], made: Made, keeping: Keeping) -> None:
    """Supplies of 0 V, which sources of 0 V would not be taken for."""
    for own, names in idle:
        circuit, keys = _circuit(own), {designator(name).casefold() for name in names}
        gone = [drive for drive in made.drives if drive[0].ref.casefold() in keys]
        if circuit is None or len(gone) != len(keys):
            continue
        keeping.supplies += circuit.supplies
        made.parts = [part for part in made.parts if part.ref.casefold() not in keys]
        made.drives = [drive for drive in made.drives if drive not in gone]


def _replace(made: Made, kept: _Kept, found: Findings) -> None:
    if not kept:
        return
    by_ref = {part.ref.casefold(): part for part in made.parts}
    fitting: list[tuple[Part, list[str], Line]] = []
    for own, names, line in kept:
        keys = [designator(name).casefold() for name in names]
        held = [by_ref[key] for key in keys if key in by_ref]
        circuit = _circuit(own)
        if (
            circuit is None
            or len(circuit.parts) != 1
            or len(held) != len(keys)
            or not _same_nets(circuit.parts[0], held)
        ):
            _tell(found, line)
            continue
        part = replace(circuit.parts[0], place=held[0].place, source=held[0].source)
        fitting.append((_on_nets_of(part, held), keys, line))
    new: dict[str, Part | None] = {}
    for part, keys in _without_namesakes(fitting, by_ref, found):
        new |= dict.fromkeys(keys[1:])
        new[keys[0]] = part
        made.named.add(part.ref.casefold())
    found.forget({made.lines[key] for key in new})
    made.parts = [found_part for old in made.parts if (found_part := new.get(old.ref.casefold(), old)) is not None]
    made.drives = [drive for drive in made.drives if drive[0].ref.casefold() not in new]
    made.coils = {name: coil for name, coil in made.coils.items() if name not in new}
    made.couplings = [
        element
        for element in made.couplings
        if not any(designator(element.scope.prefix + word.text).casefold() in new for word in element.row.words)
    ]


def _without_namesakes(
    fitting: list[tuple[Part, list[str], Line]], by_ref: Mapping[str, Part], found: Findings
) -> list[tuple[Part, list[str]]]:
    """Kept parts with the elements that they stand for, but those that would give two parts one designator."""
    while True:
        stood_for = {key for _, keys, _ in fitting for key in keys}
        taken = {ref for ref in by_ref if ref not in stood_for}
        left = []
        for part, keys, line in fitting:
            if part.ref.casefold() in taken:
                message = f"this comment would make a second {part.ref}; the lines below it are what is read."
                found.warn("kept-differs", line, None, message)
            else:
                left.append((part, keys, line))
            taken.add(part.ref.casefold())
        if len(left) == len(fitting):
            return [(part, keys) for part, keys, _ in left]
        fitting = left


def _tell(found: Findings, line: Line) -> None:
    message = "this comment of `topo convert` no longer fits the lines below it; those are what is read."
    found.warn("kept-differs", line, None, message)


def _circuit(own: str) -> Circuit | None:
    """The circuit of lines of the netlist language; None if they are none."""
    from topo.errors import NetlistError
    from topo.netlist.drafting import Drafter

    try:
        return Drafter(own, "<kept>").circuit()
    except NetlistError:
        return None


def _same_nets(part: Part, elements: list[Part]) -> bool:
    """Whether a part lies on nets of its elements alone."""
    theirs = {terminal.net.casefold() for element in elements for terminal in element.terminals}
    return {terminal.net.casefold() for terminal in part.terminals} <= theirs | {GROUND}


def _on_nets_of(part: Part, elements: list[Part]) -> Part:
    """The part with the nets spelled as the list spells them."""
    shown = {terminal.net.casefold(): terminal.net for element in elements for terminal in element.terminals}
    terminals = tuple(
        replace(terminal, net=shown.get(terminal.net.casefold(), GROUND), place=part.place)
        for terminal in part.terminals
    )
    return replace(part, terminals=terminals)
