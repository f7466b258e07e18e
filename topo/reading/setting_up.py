"""How quiescent currents are set: each trimmer's minimum, order, reach and settings, by moving wipers and solving."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from topo.analysis import OperatingPoint, operating_point
from topo.analysis.spread import SAMPLES, UNKNOWN, Range, spread
from topo.errors import UsageError
from topo.netlist.circuit import Circuit, Part, Terminal
from topo.reading.flow import electrode
from topo.reading.reading import Reading
from topo.reading.summary import joined
from topo.reading.trimmers import output_nets, sets_output

POSITIONS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
"""Shares of a wiper's travel from minimum between which settings are looked for."""

TABLE_SAMPLES = 200
"""Specimens from which the range of a row of the table is taken."""

HALVINGS = 10
"""Of such a step: to a ten-thousandth of the travel."""

OF_TARGET = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0)
"""Rises of the total to list, as shares of the reader's own figure ..."""

ROUND = tuple(figure * 10.0**power for power in range(-4, 2) for figure in (1.0, 2.0, 5.0))
MOST_ROWS = 6
LEAST_RISE = 0.1
SHARE_OF_TYPED = 0.05
LEAST_TABLED = 1e-4
"""... or, without one, so many round figures from this share of the total at minimum on, from this share of what flows
with the wiper as typed, and from so many amperes."""

FULL_SHARE = 0.8
"""An open wiper that brings this share of the greatest current means full bias."""

SEEN = 0.1
"""A supply whose lead sees less than this share of what the trimmers bring is not the one to measure in."""

MOST_BESIDE = 2
"""An end at so many other parts is told by them; at more, by its net."""

SHARED = 0.05
"""A resistor carries a device's current where theirs differ by less than this."""


@dataclass(frozen=True)
class State:
    """The circuit with wipers in given places: total amperes in the metered supply lead; of each device amperes, watts
    and the volts of its control electrode above its emitter, cathode or source; NaN where not known."""

    total: float
    currents: Mapping[str, float]
    watts: Mapping[str, float]
    controls: Mapping[str, float]


@dataclass(frozen=True)
class MeterPlace:
    """A resistor that carries the current of `device` alone, so that its drop tells it."""

    device: str
    resistor: str
    ohms: float


@dataclass(frozen=True)
class Trimmer:
    """A bias trimmer and what it sets.

    `minimum` is the wiper's place from the first end at minimum, None where moving it tells nothing; `towards` and
    `end` say that end in words. `sweep` are states over POSITIONS from minimum, later trimmers at minimum and earlier
    ones as set; `table` has a few rises of the total, each with its travel, and `ranges` the total with a range at
    minimum and at each travel. `typed` is its travel from minimum as
    typed (None: not typed). `target` amperes are the reader's own, `setting` the travel at which the total has risen
    by them (None: out of reach), `reached` the state there, `opened` that with the wiper out of contact.
    """

    ref: str
    devices: tuple[str, ...]
    minimum: float | None
    towards: str
    end: str
    typed: float | None
    sweep: tuple[State, ...]
    table: tuple[tuple[float, State], ...]
    opened: State | None
    meters: tuple[MeterPlace, ...]
    target: float | None = None
    setting: float | None = None
    reached: State | None = None
    ranges: tuple[Range, ...] = ()

    @property
    def may_open_to_full(self) -> bool:
        """Whether a wiper out of contact means nearly the greatest current, or more."""
        most = max((_sum(state, self.devices) for state in self.sweep), default=math.nan)
        return self.opened is not None and _sum(self.opened, self.devices) >= FULL_SHARE * most


@dataclass(frozen=True)
class SettingUp:
    """The trimmers in the order in which they are set, and the total with all of them at minimum (an estimate).

    `typed` is the circuit with every wiper as typed. `offsets` are trimmers that set the direct voltage of the
    `output_nets`, and no current.
    """

    reading: Reading
    supply: str
    least: Range
    trimmers: tuple[Trimmer, ...]
    typed: State
    offsets: tuple[str, ...] = ()
    output_nets: tuple[str, ...] = ()


def setting_up(reading: Reading, targets: Mapping[str, float] | None = None) -> SettingUp:
    """The setting-up procedure in numbers.

    Args:
        reading: of the circuit, whose `bias_trimmers` are taken.
        targets: amperes by a device, or several joined by a comma, or a trimmer: the rise of the total that is wanted.
    Raises:
        UsageError: a name that no trimmer acts on, or two figures for one trimmer; it says what is allowed.
    """
    order = _in_signal_order(reading)
    wanted = _targets(reading, order, targets or {})
    circuit = reading.circuit
    supply = _metered(circuit, {ref: reading.bias_trimmers[ref] for ref in order})
    least = {ref: _minimum(circuit, ref, reading.bias_trimmers[ref], supply) for ref in order}
    places = {ref: 0.0 if place is None else place for ref, place in least.items()}
    bottom = dict(places)
    found = []
    for ref in order:
        trimmer = _trimmer(reading, ref, least[ref], places, supply, wanted.get(ref))
        if trimmer.setting is not None:
            places[ref] = _place(least[ref] or 0.0, trimmer.setting)
        found.append(trimmer)
    typed = _state(circuit, supply)
    potentiometers = [part.ref for part in circuit.parts if part.kind == "potentiometer" and part.ref not in order]
    offsets = tuple(ref for ref in potentiometers if sets_output(circuit, ref))
    least_total = _total(circuit, bottom, supply)
    return SettingUp(reading, supply, least_total, tuple(found), typed, offsets, output_nets(circuit))


def _in_signal_order(reading: Reading) -> list[str]:
    """Trimmers by the first of their devices on the signal path; those beside it in the order of the file, last."""
    steps = {ref: place for place, step in reversed(list(enumerate(reading.path))) for ref in step.refs}
    end = len(reading.path)
    return sorted(
        reading.bias_trimmers, key=lambda ref: min((steps.get(d, end) for d in reading.bias_trimmers[ref]), default=end)
    )


def _targets(reading: Reading, order: list[str], targets: Mapping[str, float]) -> dict[str, float]:
    wanted: dict[str, float] = {}
    by_name = {name.casefold(): ref for ref in order for name in (ref, *reading.bias_trimmers[ref])}
    known = {part.ref.casefold() for part in reading.circuit.parts}
    for names, amperes in targets.items():
        acting = []
        for name in (item.strip() for item in names.replace("+", ",").split(",")):
            ref = by_name.get(name.casefold())
            if ref is None:
                raise UsageError(_refused(name, name.casefold() in known, reading, order))
            acting.append(ref)
        if len(set(acting)) > 1:
            raise UsageError(f"{names} are set by different trimmers ({', '.join(acting)}): give each its own figure.")
        if acting[0] in wanted:
            raise UsageError(
                f"{acting[0]} has two figures: it sets {joined(reading.bias_trimmers[acting[0]])} together."
            )
        wanted[acting[0]] = amperes
    return wanted


def _refused(name: str, known: bool, reading: Reading, order: list[str]) -> str:
    what = f"No bias trimmer acts on {name}." if known else f"There is no part {name}."
    if not order:
        return f"{what} The circuit has no recognised bias trimmer, so there is nothing to set."
    allowed = "; ".join(f"{ref}: {', '.join(reading.bias_trimmers[ref])}" for ref in order)
    return f"{what} A current may be set for {allowed}."


def moved(circuit: Circuit, places: Mapping[str, float]) -> Circuit:
    """The circuit with wipers in given places from their first ends."""
    parts = tuple(
        replace(part, settings={**part.settings, "at": places[part.ref]}) if part.ref in places else part
        for part in circuit.parts
    )
    return replace(circuit, parts=parts)


def _opened(circuit: Circuit, ref: str) -> Circuit:
    """The circuit with a trimmer's wiper out of contact."""
    part = circuit.part(ref)
    loose = f"{ref} wiper, open"
    terminals = tuple(
        Terminal(item.name, loose, item.place) if place == 1 else item for place, item in enumerate(part.terminals)
    )
    made = replace(part, terminals=terminals)
    parts = tuple(made if item.ref == ref else item for item in circuit.parts)
    return replace(circuit, parts=parts, nets=(*circuit.nets, loose))


def _state(circuit: Circuit, supply: str) -> State:
    return _state_of(operating_point(circuit), supply)


def _state_of(point: OperatingPoint, supply: str) -> State:
    currents: dict[str, float] = {}
    watts: dict[str, float] = {}
    controls: dict[str, float] = {}
    for element in point.graph.elements:
        collecting, emitting = electrode(element, "col"), electrode(element, "emt")
        if collecting is None or emitting is None:
            continue
        amperes = abs(point.currents[element.index][element.terminals.index(collecting)])
        across = abs(point.volts[element.node(collecting)] - point.volts[element.node(emitting)])
        currents.update(dict.fromkeys(element.members, amperes / len(element.members)))
        watts.update(dict.fromkeys(element.members, amperes * across / len(element.members)))
        control = electrode(element, "ctl")
        if control is not None:
            volts = point.volts[element.node(control)] - point.volts[element.node(emitting)]
            controls.update(dict.fromkeys(element.members, volts))
    return State(abs(point.supply_currents.get(supply, math.nan)), currents, watts, controls)


def _sum(state: State, devices: tuple[str, ...]) -> float:
    return sum(state.currents.get(ref, math.nan) for ref in devices)


def _metered(circuit: Circuit, trimmers: Mapping[str, tuple[str, ...]]) -> str:
    """The supply in whose lead the trimmers' effect is greatest, else one whose current is not known."""
    low, high = (operating_point(moved(circuit, dict.fromkeys(trimmers, at))) for at in (0.0, 1.0))
    before, after = low.supply_currents, high.supply_currents
    rise = {name: abs(after[name] - before[name]) for name in before if name in after}
    best = max(rise, key=lambda name: rise[name] if math.isfinite(rise[name]) else -1.0, default="")
    unknown = [name for name in rise if math.isnan(rise[name])]
    devices = tuple(ref for refs in trimmers.values() for ref in refs)
    flows = abs(_sum(_state_of(high, best), devices) - _sum(_state_of(low, best), devices))
    return unknown[0] if unknown and not rise[best] > SEEN * flows else best


def _minimum(circuit: Circuit, ref: str, devices: tuple[str, ...], supply: str) -> float | None:
    """The end at which the devices carry least; None where both are alike or not known."""
    first, second = (_sum(_state(moved(circuit, {ref: at}), supply), devices) for at in (0.0, 1.0))
    if not math.isfinite(first) or not math.isfinite(second) or math.isclose(first, second, rel_tol=1e-3):
        return None
    return 0.0 if first < second else 1.0


def _place(minimum: float, travel: float) -> float:
    """A wiper's place from its first end, from its travel from minimum."""
    return travel if minimum == 0.0 else 1.0 - travel


def _trimmer(
    reading: Reading, ref: str, minimum: float | None, places: Mapping[str, float], supply: str, target: float | None
) -> Trimmer:
    circuit, devices = reading.circuit, reading.bias_trimmers[ref]
    part = circuit.part(ref)
    at = part.settings.get("at")
    least = 0.0 if minimum is None else minimum

    def state(travel: float) -> State:
        return _state(moved(circuit, {**places, ref: _place(least, travel)}), supply)

    sweep = tuple(state(travel) for travel in POSITIONS)
    towards, end = ("", "") if minimum is None else _end(reading, part, minimum)
    setting = None if target is None or minimum is None else _setting(state, sweep, target, devices)
    table = () if minimum is None else _table(state, sweep, target, devices, _state(circuit, supply))
    ranges = tuple(
        _total(circuit, {**places, ref: _place(least, travel)}, supply, TABLE_SAMPLES)
        for travel in (0.0, *(row[0] for row in table))
    )
    return Trimmer(
        ref,
        devices,
        minimum,
        towards,
        end,
        None if not isinstance(at, int | float) else _place(least, float(at)),
        sweep,
        table,
        _state(_opened(moved(circuit, places), ref), supply) if len(part.terminals) == 3 else None,
        _meter_places(moved(circuit, {**places, ref: _place(least, 0.9)}), devices),
        target,
        setting,
        None if setting is None else state(setting),
        ranges,
    )


def _setting(state, sweep: tuple[State, ...], target: float, devices: tuple[str, ...]) -> float | None:
    """The travel at which the total has first risen by the target; None where it never does.

    Where the total is not known, that of the devices alone stands for it.
    """

    def measure(found: State) -> float:
        return found.total if math.isfinite(found.total) else _sum(found, devices)

    wanted = measure(sweep[0]) + target
    for low, high, at, after in zip(POSITIONS, POSITIONS[1:], sweep, sweep[1:], strict=False):
        if measure(at) <= wanted <= measure(after):
            for _ in range(HALVINGS):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if measure(state(middle)) < wanted else (low, middle)
            return 0.5 * (low + high)
    return None


def _table(
    state, sweep: tuple[State, ...], target: float | None, devices: tuple[str, ...], typed: State
) -> tuple[tuple[float, State], ...]:
    """The travel for a few rises of the total, and the state there; `typed` is that with the wiper as typed."""
    if target is not None:
        rises = [share * target for share in OF_TARGET]
    else:
        shares = LEAST_RISE * sweep[0].total, SHARE_OF_TYPED * _sum(typed, devices), LEAST_TABLED
        least = max(share for share in shares if math.isfinite(share))
        rises = [rise for rise in ROUND if rise >= least][:MOST_ROWS]
    places = [_setting(state, sweep, rise, devices) for rise in rises]
    return tuple((place, state(place)) for place in places if place is not None)


def _end(reading: Reading, part: Part, minimum: float) -> tuple[str, str]:
    """What the wiper is moved towards at minimum, and which end of the part that is, in words."""
    nets = [item.net for item in part.terminals]
    own, other = (nets[0], nets[-1]) if minimum == 0.0 else (nets[-1], nets[0])
    end = "first end" if minimum == 0.0 else "second end"
    if len(nets) == 3 and nets[1] in (nets[0], nets[2]):
        return ("greatest resistance" if nets[1] == own else "least resistance"), end
    circuit, point = reading.circuit, reading.views.point
    rails = {supply.net: supply.volts for supply in circuit.supplies} | {circuit.ground: 0.0}
    end = f"{end}, {_beside(circuit, part, own)}"
    if own in rails:
        return own, end
    here, there = point.voltage(own), point.voltage(other)
    if not (math.isfinite(here) and math.isfinite(there)):
        return "", end
    nearest = min(rails, key=lambda net: (abs(rails[net] - here), net))
    away = min(rails, key=lambda net: (abs(rails[net] - there), net))
    lower = min(rails, key=lambda net: (rails[net], net))
    upper = max(rails, key=lambda net: (rails[net], net))
    if nearest == away:
        nearest = lower if here < there else upper
    return nearest, end


def _beside(circuit: Circuit, part: Part, net: str) -> str:
    """What an end of a part is joined to, as it is found on a board: a part or two, else the net's name."""
    others = [item.ref for item in circuit.parts if item is not part and any(t.net == net for t in item.terminals)]
    return f"at {joined(tuple(others))}" if 0 < len(others) <= MOST_BESIDE else f"on net {net}"


def _meter_places(circuit: Circuit, devices: tuple[str, ...]) -> tuple[MeterPlace, ...]:
    """For each device a resistor at its emitter, else at its collector, that carries its current and no other."""
    point = operating_point(circuit)
    graph = point.graph
    found = []
    for ref in devices:
        element = graph.elements[graph.element_of[ref]]
        for name in ("emt", "col"):
            terminal = electrode(element, name)
            if terminal is None:
                continue
            amperes = abs(point.currents[element.index][element.terminals.index(terminal)])
            row = next(
                (
                    graph.elements[index]
                    for index, _ in graph.at_node[element.node(terminal)]
                    if graph.elements[index].kind == "resistor"
                    and amperes > 0
                    and abs(abs(point.currents[index][0]) - amperes) < SHARED * amperes
                ),
                None,
            )
            if row is not None and row.value:
                found.append(MeterPlace(ref, row.name, row.value))
                break
    return tuple(found)


def _total(circuit: Circuit, places: Mapping[str, float], supply: str, count: int = SAMPLES) -> Range:
    """The total with wipers in given places, with its range."""
    found = spread(moved(circuit, places), count=count)
    if supply not in found.point.supply_currents:
        return UNKNOWN
    total = found.supply(supply)
    return Range(-total.high, -total.typical, -total.low) if total.typical < 0 else total
