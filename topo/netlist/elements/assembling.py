"""From the text of an element list to a Circuit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from topo.errors import NetlistError, Place, Problem
from topo.netlist.circuit import Circuit, Part
from topo.netlist.elements.couplings import couple
from topo.netlist.elements.expanding import GROUND, Expander
from topo.netlist.elements.files import Files
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.keeping import Keeping, take_kept
from topo.netlist.elements.naming import free_of_references, one_type_a_name
from topo.netlist.elements.parts import Maker
from topo.netlist.elements.ports import Ports, find_band, find_output, find_supplies
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.scopes import Scope
from topo.netlist.elements.sorting import Sorter
from topo.netlist.kinds import GROUPS
from topo.netlist.statements import SPEECH_BAND
from topo.quantities import show_range

_TEMPERATURES = (-100.0, 300.0)


def read_elements(text: str, file: str = "<text>", folder: Path | None = None) -> Circuit:
    """The circuit of an element list; what was doubtful, left out or taken for something is in `circuit.warnings`.

    Args:
        folder: where included files may lie, at any depth; None if nowhere.
    Raises:
        NetlistError: the list has errors; it holds every one of them.
    """
    found = Findings()
    listing = Sorter(found, Files(folder)).sort(text, file)
    bare = Scope(listing.body)
    temperature = 27.0
    if listing.temperature is not None and listing.temperature_line is not None:
        try:
            temperature = bare.value(listing.temperature)
        except FormulaError as error:
            found.warn("bad-value", listing.temperature_line, listing.temperature, f"the temperature: {error}.")
        if not _TEMPERATURES[0] <= temperature <= _TEMPERATURES[1]:
            found.warn(
                "temperature-range",
                listing.temperature_line,
                listing.temperature,
                "no such temperature; 27 °C is taken.",
            )
            temperature = 27.0
    expander = Expander(listing, found, temperature)
    maker = Maker(expander.names, found)
    for element in expander.elements():
        maker.take(element)
    made, ports = maker.made, Ports()
    keeping = take_kept(listing.kept, made, found)
    find_supplies(made, ports, found)
    ports.supplies += keeping.supplies
    parts = couple(made, frozenset(supply.net for supply in ports.supplies), found)
    parts = tuple(part for part in parts if part.ref not in ports.gone)
    if found.failed:
        raise NetlistError(found.in_order())
    parts = one_type_a_name(parts)
    if keeping.sections:
        parts = tuple(replace(part, section=keeping.section_at(part.place.line)) for part in parts)
    band, said = "", keeping.said
    if not any(names for _, names, _ in listing.kept):  # where parts were kept, so was all that is said of the rest
        if said is None or not said.outputs:
            find_output(listing, expander.top, expander.names, parts, ports)
        if said is None or not said.bands:
            band = find_band(listing, expander.top, made, ports)
    circuit = _as_kept(_assembled(listing.title, parts, ports, temperature, file), keeping)
    circuit, renamed = free_of_references(circuit)
    expander.names.changed += renamed
    if circuit.band is None and any(part.kind in GROUPS["transducer"] for part in parts):
        circuit = replace(circuit, bands={None: SPEECH_BAND, **circuit.bands}, band_assumed=True)
    circuit = replace(
        circuit,
        by_order=frozenset(
            part.ref for part in parts if part.kind in GROUPS["fet"] and part.ref.casefold() not in made.named
        ),
    )
    circuit = replace(
        circuit, lines={number: raw for line in listing.lines for _, number, raw in line.pieces if line.file == file}
    )
    return replace(circuit, warnings=_warnings(circuit, found, expander, band))


def _assembled(title: str, parts: tuple[Part, ...], ports: Ports, temperature: float, file: str) -> Circuit:
    places: dict[str, Place] = {}
    for part in parts:
        for terminal in part.terminals:
            places.setdefault(terminal.net, terminal.place)
    for supply in ports.supplies:
        places.setdefault(supply.net, supply.place)
    order = tuple(places)
    aliases = {name.casefold(): name for name in order}
    aliases |= dict.fromkeys(("gnd", "ground", "earth", "0"), GROUND) if GROUND in places else {}
    return Circuit(
        title=title,
        parts=parts,
        nets=order,
        supplies=tuple(supply for supply in ports.supplies),
        inputs=tuple(ports.inputs),
        outputs=tuple(ports.outputs),
        bands={} if ports.band is None else {None: ports.band},
        band_assumed=ports.band is not None,
        temperature=temperature,
        aliases=aliases,
        net_places=places,
        file=file,
    )


def _as_kept(circuit: Circuit, keeping: Keeping) -> Circuit:
    """The circuit with what kept statements say of ports, bands and sections."""
    said = keeping.said
    if said is None:
        return circuit
    nets = set(circuit.nets)
    inputs = tuple(port for port in said.inputs if {port.net, port.reference} <= nets | {GROUND})
    outputs = tuple(port for port in said.outputs if {port.net, port.reference} <= nets | {GROUND})
    return replace(
        circuit,
        inputs=inputs or circuit.inputs,
        outputs=outputs or circuit.outputs,
        bands=said.bands or circuit.bands,
        band_assumed=said.band_assumed if said.bands else circuit.band_assumed,
        sections=tuple(dict.fromkeys(name for _, name in keeping.sections)),
        notes=said.notes,
    )


def _warnings(circuit: Circuit, found: Findings, expander: Expander, band: str) -> tuple[Problem, ...]:
    """All that is to be said of a list that was read."""
    from topo.netlist.checks import check

    said = list(found.in_order())
    whole = Place(circuit.file)
    if band and circuit.band is not None:
        taken = show_range(*circuit.band, "Hz")
        message = f"the signal band is taken as {taken}, {band}, since such a list has no word for it."
        said.append(Problem(whole, message, severity="note", code="band-taken"))
    for port in circuit.outputs:
        said.append(Problem(port.place, f"the output is taken at {port.net}.", severity="note", code="output-taken"))
    if expander.names.changed:
        changed = ", ".join(f"{before} as {after}" for before, after in expander.names.changed[:10])
        more = len(expander.names.changed) - 10
        changed += f" and {more} more" if more > 0 else ""
        said.append(Problem(whole, f"nets shown by another name: {changed}.", severity="note", code="net-renamed"))
    return (*said, *(_for_a_list(problem) for problem in check(circuit)))


def _for_a_list(problem: Problem) -> Problem:
    """A problem with a mend that can be typed into an element list."""
    if problem.code != "band-asked":
        return problem
    return replace(problem, mend="Add a comment line such as  *topo signal 300Hz to 3.4kHz")
