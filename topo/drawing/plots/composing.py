"""The plots of a reading."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from topo.analysis.large_signal import Waveforms
from topo.drawing.lettering import lines
from topo.drawing.plots.cycles import Cycles, cycles
from topo.drawing.plots.panels import POINTS, TYPE, Array, Box, Curve, axes, curves, key
from topo.drawing.plots.scales import Scale, scale
from topo.drawing.sheet import Sheet
from topo.errors import CircuitError
from topo.quantities import show, show_percent
from topo.reading.reading import Reading

WIDTH = 170.0
"""Millimetres: a full page's width."""
_NARROW = 120.0
"""Below so many millimetres the two columns stand beneath each other."""
_DASHES = ("", "5 2.5", "1.5 2")
_LEFT, _RIGHT, _TOP = 30.0, 6.0, 6.0


@dataclass(frozen=True)
class Plot:
    """A plot: SVG, title, alternative text, the notes set beneath it, and the numbers that it rests on."""

    svg: str
    title: str
    description: str
    notes: tuple[str, ...]
    numbers: dict[str, object] = field(default_factory=dict)

    def values(self) -> dict[str, object]:
        """Title, alternative text, notes, numbers and SVG, for JSON."""
        return {
            "title": self.title,
            "description": self.description,
            "notes": list(self.notes),
            **self.numbers,
            "svg": self.svg,
        }


def plot(reading: Reading, kind: str, *, width: float = WIDTH) -> Plot:
    """A plot of a circuit under drive, with its bias and, where it can be taken away, without.

    Args:
        kind: "waveforms": input, currents of the last devices, output over two cycles at half the largest power; or
            "transfer": the output over the input up to where the circuit limits.
        width: millimetres.
    Raises:
        CircuitError: the circuit cannot be driven; the message says why.
    """
    found = cycles(reading, kind)
    if found.biased is None:
        raise CircuitError(
            f"{reading.circuit.title or 'The circuit'} cannot be driven: {found.missing}.",
            mend="Say where the signal enters and leaves, for example: input in and output out",
        )
    notes = _notes(reading, found, kind)
    title = f"{reading.circuit.title or 'Circuit'}: {'waveforms' if kind == 'waveforms' else 'transfer curve'}"
    description = " ".join([_what(found, kind), *notes])
    sheet, height = Sheet(), 0.0
    draw: Callable[[Sheet, Cycles, float], float] = _waveforms if kind == "waveforms" else _transfer
    height = draw(sheet, found, width * POINTS)
    for note in notes:
        for line in lines(note, TYPE, width * POINTS - 2 * _RIGHT, most=8):
            height += 1.25 * TYPE
            sheet.text(_RIGHT, height, line, TYPE, anchor="start")
    svg = sheet.svg(width * POINTS, height + TYPE, title, description, millimetres=True)
    return Plot(svg, title, description, tuple(notes), _numbers(found))


# -- words ------------------------------------------------------------------------------------------------------------


def _what(found: Cycles, kind: str) -> str:
    devices = " and ".join(found.devices)
    if kind == "transfer":
        return "Output voltage over generator voltage, both without their mean and without the shift between them."
    return f"Generator voltage, currents of {devices} and output voltage over two cycles."


def _notes(reading: Reading, found: Cycles, kind: str) -> list[str]:
    cycle = found.biased
    assert cycle is not None
    load = f" into {show(cycle.load_ohms, 'ohm')}" if math.isfinite(cycle.load_ohms) else ""
    crest = show(cycle.amplitude, "V", 2)
    notes = [
        f"{show(cycle.frequency, 'Hz', 2)}, {crest} at the crest of the generator; the output gives "
        f"{show(cycle.output_power, 'W', 2)}{load}, with {show_percent(cycle.thd)} distortion."
    ]
    if found.bare is not None:
        notes.append(f"Without bias ({found.means}): {show_percent(found.bare.thd)} distortion at the same drive.")
        if kind == "transfer" and _coincide(cycle, found.bare):
            notes.append("The two curves lie on each other.")
    elif len(found.devices) > 1:
        notes.append("No bias was found that could be taken away: it is plotted as it is.")
    point = reading.views.point
    assumed = [part.ref for part in reading.circuit.parts if part.ref in point.assumed]
    if assumed:
        from topo.explanation.listing import in_order, named

        notes.append(f"Rests on assumed values of {named(in_order(assumed))}.")
    return notes


def _coincide(one: Waveforms, two: Waveforms) -> bool:
    """Whether two transfer curves cannot be told apart in print."""
    (_, first), (_, second) = _in_step(one), _in_step(two)
    return len(first) == len(second) and float(np.abs(first - second).max()) < 0.01 * float(np.ptp(first))


def _numbers(found: Cycles) -> dict[str, object]:
    def row(cycle: Waveforms) -> dict[str, object]:
        return {
            "frequency_Hz": cycle.frequency,
            "generator_V": cycle.amplitude,
            "output_W": cycle.output_power,
            "distortion": cycle.thd,
            "conduction_deg": {ref: cycle.device(ref).angle for ref in found.devices if _known(cycle, ref)},
        }

    numbers: dict[str, object] = {"devices": list(found.devices)}
    for name, cycle in (("with_bias", found.biased), ("without_bias", found.bare)):
        if cycle is not None:
            numbers[name] = row(cycle)
    return numbers


def _known(cycle: Waveforms, ref: str) -> bool:
    return any(item.ref == ref for item in cycle.devices)


# -- waveforms --------------------------------------------------------------------------------------------------------


def _waveforms(sheet: Sheet, found: Cycles, wide: float) -> float:
    """Draw the waveforms, one column with bias and one without; gives the height used, in points."""
    columns = [("With bias", found.biased), ("Without bias", found.bare)]
    drawn = [(words, cycle) for words, cycle in columns if cycle is not None]
    beside = wide >= _NARROW * POINTS and len(drawn) > 1
    if len(drawn) == 1:
        drawn = [("", drawn[0][1])]
    cells = [[_column(cycle, found) for _, cycle in drawn]]
    scales = _shared(cells[0])
    count = len(drawn) if beside else 1
    room = (wide - _RIGHT - count * _LEFT - (count - 1) * 10) / count
    height = _TOP
    lowest = 0.0
    for number, (words, cycle) in enumerate(drawn):
        x = _LEFT + (number * (room + _LEFT + 10) if beside else 0)
        y = _TOP if beside else height
        y = _draw_column(sheet, words, _column(cycle, found), scales, Box(x, y, room, 0), cycle)
        lowest = max(lowest, y)
        height = y + 2 * TYPE
    return lowest + TYPE


Panel = tuple[str, str, list[Curve]]


def _column(cycle: Waveforms, found: Cycles) -> list[Panel]:
    """The panels of one cycle: words, unit, curves over two periods."""
    period = 1.0 / cycle.frequency
    time = np.concatenate([[0.0], cycle.time, cycle.time + period])

    def twice(wave: Array) -> Array:
        return np.concatenate([wave[-1:], wave, wave])

    wave = cycle.amplitude * np.sin(2 * math.pi * cycle.frequency * cycle.time)
    currents = [
        Curve(time, twice(_outward(cycle, ref)), f"{ref}", _DASHES[number % len(_DASHES)])
        for number, ref in enumerate(found.devices)
        if _known(cycle, ref)
    ]
    panels: list[Panel] = [("Generator", "V", [Curve(time, twice(wave))])]
    if currents:
        panels.append(("Current", "A", currents))
    output = cycle.output - cycle.output.mean()
    panels.append(("Output", "V", [Curve(time, twice(output))]))
    return panels


def _outward(cycle: Waveforms, ref: str) -> Array:
    """The current of a device, upwards where it conducts."""
    current = cycle.current(ref)
    return -current if current.mean() < 0 else current


def _shared(columns: list[list[Panel]]) -> list[Scale]:
    """A scale upwards for each row, which holds both columns."""
    found = []
    for row in zip(*columns, strict=False):
        unit = row[0][1]
        ends = [float(f(curve.y)) for _, _, drawn in row for curve in drawn for f in (np.min, np.max)]
        found.append(scale(ends, unit, most=4, room=0.08))
    return found


def _draw_column(
    sheet: Sheet, words: str, panels: list[Panel], scales: list[Scale], box: Box, cycle: Waveforms
) -> float:
    y = box.y
    if words:
        y += TYPE
        sheet.text(box.x, y, words, TYPE, anchor="start", bold=True)
        y += 4
    across = scale([2.0 / cycle.frequency], "s", most=5, room=0.0)
    heights = {"Generator": 12.0, "Current": 30.0, "Output": 22.0}
    for number, ((name, _, drawn), up) in enumerate(zip(panels, scales, strict=True)):
        y += 1.6 * TYPE
        inside = Box(box.x, y, box.w, heights[name] * POINTS)
        last = number == len(panels) - 1
        below = f"Time in {across.unit}" if last else ""
        axes(sheet, inside, across, up, words=f"{name} in {up.unit}", below=below)
        curves(sheet, inside, across, up, drawn)
        if len(drawn) > 1:
            key(sheet, box.x + box.w, y - 0.45 * TYPE, drawn)
        y += inside.h
    return y + 2 * TYPE + 6


# -- transfer ---------------------------------------------------------------------------------------------------------


def _transfer(sheet: Sheet, found: Cycles, wide: float) -> float:
    """Draw the transfer curves; gives the height used, in points."""
    drawn = []
    for name, cycle, dash in (("with bias", found.biased, ""), ("without", found.bare, _DASHES[1])):
        if cycle is not None:
            x, y = _in_step(cycle)
            drawn.append(Curve(x, y, name, dash, 1.0))
    across = scale([float(f(curve.x)) for curve in drawn for f in (np.min, np.max)], "V", most=6)
    up = scale([float(f(curve.y)) for curve in drawn for f in (np.min, np.max)], "V", most=6)
    side = min(wide - _LEFT - _RIGHT, 90.0 * POINTS)
    box = Box(_LEFT, _TOP + 1.6 * TYPE, side, side * 0.75)
    axes(sheet, box, across, up, words=f"Output in {up.unit}", below=f"Generator in {across.unit}")
    curves(sheet, box, across, up, drawn)
    if len(drawn) > 1:
        key(sheet, box.x + box.w, box.y - 0.45 * TYPE, drawn)
    return box.y + box.h + 3 * TYPE + 6


def _in_step(cycle: Waveforms) -> tuple[Array, Array]:
    """Generator and output without means, the output shifted in time so that both fundamentals are in step."""
    count = len(cycle.time)
    wave = cycle.amplitude * np.sin(2 * math.pi * np.arange(1, count + 1) / count)
    spectrum = np.fft.rfft(cycle.output)
    spectrum[0] = 0.0
    turn = np.angle(spectrum[1]) - np.angle(np.fft.rfft(wave)[1])
    turned_over = abs(math.remainder(turn, 2 * math.pi)) > math.pi / 2
    turn -= math.pi if turned_over else 0.0
    shifted = np.fft.irfft(spectrum * np.exp(-1j * turn * np.arange(len(spectrum))), count)
    return np.append(wave, wave[0]), np.append(shifted, shifted[0])
