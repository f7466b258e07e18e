"""What is said of a circuit under drive: power, conduction, distortion, heat, and distortion over the bias."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from topo.analysis.large_signal import Waveforms
from topo.explanation.listing import listed, named, sentence
from topo.explanation.statements import SignalTable, SignalText, Statement
from topo.quantities import show, show_percent
from topo.reading.driven import HALF, TENTH, BiasTable, Driven, DrivenStage
from topo.reading.reading import Reading

TITLE = "Under drive, by calculation"

LEAST_DISTORTION = 1e-4
"""Less than this of an ideal circuit is not worth a figure: what the parts have beside their laws is more."""

TELLING_CROSSOVER = 0.1
"""A share by which the slope at the crossings falls short that is told, of stages of which devices take turns."""

CROSSOVER = "the share by which the slope at the crossings falls short"

WHOLE = 359.0
"""Degrees that count as the whole cycle."""

OTHER_FREQUENCY = 1.0
"""Distortion over this: the output is another frequency than the drive."""

HOTTEST = 3
"""Devices whose heat is told."""

NO_AMPERE, LEAST_WATTS = 1e-6, 1e-3

LEAST_HEAT = 0.1
"""Of the hottest device's watts: others with less are not told."""

_ORDINALS = {2: "second", 3: "third", 4: "fourth", 5: "fifth"}


def signal_text(driven: Driven, reading: Reading) -> SignalText:
    """The section on large signals; where nothing could be calculated, it says why."""
    full = driven.cycles.get(1.0)
    if full is None:
        return SignalText(TITLE, (Statement(_not_known(driven, reading)),))
    statements = [Statement(_drive(driven, full, reading), has_numbers=True)]
    if full.thd > OTHER_FREQUENCY:
        words = (
            "The output holds more of other frequencies than of the drive's: this is no amplifier of that frequency, "
            "and no power or distortion is told."
        )
        return SignalText(TITLE, (*statements, Statement(words)))
    statements += [Statement(text, has_numbers=True) for text in (_power(driven, full, reading), _distortion(driven))]
    statements += [Statement(_conduction(stage), stage.devices, has_numbers=True) for stage in driven.stages]
    statements += _heat(driven, full)
    statements.append(
        Statement(
            "Calculated for the parts as typed, without heating, saturation of cores or capacitances of devices: real "
            "distortion is more."
        )
    )
    return SignalText(TITLE, tuple(statements), tuple(_table(table) for table in driven.tables))


def _not_known(driven: Driven, reading: Reading) -> str:
    why = listed(text.rstrip(".") for text in driven.missing) or "nothing of the drive reaches the output"
    if driven.status == "no ports":
        return "Not calculated: the file needs an input and an output (statements `input NET` and `output NET`)."
    return sentence(f"Not calculated: {why}")


def _drive(driven: Driven, full: Waveforms, reading: Reading) -> str:
    """With what it is driven."""
    entry = reading.inputs[0].net if reading.inputs else "the input"
    generator = f" from {show(driven.generator, 'ohm', 2)}" if driven.generator > 0 else ""
    return f"A sine of {show(driven.frequency, 'Hz', 2)}{generator} drives {entry}."


def _power(driven: Driven, full: Waveforms, reading: Reading) -> str:
    """The largest power, what limits it, what it takes."""
    limit = driven.limit
    ends = {
        "found": _limit_words(limit.criterion),
        "not reached": "at the largest drive that was tried, which does not clip yet",
    }[limit.status]
    swing = f"{show(full.harmonics[0], 'V')} crest"
    entry = reading.inputs[0].net if reading.inputs else "the input"
    drive = f"it takes {show(float(np.ptp(full.input)) / 2.0, 'V')} (crest) at {entry}"
    if not math.isfinite(full.output_power):
        out = reading.outputs[0].net if reading.outputs else "the output"
        return f"{out} swings {swing} {ends}; {drive}. Nothing drawn there takes power, so no power is told."
    supplied = (
        f" and {show(full.supply_power, 'W')} from the supplies, an efficiency of {show_percent(full.efficiency)}"
        if full.supply_power > 0
        else ""
    )
    load = show(full.load_ohms, "ohm") if driven.load is None else f"an assumed {show(full.load_ohms, 'ohm', 2)}"
    return f"{show(full.output_power, 'W')} into {load} ({swing}) {ends}; {drive}{supplied}."


def _limit_words(criterion: str) -> str:
    if criterion.startswith("distortion"):
        return f"at {criterion.split()[-2]} % distortion"
    if criterion.startswith("gain"):
        return "where the output no longer follows the drive (1 dB less gain than at two thirds of it)"
    return "at the last drive whose cycle was found; what comes beyond is not known"


def _distortion(driven: Driven) -> str:
    """Distortion at a tenth and at half of the power, and what it is made of."""
    cycles, said, kinks = driven.cycles, [], False
    shared = any(len(stage.devices) > 1 and stage.letter != "A" for stage in driven.stages)
    for share, words in ((TENTH, "a tenth of that drive's power"), (HALF, "half of it"), (1.0, "the full drive")):
        if share in cycles:
            cycle = cycles[share]
            kink = shared and cycle.crossover > TELLING_CROSSOVER and share < 1.0
            step = f", crossover {show_percent(cycle.crossover)}" if kink else ""
            said.append(f"{_percent(cycle.thd)} at {words} ({_output(cycle)}{_harmonic(cycle)}{step})")
            kinks = kinks or kink
    meaning = f" Crossover is {CROSSOVER}." if kinks else ""
    return f"Distortion: {'; '.join(said)}.{meaning}"


def _output(cycle: Waveforms) -> str:
    if math.isfinite(cycle.output_power):
        return show(cycle.output_power, "W", 2)
    return f"{show(cycle.harmonics[0], 'V', 2)} crest"


def _percent(share: float) -> str:
    return f"under {show_percent(LEAST_DISTORTION)}" if share < LEAST_DISTORTION else show_percent(share)


def _harmonic(cycle: Waveforms) -> str:
    """Which harmonic is the greatest."""
    further: Sequence[float] = cycle.harmonics[1:5]
    if cycle.thd < LEAST_DISTORTION or not further:
        return ""
    return f", mostly the {_ORDINALS[2 + further.index(max(further))]} harmonic"


def _conduction(stage: DrivenStage) -> str:
    """For how much of the cycle a stage conducts, and so its class."""
    whose = named(stage.devices)
    many = len(stage.devices) > 1
    if not many and stage.half_angle >= WHOLE > stage.angle:
        return (
            f"{whose}: class A until the output clips; at full drive current for {show(stage.angle, '°')} of the cycle."
        )
    if stage.angle >= WHOLE:
        if stage.letter == "A":
            return f"{whose}: current through the whole cycle up to full drive, class A."
        return (
            f"{whose}: current that never quite stops, but crests of {show(stage.peak, 'A', 2)} against "
            f"{show(stage.idle, 'A', 2)} at rest: class {stage.letter}."
        )
    degrees = show(stage.angle, "°")
    at_half = ""
    if math.isfinite(stage.half_angle):
        whole = stage.half_angle >= WHOLE
        at_half = (
            " (the whole of it at half the power)" if whole else f" ({show(stage.half_angle, '°')} at half the power)"
        )
    each = " each" if many else ""
    return (
        f"{whose}: current for {degrees} of the cycle{each} at full drive{at_half}, class {stage.letter}; crest "
        f"{show(stage.peak, 'A', 2)}{' in each' if many else ''} against {show(stage.idle, 'A', 2)} at rest."
    )


def _heat(driven: Driven, full: Waveforms) -> list[Statement]:
    """The hottest devices, those of a pair together."""
    worst = driven.limit.worst
    hottest = [item for item in worst if item.watts > LEAST_HEAT * worst[0].watts][:HOTTEST]
    if not hottest or worst[0].watts < LEAST_WATTS:
        return []
    groups: dict[str, list[str]] = {}
    for item in hottest:
        groups.setdefault(f"{show(item.watts, 'W', 2)}%s {_where(item.output_power, full)}", []).append(item.ref)
    told = [f"{listed(refs)} {words % (' each' if len(refs) > 1 else '')}" for words, refs in groups.items()]
    return [Statement(f"Hottest up to there: {listed(told)}.", tuple(item.ref for item in hottest), False, True)]


def _where(watts: float, full: Waveforms) -> str:
    """At which output a device is hottest."""
    if not watts > 0.005 * full.output_power:
        return "without a signal"
    if watts > 0.98 * full.output_power:
        return "at full drive"
    return f"at {show(watts, 'W', 2)} out"


def _table(table: BiasTable) -> SignalTable:
    """Distortion over the current at rest."""
    rows: list[tuple[str, ...]] = []
    for item in table.settings:
        idle = math.fsum(item.rest.get(ref, math.nan) for ref in table.devices)
        steady = item.cycle is not None and item.cycle.steady
        rest = show(idle, "A", 2) if idle > NO_AMPERE else "none"
        typed = table.typed is not None and abs(item.at - table.typed) < 1e-9
        kink = show_percent(item.crossover) if steady and item.crossover > TELLING_CROSSOVER else ""
        rows.append(
            (show_percent(item.at, 3), rest, _percent(item.thd) if steady else "not known", kink, "as typed" * typed)
        )
    head = ("wiper", f"{named(table.devices)} at rest, in all", "distortion", "crossover", "")
    caption = f"{table.trimmer}, at the drive that gives about a tenth of the power as typed; crossover is {CROSSOVER}:"
    return SignalTable(caption, head, tuple(rows))
