"""Rails, input, output and band of an element list: from its ideal sources, its load, and what it asks to see."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from topo.errors import Place
from topo.netlist.circuit import Part, Port, Supply
from topo.netlist.elements.bodies import Listing
from topo.netlist.elements.expanding import GROUND, Names
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.parts import Made
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.scopes import Scope
from topo.netlist.statements import SPEECH_BAND
from topo.quantities import show, with_unit

# Names of loads and of output nets (common practice).
_LOAD = re.compile(r"(?:.*\.)?r_?(?:l|load|ld|spk|spkr|speaker|ls|ant|antenna|out)\d*", re.IGNORECASE)
_OUTPUT = re.compile(r"v?(?:out|output|o)\d?|spk\w*|speaker|load", re.IGNORECASE)
_AUDIO = (20.0, 20e3)
_RADIO = 100e3
# Sorts of signals, the surest first.
_SIGNALS = ("ac", "sine", "wave")


@dataclass
class Ports:
    """What stands for the statements of the netlist language; `gone` are sources that became supplies.

    `signal` is the sort of signal that the inputs have.
    """

    supplies: list[Supply] = field(default_factory=list)
    inputs: list[Port] = field(default_factory=list)
    outputs: list[Port] = field(default_factory=list)
    band: tuple[float, float] | None = None
    signal: str = ""
    gone: set[str] = field(default_factory=set)


def find_supplies(made: Made, ports: Ports, found: Findings) -> None:
    """Ideal sources between a net and ground are supplies, where they bring no signal; those that do are the input.

    Where some are there for a sweep, and some give other waves at a time, the former are the input; sine waves come
    before others.
    """
    volts_of: dict[str, tuple[float, str]] = {}
    there = {drive.signal for _, drive, _ in made.drives}
    ports.signal = next((sort for sort in _SIGNALS if sort in there), "")
    for part, drive, element in made.drives:
        plus, minus = (terminal.net for terminal in part.terminals)
        line, head = element.row.line, element.row.head
        if plus == minus:
            continue
        unit = "A" if part.kind == "current" else "V"
        if drive.mains:
            message = f"{part.ref} is taken for a mains supply of {show(drive.level, 'V')}, not for a signal."
            found.note("mains", line, head, message)
            continue
        if drive.signal and drive.signal == ports.signal:
            net, reference = (minus, plus) if plus == GROUND else (plus, minus)
            ports.inputs.append(Port(net, reference, part.place))
            continue
        if drive.signal:
            message = f"{part.ref} is not taken for an input, since others are: it stands at {show(drive.level, unit)}."
            found.note("other-signal", line, head, message)
        if drive.ramp:
            what = "a fixed current" if part.kind == "current" else "a supply of that voltage"
            found.note("ramp", line, head, f"{part.ref} rises to {show(drive.level, unit)}: taken as {what}.")
        if part.kind == "current" or GROUND not in (plus, minus) or drive.level == 0:
            continue
        net, volts = (plus, drive.level) if minus == GROUND else (minus, -drive.level)
        before = volts_of.get(net)
        if before is not None:
            if before[0] != volts:
                held, other = with_unit(volts, "V"), with_unit(before[0], "V")
                message = f"{part.ref} holds {net} at {held}, and {before[1]} at {other}."
                found.error("supply-twice", line, head, message, "one voltage for a net")
            ports.gone.add(part.ref)
            continue
        volts_of[net] = volts, part.ref
        ports.gone.add(part.ref)
        ports.supplies.append(Supply(net, volts, drive.resistance, _place(part)))
        found.note("supply", line, head, f"{part.ref} is the supply {net}, {show(volts, 'V')}.")


def _place(part: Part) -> Place:
    return part.terminals[0].place


def find_output(listing: Listing, scope: Scope, names: Names, parts: tuple[Part, ...], ports: Ports) -> None:
    """The output: the end of the load, else the net that the list asks to see, else one called so."""
    held = [{terminal.net for terminal in part.terminals} for part in parts if part.kind == "source"]
    barred = {
        GROUND,
        *(net for nets in held if GROUND in nets for net in nets),
        *(supply.net for supply in ports.supplies),
        *(port.net for port in ports.inputs),
    }
    for part in parts:
        if part.kind == "resistor" and _LOAD.fullmatch(part.ref):
            live = [terminal for terminal in part.terminals if terminal.net not in barred]
            if live:
                other = next((t.net for t in part.terminals if t is not live[0]), GROUND)
                ports.outputs.append(Port(live[0].net, GROUND if other in barred else other, live[0].place))
                return
    there = {terminal.net for part in parts for terminal in part.terminals}
    seen: list[tuple[int, int, str, str, Place]] = []
    for order, (rank, word, against, line) in enumerate(listing.probes):
        net, reference = names.net(word, scope), GROUND if against is None else names.net(against, scope)
        if net in there and net not in barred:
            named = 0 if _OUTPUT.fullmatch(net) else 1
            reference = reference if reference in there - barred - {net} else GROUND
            seen.append((named * 10 + rank, order, net, reference, line.place(word.start, len(word.text))))
    if seen:
        _, _, net, reference, place = min(seen)
        ports.outputs.append(Port(net, reference, place))
        return
    for part in parts:
        for terminal in part.terminals:
            if terminal.net not in barred and _OUTPUT.fullmatch(terminal.net):
                ports.outputs.append(Port(terminal.net, GROUND, terminal.place))
                return


def _is_band(hertz: float | None) -> bool:
    """Whether a frequency is one that a signal may have."""
    return hertz is not None and 1e-3 <= hertz <= 1e12


def find_band(listing: Listing, scope: Scope, made: Made, ports: Ports) -> str:
    """Set the band, which no such list says: by the frequency of its signal, else by its sweep. Gives words for it."""
    hertz = next(
        (
            drive.hertz
            for _, drive, _ in made.drives
            if drive.signal and drive.signal == ports.signal and _is_band(drive.hertz)
        ),
        None,
    )
    if hertz is not None:
        if _AUDIO[0] <= hertz <= _AUDIO[1]:
            low, high = SPEECH_BAND
            ports.band = (min(low, hertz / 2), max(high, hertz * 2))
        else:
            ports.band = (hertz / 1.2, hertz * 1.2)
        return f"by the signal of {show(hertz, 'Hz')}"
    if listing.sweep is None:
        return ""
    try:
        low, high = (scope.value(word) for word in listing.sweep)
    except FormulaError:
        return ""
    if not (low < high and _is_band(low) and _is_band(high)):
        return ""
    if low >= _RADIO:
        ports.band = (low, high)
    elif low <= 1e3 <= high:
        ports.band = SPEECH_BAND
    else:
        return ""
    return f"by the sweep from {show(low, 'Hz')} to {show(high, 'Hz')}"
