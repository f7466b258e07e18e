"""From a Circuit to the text of a netlist that reads back to an equal circuit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from topo.netlist.circuit import GROUND, Circuit, Part, Winding
from topo.netlist.drafting import GROUND_NAMES
from topo.netlist.kinds import ANY, GROUPS, WINDINGS, implied_kinds, kind_of
from topo.netlist.statements import SPEECH_BAND
from topo.netlist.words import is_figure, is_free_word
from topo.quantities import QuantityError, rkm, split, with_unit

_WHAT_COLUMN, _WHERE_COLUMN = 6, 30
# Kinds whose letters everyone reads; the others are said, so that the line reads aloud.
_SAID_BY_LETTERS = ("resistor", "capacitor", "inductor")


Types = Mapping[str, tuple[Part, Mapping[str, float]]]
"""Device types by name: the first part of each, and the parameters that all parts of the type share."""


def write(circuit: Circuit, comments: Mapping[str, str] | None = None) -> str:
    """The netlist of a circuit, one part a line, blocks written out.

    Args:
        circuit: the circuit; its parts keep their order.
        comments: designator -> words for the end of that part's line; "" -> words above the whole.
    Returns:
        Text that `loads` reads to an equal circuit, places and warnings apart.
    """
    said = comments or {}
    lines = [f"# {row}".rstrip() for row in said.get("", "").splitlines()]
    lines += statement_lines(circuit)
    types = shared_types(circuit)
    lines += [_device(name, part, shared) for name, (part, shared) in types.items()]
    if lines:
        lines.append("")
    lines += _rows(circuit, said, types)
    lines += _joins(circuit)
    return "\n".join(lines) + "\n"


def statement_lines(circuit: Circuit) -> Iterator[str]:
    """The statements that stand before the parts."""
    if circuit.title:
        yield f"circuit  {_free_text(circuit.title)}"
    for note in circuit.notes:
        yield f"note     {_free_text(note)}"
    if circuit.ground.casefold() not in GROUND_NAMES or (
        circuit.ground != GROUND and circuit.ground not in circuit.nets
    ):
        yield f"ground   {circuit.ground}"
    for supply in circuit.supplies:
        resistance = f" {rkm(supply.resistance)}" if supply.resistance else ""
        yield f"supply   {supply.net} {with_unit(supply.volts, 'V')}{resistance}"
    for keyword, ports in (("input", circuit.inputs), ("output", circuit.outputs)):
        for port in ports:
            reference = "" if port.reference == circuit.ground else f" {port.reference}"
            yield f"{keyword:8} {port.net}{reference}"
    if None in circuit.bands and not _is_default_band(circuit):
        yield _band(circuit, None)
    if circuit.temperature != 27.0:
        yield f"temperature {with_unit(circuit.temperature, '')}"


def _free_text(text: str) -> str:
    """A title, note or name without what would end it, or join the next line to it."""
    return text.partition("#")[0].rstrip("\\ ")


def _is_default_band(circuit: Circuit) -> bool:
    """Whether the band is assumed again when the circuit is read: that of speech, for a transducer."""
    speaks = any(part.kind in GROUPS["transducer"] for part in circuit.parts)
    return circuit.band_assumed and speaks and circuit.band == SPEECH_BAND


def _band(circuit: Circuit, section: str | None) -> str:
    low, high = circuit.bands[section]
    return f"signal   {with_unit(low, 'Hz')} to {with_unit(high, 'Hz')}"


def shared_types(circuit: Circuit) -> Types:
    """Device types by name: the first part of each, and the parameters that all parts of the type share.

    A name that parts of different kinds have for their type is none that a statement could declare.
    """
    types: dict[str, tuple[Part, dict[str, float]]] = {}
    mixed: set[str] = set()
    for part in circuit.parts:
        if part.type_name:
            if types.get(part.type_name, (part,))[0].kind != part.kind:
                mixed.add(part.type_name)
            own = {name: value for name, value in part.params.items() if name != "count"}
            first, shared = types.get(part.type_name, (part, own))
            both = {name: value for name, value in shared.items() if part.params.get(name) == value}
            types[part.type_name] = (first, both)
    return {name: found for name, found in types.items() if name not in mixed}


def _device(name: str, part: Part, shared: Mapping[str, float]) -> str:
    """The statement that declares a device type."""
    return " ".join([f"device   {name} {kind_of(part.kind).name}", *_params(part, shared)])


def _params(part: Part, params: Mapping[str, float]) -> Iterator[str]:
    """Parameters as settings."""
    for name, figure in params.items():
        unit = dict(kind_of(part.kind).params).get(name, "")
        yield f"{name}={_plain(figure) if not unit else with_unit(figure, unit)}"


def _rows(circuit: Circuit, comments: Mapping[str, str], types: Types) -> Iterator[str]:
    """The parts, under their sections."""
    unsaid = list(circuit.sections)
    section: str | None = None
    for part in circuit.parts:
        if part.section != section and part.section is not None:
            section = part.section
            yield from _sections_up_to(circuit, section, unsaid)
        comment = " ".join(comments.get(part.ref, "").split())
        line = part_line(part, types)
        yield f"{line}  # {comment}" if comment else line
    for left in tuple(unsaid):
        yield from _sections_up_to(circuit, left, unsaid)


def _sections_up_to(circuit: Circuit, section: str, unsaid: list[str]) -> Iterator[str]:
    """`section` lines, with the bands that belong to them, up to the one that is wanted."""
    if section not in unsaid:
        yield f"section  {_free_text(section)}"
    while section in unsaid:
        name = unsaid.pop(0)
        yield f"section  {_free_text(name)}"
        if name in circuit.bands:
            yield _band(circuit, name)


def _joins(circuit: Circuit) -> Iterator[str]:
    """The further names of nets."""
    others: dict[str, list[str]] = {}
    for folded, shown in circuit.aliases.items():
        if folded != shown.casefold():
            others.setdefault(shown, []).append(folded)
    usual = circuit.ground.casefold() in GROUND_NAMES
    for shown, names in others.items():
        if usual and shown == circuit.ground:
            names = [name for name in names if name not in GROUND_NAMES]
        if names:
            yield f"join     {' '.join((shown, *names))}"


def part_line(part: Part, types: Types) -> str:
    """The line of a part, of a circuit with these types."""
    shared = types[part.type_name][1] if part.type_name is not None and part.type_name in types else {}
    what = " ".join(_what(part, shared, types))
    head = f"{part.ref:{_WHAT_COLUMN - 1}} {what}".rstrip()
    return f"{head:{_WHERE_COLUMN - 1}} : {_where(part)}"


def device_lines(types: Types, wanted: Iterable[str]) -> Iterator[str]:
    """The statements that declare some of the types."""
    names = set(wanted)
    return (_device(name, part, shared) for name, (part, shared) in types.items() if name in names)


def _what(part: Part, of_type: Mapping[str, float], types: Types) -> Iterator[str]:
    """The words of a part's *what*; `of_type` are parameters that its device type has."""
    kind = kind_of(part.kind)
    if part.settings.get("coefficient"):
        yield "ntc" if part.settings["coefficient"] == "negative" else "ptc"
    elif part.settings.get("polarised"):
        yield "electrolytic"
    elif _must_say_kind(part, types):
        yield kind.name
    for word in ("germanium", "silicon"):
        if part.settings.get(word):
            yield word
    if part.type_name:
        yield part.type_name
    if part.kind not in GROUPS["opaque"]:
        yield from _value(part)
    elif is_free_word(part.value_text) and part.value_text.casefold() not in map(str.casefold, types):
        yield part.value_text
    if part.windings and not part.windings[0].assumed:
        yield _ratio(part.windings)
    yield from _positions(part)
    for unit, figure in part.ratings.items():
        yield with_unit(figure, unit)
    yield from _params(part, {name: value for name, value in part.params.items() if of_type.get(name) != value})


def _must_say_kind(part: Part, types: Types) -> bool:
    """Whether neither the letters nor the type of a part say its kind: a type named 3k9 could be a value."""
    if part.type_name:
        return part.type_name not in types or is_figure(part.type_name)
    return part.kind not in _SAID_BY_LETTERS or implied_kinds(part.ref) != (part.kind,)


def _plain(value: float) -> str:
    """A number that reads back to itself."""
    return f"{value:.15g}" if float(f"{value:.15g}") == value else repr(value)


def _value(part: Part) -> Iterator[str]:
    """The main value: as it was typed if it still says the value."""
    unit = kind_of(part.kind).unit
    if unit == "F" and part.value is not None and part.value >= 0.01:
        yield f"{_plain(part.value)}F"  # MF and 0.1 are marks of old drawings, 0R1 is no capacitor
    elif unit == "H" and part.value is not None and part.value >= 1e6:
        yield f"{_plain(part.value)}H"  # MH is a mark of old drawings too
    elif part.value_text and (part.value is None or _says(part.value_text, part.value)):
        yield part.value_text
    elif part.kind == "lamp" and part.value is not None and "V" in part.ratings and "A" in part.ratings:
        return  # its ratings say it
    elif part.value is not None:
        yield rkm(part.value) if unit in ("ohm", "F") else with_unit(part.value, unit)


def _says(text: str, value: float) -> bool:
    try:
        return split(text)[0] == value
    except QuantityError:
        return False


def _ratio(windings: tuple[Winding, ...]) -> str:
    return ":".join("+".join(_decimal(figure) for figure in winding.turns) for winding in windings)


def _decimal(figure: float) -> str:
    """A figure of a ratio, without an exponent, reading back to itself."""
    return with_unit(figure, "")


def _positions(part: Part) -> Iterator[str]:
    """Wiper, way, switch and relay states."""
    if (setting := part.settings.get("at")) is not None:
        yield f"at {_plain(float(str(setting)))}"
    if (way := part.settings.get("way")) is not None:
        yield f"at {way}"
    if (state := part.settings.get("state")) is not None:
        yield f"at {state}" if part.kind == "relay" else str(state)


def _where(part: Part) -> str:
    """The terminals of a part, by order where order is safe, by name elsewhere."""
    kind = kind_of(part.kind)
    nets = [terminal.net for terminal in part.terminals]
    if kind.form == WINDINGS:
        return " | ".join(" ".join(part.net(name) for name in winding.terminals) for winding in part.windings)
    if kind.form == "relay":
        sets = [nets[:2], *(nets[start : start + 3] for start in range(2, len(nets), 3))]
        return " | ".join(map(" ".join, sets))
    if kind.form == "selector":
        return f"{nets[0]} | {' '.join(nets[1:])}"
    numbered = [str(number) for number in range(1, len(nets) + 1)]
    in_order = tuple(numbered) if kind.form == ANY or part.windings else kind.terminals
    if part.settings.get("polarised"):
        in_order = ("+", "-")
    by_name = kind.names_required or tuple(terminal.name for terminal in part.terminals) != in_order
    if by_name and not (part.kind in GROUPS["coil"] and part.windings):
        return " ".join(f"{terminal.name}={terminal.net}" for terminal in part.terminals)
    return " ".join(nets)
