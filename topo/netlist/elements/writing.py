"""From a Circuit to an element list that reads back to the same circuit.

What the form cannot say of a part is kept in a comment above its elements (see `keeping.py`), so that nothing is lost;
what the form can say is in the elements, so that others can read it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from topo.netlist.circuit import Circuit, Part
from topo.netlist.elements.spelling import Spelling, number
from topo.netlist.elements.standing_in import Lines, elements_of
from topo.netlist.writing import Types, device_lines, part_line, shared_types, statement_lines


def write_elements(circuit: Circuit) -> str:
    """The element list of a circuit, sub-circuits written out.

    Returns:
        Text that `loads` reads to a circuit of the same parts on the same nets.
    """
    spelling = Spelling(circuit)
    models: dict[str, str] = {}
    rows = [(part, elements_of(part, spelling, models)) for part in circuit.parts]
    types = shared_types(circuit)
    title = " ".join(circuit.title.split()) or "Circuit"
    head = [f"* {title}" if title.startswith("{") else title, *_statements(circuit, spelling)]  # a brace starts JSON
    plain = _text(head, rows, models, spelling, types, frozenset(part.ref for part in circuit.parts))
    return _text(head, rows, models, spelling, types, _read_alike(plain, circuit, spelling))


def _text(
    head: list[str],
    rows: list[tuple[Part, Lines]],
    models: dict[str, str],
    spelling: Spelling,
    types: Types,
    known: frozenset[str],
) -> str:
    """The list; parts in `known` need no comment."""
    lines = list(head)
    own_types = {part.type_name for part, _ in rows if part.ref not in known and part.type_name}
    lines += [f"*topo {line}" for line in device_lines(types, own_types)]
    section: str | None = None
    for part, (elements, names) in rows:
        if part.section is not None and part.section != section:
            section = part.section
            lines.append(f"*topo section {section}")
        if part.ref not in known:
            own = replace(
                part, section=None, terminals=tuple(replace(t, net=spelling.shown(t.net)) for t in part.terminals)
            )
            lines.append(f"*topo {' '.join(part_line(own, types).split())} = {' '.join(names)}")
        lines += elements
    lines += models.values()
    lines.append(".end")
    return "\n".join(lines) + "\n"


def _statements(circuit: Circuit, spelling: Spelling) -> Iterator[str]:
    """Supplies as sources; ports, band and notes as comments."""
    for supply in circuit.supplies:
        if supply.net == circuit.ground:
            continue  # it would be a source with both ends on one net
        resistance = f" Rser={number(supply.resistance)}" if supply.resistance else ""
        name = spelling.fresh(f"V{spelling.node(supply.net)}")
        if supply.volts == 0:
            yield f"*topo supply {spelling.node(supply.net)} 0V = {name}"
        yield f"{name} {spelling.node(supply.net)} 0 DC {number(supply.volts)}{resistance}"
    if circuit.temperature != 27.0:
        yield f".temp {number(circuit.temperature)}"
    bare = replace(
        circuit,
        title="",
        supplies=(),
        ground="gnd",
        temperature=27.0,
        inputs=tuple(
            replace(port, net=spelling.shown(port.net), reference=spelling.shown(port.reference))
            for port in circuit.inputs
        ),
        outputs=tuple(
            replace(port, net=spelling.shown(port.net), reference=spelling.shown(port.reference))
            for port in circuit.outputs
        ),
        nets=("gnd",),
    )
    for line in statement_lines(bare):
        yield f"*topo {' '.join(line.split())}"


def _read_alike(text: str, circuit: Circuit, spelling: Spelling) -> frozenset[str]:
    """Designators of the parts that a list says as they are, without a comment."""
    from topo.errors import NetlistError
    from topo.netlist.elements.assembling import read_elements

    try:
        back = read_elements(text)
    except NetlistError:
        return frozenset()
    found = {part.ref: part for part in back.parts}
    return frozenset(
        part.ref for part in circuit.parts if part.ref in found and _alike(part, found[part.ref], spelling)
    )


def _alike(part: Part, back: Part, spelling: Spelling) -> bool:
    """Whether a part came back as it was, but for the text of its value."""
    terminals = tuple((terminal.name, spelling.shown(terminal.net)) for terminal in part.terminals)
    return (
        part.kind == back.kind
        and part.value == back.value
        and terminals == tuple((terminal.name, terminal.net) for terminal in back.terminals)
        and (part.value is not None or part.value_text == back.value_text)
        and part.type_name == back.type_name
        and part.windings == back.windings
        and all(dict(getattr(part, name)) == dict(getattr(back, name)) for name in ("params", "settings", "ratings"))
    )
