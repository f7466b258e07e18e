"""The voltages of a circuit at rest: a page for the bench, and the same as plain values for JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from topo.analysis.parameters import DIODES, VALVES
from topo.analysis.sanity import check_with_point
from topo.analysis.spread import Range, Spread
from topo.graph.graph import Element
from topo.matching.kinds import ELECTRODES
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import kind_word
from topo.quantities import show
from topo.reading.cautions import HAZARDOUS_VOLTS
from topo.report.figures import ASSUMED, figure_and_range, status, with_range
from topo.report.layout import Page, names

SCHEMA = Path(__file__).parent / "schema" / "voltages.json"

METER_OHMS = (100e3, 200e3)
"""A pointer meter of 20 kΩ a volt on its 5 V and 10 V ranges."""

LOADED = 0.05
"""A reading that the meter alters by more than this is told."""

NOTHING_LEFT = 0.95
"""A meter that alters a reading by more than this shows next to nothing."""

LEAST_VOLT = 0.05
"""Below this a reading says too little for the meter's load to matter."""


@dataclass(frozen=True)
class Lead:
    """A lead of a device: its name, net, node, volts to the black lead, amperes into it, and what they rest on.

    `loaded` are the shares by which meters of METER_OHMS alter the reading.
    """

    name: str
    net: str
    volts: Range
    amperes: Range
    volts_status: str
    amperes_status: str
    loaded: tuple[float, ...]


@dataclass(frozen=True)
class Device:
    """A device with its leads, the main one of which `main` names; `parts` are those that count as one with it."""

    ref: str
    kind: str
    leads: tuple[Lead, ...]
    main: str
    state: str


@dataclass(frozen=True)
class Feed:
    """A supply, battery or source: volts (of a supply or battery as drawn) and the amperes that it delivers."""

    name: str
    volts: float | None
    amperes: Range
    status: str


@dataclass(frozen=True)
class Net:
    """A net, its volts to the black lead and what they rest on."""

    name: str
    volts: Range
    status: str


@dataclass(frozen=True)
class Voltages:
    """Everything that `topo voltages` says, before it is rendered."""

    circuit: Circuit
    spread: Spread
    feeds: tuple[Feed, ...]
    devices: tuple[Device, ...]
    nets: tuple[Net, ...]
    black_lead: str
    conditions: tuple[str, ...]
    doubts: tuple[str, ...]
    assumptions: tuple[str, ...]
    missing: tuple[str, ...]
    cautions: tuple[str, ...]


def voltages(circuit: Circuit, spread: Spread, nets: Sequence[str] = ()) -> Voltages:
    """What a meter shows at rest on every device, and on the nets asked for (spelled as in the circuit)."""
    spread = _fed(circuit, spread)
    graph, point = spread.point.graph, spread.point
    devices = tuple(
        _device(spread, element, circuit.by_ref[ref])
        for element in graph.elements
        if element.kind in ELECTRODES or element.kind in DIODES or element.kind in ("opamp", "regulator", "current")
        for ref in element.members[:1]
    )
    return Voltages(
        circuit,
        spread,
        _feeds(circuit, spread),
        devices,
        tuple(_net(spread, net) for net in nets),
        _black_lead(circuit),
        _conditions(circuit),
        _doubts(circuit, spread),
        _assumptions(spread),
        point.missing,
        _cautions(spread),
    )


def _fed(circuit: Circuit, spread: Spread) -> Spread:
    """The same where something feeds the circuit; where nothing does, a result in which nothing is known."""
    fed = any(supply.volts for supply in circuit.supplies) or any(
        part.kind in ("battery", "source", "current") and part.value != 0 for part in circuit.parts
    )
    regulated = any(part.kind == "regulator" for part in circuit.parts)
    point = spread.point
    if fed or regulated or point.status == "not solved":
        return spread
    made = replace(
        point,
        status="partly solved",
        volts=(0.0, *(math.nan for _ in point.volts[1:])),
        currents=tuple(tuple(math.nan for _ in row) for row in point.currents),
        states={},
        missing=(
            f"no supply is typed, so no voltage can be calculated: add a line such as  supply {_rail(circuit)} 12V  "
            "for each net that is fed from outside or by a rectifier, with its voltage as measured or as printed",
            *point.missing,
        ),
        inner_volts={},
    )
    return replace(spread, point=made)


def _rail(circuit: Circuit) -> str:
    """The net that a supply would most likely feed: what rectifiers charge, else that of the most parts."""
    counts: dict[str, int] = {}
    for part in circuit.parts:
        for terminal in part.terminals:
            weight = 100 if part.kind in ("rectifier", "diode") and terminal.name == "k" else 1
            if terminal.net != circuit.ground:
                counts[terminal.net] = counts.get(terminal.net, 0) + weight
    return max(counts, key=lambda net: counts[net], default="vcc")


_DOUBTFUL = frozenset(("no-dc-path", "no-device-path", "no-device-supply", "island"))


def _doubts(circuit: Circuit, spread: Spread) -> tuple[str, ...]:
    """What a reader should look at before trusting the figures: loose control leads, odd states, parts turned round."""
    lines = {part.place.line for part in circuit.parts if part.kind in ELECTRODES or part.kind in DIODES}
    loose = {item for item in circuit.warnings if item.code == "single-connection" and item.place.line in lines}
    found = [item for item in circuit.warnings if item.code in _DOUBTFUL or item in loose]
    if spread.count:
        found += check_with_point(circuit, spread.point)
    told = (f"{item.message} {item.mend}".strip() for item in found if item.code != "not-computed")
    return tuple(dict.fromkeys(f"{words[:1].upper()}{words[1:]}" for words in told))


def _assumptions(spread: Spread) -> tuple[str, ...]:
    """What was assumed, parts of which the same is assumed in one line."""
    alike: dict[str, list[str]] = {}
    for ref, words in spread.point.assumed.items():
        alike.setdefault(words, []).append(ref)
    return tuple(f"{names(refs)}: {words}" for words, refs in alike.items())


def _device(spread: Spread, element: Element, part: Part) -> Device:
    names_of = ELECTRODES.get(element.kind)
    order: list[str]
    main = names_of[2] if names_of else {"opamp": "out", "regulator": "out", "current": "+"}.get(element.kind, "a")
    if element.kind in ("pentode", "tetrode"):
        order = [name for name in ("a", "g1", "g2", "g3", "k") if name in element.terminals]
    elif names_of:
        control, emitting, collecting = names_of
        order = [collecting, control, emitting] if element.kind in VALVES else [control, collecting, emitting]
    else:
        order = list(element.terminals)
    leads = tuple(_lead(spread, element, part, name) for name in order if name in element.terminals)
    return Device("|".join(element.members), _kind(part), leads, main, spread.point.states.get(element.index, ""))


def _kind(part: Part) -> str:
    kind = kind_word(part.kind) if part.kind == "current" else part.kind
    return f"{kind} {part.type_name}" if part.type_name else kind


def _lead(spread: Spread, element: Element, part: Part, name: str) -> Lead:
    node = element.node(name)
    volts = spread.voltage(node)
    amperes = spread.current(element.index, name)
    return Lead(
        name,
        part.net(name),
        volts,
        amperes,
        status(volts.known, spread.voltage_rests(node)),
        status(amperes.known, spread.current_rests(element.index, name)),
        _loading(float(spread.ohms[node]), volts),
    )


def _loading(ohms: float, volts: Range) -> tuple[float, ...]:
    """The shares by which pointer meters alter a reading; none where it is too small or not known."""
    if not volts.known or abs(volts.typical) < LEAST_VOLT or not math.isfinite(ohms) or ohms <= 0:
        return tuple(0.0 for _ in METER_OHMS)
    return tuple(ohms / (ohms + meter) for meter in METER_OHMS)


def _feeds(circuit: Circuit, spread: Spread) -> tuple[Feed, ...]:
    volts: dict[str, float | None] = {supply.net: supply.volts for supply in circuit.supplies}
    volts |= {part.ref: part.value for part in circuit.parts if part.kind in ("battery", "source")}
    return tuple(
        Feed(name, volts.get(name), found, status(found.known, spread.supply_rests(name)))
        for name in spread.point.supply_currents
        for found in (spread.supply(name),)
    )


def _net(spread: Spread, net: str) -> Net:
    node = spread.point.graph.node_of.get(net)
    if node is None:
        found = spread.inner_voltage(net)
        return Net(net, found, status(found.known, spread.inner_voltage_rests(net)))
    found = spread.voltage(node)
    return Net(net, found, status(found.known, spread.voltage_rests(node)))


def _black_lead(circuit: Circuit) -> str:
    """Where the black lead goes, in words."""
    volts = [supply.volts for supply in circuit.supplies]
    if volts and all(value < 0 for value in volts):
        return (
            f"Black lead on {circuit.ground}, which is the positive pole here (positive earth): readings are "
            f"negative. On a pointer meter put the red lead on {circuit.ground} and drop the sign."
        )
    return f"Black lead on {circuit.ground}."


def _conditions(circuit: Circuit) -> tuple[str, ...]:
    """Signal off, and every control and switch as typed."""
    found = ["signal off"]
    for part in circuit.parts:
        at, state, way = (part.settings.get(name) for name in ("at", "state", "way"))
        if part.kind == "potentiometer" and len(part.terminals) == 3:
            place = float(at) if isinstance(at, int | float) else 0.5
            found.append(f"{part.ref} at {show(100 * place, '%')}{'' if at is not None else ' (assumed)'}")
        elif isinstance(state, str):
            found.append(f"{part.ref} {state}")
        elif way is not None:
            found.append(f"{part.ref} at {way}")
    return tuple(found)


def _cautions(spread: Spread) -> tuple[str, ...]:
    """What the figures themselves call for."""
    highest = max((abs(volts) for volts in spread.point.volts if math.isfinite(volts)), default=0.0)
    if highest <= HAZARDOUS_VOLTS:
        return ()
    return (
        f"High voltage: {show(highest, 'V')} in this circuit, and it may stay after switching off (60 V is the "
        "customary limit; local rules apply). Discharge the reservoir capacitors through a resistor, then measure.",
        "Mains and high-voltage work belongs to people qualified for it or under their supervision; local rules "
        "and the manufacturer's safety notes outrank this text.",
    )


def text(found: Voltages, page: Page | None = None) -> str:
    """The page in lines of at most its width, ending in a line feed."""
    page = page or Page()
    circuit = found.circuit
    lines = page.head(circuit.title or circuit.file, f"{len(circuit.parts)} parts, {len(circuit.nets)} nets")
    lines += ["", *_feed_lines(found, page), ""]
    lines += page.paragraph(found.black_lead)
    lines += page.paragraph(f"Conditions: {', '.join(found.conditions)}.", hanging="  ")
    for caution in found.cautions:
        lines += page.paragraph(f"With care: {caution}", hanging="  ")
    if found.devices:
        lines += ["", *_device_lines(found.devices, page)]
    if found.nets:
        rows: list[tuple[str, ...]] = [("Net", "Volts", "Range", "")]
        rows += [(net.name, *figure_and_range(net.volts, "V", 3), net.status) for net in found.nets]
        lines += ["", *_columns(rows, page)]
    lines += ["", *_notes(found, page)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _feed_lines(found: Voltages, page: Page) -> list[str]:
    """The supplies' currents, the total first."""
    if not found.feeds:
        return ["Supply current at rest: not known, since no supply is typed."]
    if len(found.feeds) == 1:
        feed = found.feeds[0]
        if not feed.amperes.known:
            return page.paragraph(f"Total supply current at rest, from {_named(feed)}: not known; why is said below.")
        drawn = _outward(feed.amperes) if feed.volts is not None and feed.volts < 0 else feed.amperes
        return page.paragraph(
            f"Total supply current at rest: {with_range(drawn, 'A', 2)} from {_named(feed)}, {_said(feed.status)}."
        )
    rows = [(f"  {_named(feed)}", with_range(feed.amperes, "A", 2), feed.status) for feed in found.feeds]
    return ["Supply current at rest, each measured in its own lead (minus: current flows into it):", *page.table(rows)]


def _said(word: str) -> str:
    return "which rests on an assumed value" if word == ASSUMED else word


def _named(feed: Feed) -> str:
    return feed.name if feed.volts is None else f"{feed.name} ({show(feed.volts, 'V')})"


def _device_lines(devices: tuple[Device, ...], page: Page) -> list[str]:
    """One line a lead; the main current stands in the line of the lead that carries it."""
    rows: list[tuple[str, ...]] = [("Device", "Type", "Lead", "Volts", "Range", "", "Current", "Range", "")]
    for device in devices:
        for place, lead in enumerate(device.leads):
            volts = figure_and_range(lead.volts, "V", 3)
            mark = _mark(lead.volts_status)
            current: tuple[str, ...] = ("", "", "")
            if lead.name == device.main:
                current = (*figure_and_range(_outward(lead.amperes), "A", 2), _mark(lead.amperes_status))
            head = (device.ref, device.kind) if place == 0 else ("", device.state if place == 1 else "")
            rows.append((*head, lead.name, *volts, mark, *current))
    return _columns(rows, page)


def _outward(found: Range) -> Range:
    """A current without its sign, which the type of the device tells."""
    if found.known and found.typical < 0:
        return Range(-found.high, -found.typical, -found.low)
    return found


def _mark(word: str) -> str:
    return {"calculated": "c", "assumed": "a", "not known": "?"}[word]


def _columns(rows: list[tuple[str, ...]], page: Page) -> list[str]:
    """Rows in aligned columns, the heading strong; longest words of the second column give way to the page."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    over = sum(widths) + 2 * (len(widths) - 1) - page.width
    if over > 0 and widths[1] > 6 + over:
        widths[1] -= over
    made = []
    for place, row in enumerate(rows):
        cells = [cell[:wide].ljust(wide) for cell, wide in zip(row, widths, strict=True)]
        line = "  ".join(cells).rstrip()
        made.append(page.strong(line) if place == 0 else line)
    return made


def _notes(found: Voltages, page: Page) -> list[str]:
    spread = found.spread
    lines = page.paragraph("c: calculated from the given values.  a: rests on an assumed value, below.  ?: not known.")
    if spread.count and any(math.isfinite(volts) for volts in spread.point.volts[1:]):
        failed = f"; {spread.failed} of them did not converge and are left out" if spread.failed else ""
        ends = "every" if spread.percent == (0.0, 100.0) else "nine in ten"
        lines += page.paragraph(
            f"Ranges hold {ends} of {spread.count} samples with {spread.tolerances.words()}{failed}.", hanging="  "
        )
    lines += _meter(found, page)
    if found.missing:
        lines.append("Not known, and why:")
        for words in found.missing:
            lines += page.paragraph(words[:1].upper() + words[1:] + ("" if words.endswith("?") else "."), "  ", "    ")
    if found.doubts:
        lines.append("Look at this first:")
        for words in found.doubts:
            lines += page.paragraph(words, "  ", "    ")
    if found.assumptions:
        lines.append("Assumed:")
        for words in found.assumptions:
            lines += page.paragraph(f"{words}.", "  ", "    ")
    return lines


def _meter(found: Voltages, page: Page) -> list[str]:
    """Where a pointer meter would alter the reading."""
    said: dict[str, str] = {}
    for device in found.devices:
        for lead in device.leads:
            if max(lead.loaded, default=0.0) > LOADED:
                least, most = min(lead.loaded), max(lead.loaded)
                how = "shows next to nothing" if least > NOTHING_LEFT else f"{_percent(most)} to {_percent(least)} low"
                said.setdefault(lead.net, f"{device.ref} {lead.name} ({how})")
    if not said:
        return []
    return page.paragraph(
        f"A pointer meter of {show(METER_OHMS[0], 'ohm')} to {show(METER_OHMS[1], 'ohm')} reads low at "
        f"{names(said.values())}; a digital one of 10 MΩ does not load these points so.",
        hanging="  ",
    )


def _percent(share: float) -> str:
    return show(100 * share, "%", 2)
