"""The steps of setting quiescent currents in words, and the cautions that belong beside each."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from topo.analysis.parameters import MOSFETS, VALVES
from topo.quantities import show
from topo.reading.reading import Block, Reading
from topo.reading.setting_up import SettingUp, Trimmer
from topo.report.figures import with_range
from topo.report.layout import names

BEYOND = 10.0
"""A total at full travel that is so many times what is wanted is beyond any setting."""

RADIO_HERTZ = 100e3

MOST_STAGES = 2
"""Two trimmers are the usual pair of driver and final."""

_MOMENTS = (
    ("minimum", ("least bias", "least spread", "least resistance", "fully on")),
    ("raise", ("range chosen", "at the gate decide")),
    ("settle", ("hot ", "dissipate")),
    ("drive", ("burn", "do not drive", "while the amplifier is driven", "transmit", "earth lead", "earth clip")),
    (
        "on",
        (
            *(
                "dummy load",
                "loudspeaker",
                "limited",
                "first power",
                "test first",
                "without its bias",
                "high voltage",
                "without its load",
            ),
            *("discharge", "charge", "stays", "touching", "carries", "before the high tension"),
        ),
    ),
)
"""At which step a caution belongs, by words of it; the first that fits. What fits none stands at the end."""

_AT_THE_END = ("qualified", "beryllium")


@dataclass(frozen=True)
class Step:
    """A step in words; `moment` is "minimum", "on", "raise", "settle", "output" or "drive"."""

    moment: str
    words: str


def by_moment(cautions: Iterable[str]) -> dict[str, list[str]]:
    """Cautions by the moment of the procedure that they belong to; "" for those at its end."""
    found: dict[str, list[str]] = {}
    for words in cautions:
        folded = words.casefold()
        moment = next((name for name, signs in _MOMENTS if any(sign in folded for sign in signs)), "")
        if any(sign in folded for sign in _AT_THE_END):
            moment = ""
        found.setdefault(moment, []).append(words)
    return found


def is_radio(reading: Reading) -> bool:
    """Whether the wanted signal is one of radio frequency."""
    band = reading.circuit.band
    return band is not None and band[0] >= RADIO_HERTZ


def kinds_of(found: SettingUp) -> set[str]:
    """The kinds of the devices that are set."""
    return {found.reading.circuit.by_ref[ref].kind for trimmer in found.trimmers for ref in trimmer.devices}


def cautions_of(found: SettingUp) -> list[str]:
    """The cautions that this circuit and this procedure call for."""
    cautions = list(found.reading.cautions)
    kinds = kinds_of(found)
    if is_radio(found.reading) and not any("burn" in words.casefold() for words in cautions):
        cautions.append("Radio-frequency voltages burn: do not touch the output once it is driven.")
    if kinds & set(MOSFETS):
        cautions.append("MOSFETs: a few tens of millivolts at the gate decide; turn gently.")
    if len(found.trimmers) > 1:
        cautions.append(
            "A small first current is poorly read on a range chosen for the total: choose the range each time."
        )
    return cautions


def steps_of(found: SettingUp) -> list[Step]:
    """The steps, in the order in which they are done."""
    trimmers = found.trimmers
    steps = [Step("minimum", _to_minimum(trimmers)), Step("on", _supply_on(found))]
    if found.offsets:
        steps.append(Step("output", _offset(found)))
    steps += [Step("raise", words) for words in _raising(found)]
    steps.append(Step("settle", _settling(found)))
    volts = [supply.volts for supply in found.reading.circuit.supplies]
    if found.offsets:
        steps.append(
            Step("output", f"Check the direct voltage at the output again; correct it by {names(found.offsets)}.")
        )
    elif volts and min(volts) < 0 < max(volts) and 0.5 < -max(volts) / min(volts) < 2.0:
        steps.append(Step("output", "Split supply: check the direct voltage at the output again."))
    watched = "the waveform" if not is_radio(found.reading) else "the waveform or the spectrum"
    steps.append(
        Step(
            "drive",
            f"Drive at a low level into the dummy load; watch the current, the heat and {watched}. Drive off: the "
            "current must return to what it was.",
        )
    )
    return steps


def _supply_on(found: SettingUp) -> str:
    reading = found.reading
    quiet = "no drive" if is_radio(reading) else "signal off"
    load = f"Heat sink fitted; dummy load on the output, {quiet}"
    meter = f"meter in the lead of {found.supply}" if found.supply else "meter in the supply lead"
    if found.least.known:
        expected = (
            f"the total should be about {with_range(found.least, 'A', 2)} (estimate). Note it; if it is far off, "
        )
        expected += "stop: something leaks, or a trimmer is not at minimum"
    else:
        expected = "note the total (it cannot be calculated: values are missing)"
    first = ""
    if kinds_of(found) & set(VALVES):
        grids = _grids(found)
        first = f"Bias supply on first: the negative voltage must stand at every grid{grids} before the high tension. "
        first += "High tension on, and 10 min to warm up: "
    else:
        first = "Supply on, its current limited a little above what each step expects: "
    split = [supply.volts for supply in reading.circuit.supplies]
    check = ""
    if not found.offsets and split and min(split) < 0 < max(split) and not kinds_of(found) & set(VALVES):
        check = " Check the direct voltage at the output: near 0 V."
    return f"{load}; {meter}. {first}{expected}.{check}"


def _offset(found: SettingUp) -> str:
    """The step that sets the output's direct voltage, which comes before the current."""
    volts = [supply.volts for supply in found.reading.circuit.supplies]
    split = min((*volts, 0.0)) < 0 < max((*volts, 0.0))
    middle = 0.5 * (max((*volts, 0.0)) + min((*volts, 0.0)))
    goal = "0 V" if split and abs(middle) < 1.0 else f"the middle of the supply, about {show(middle, 'V', 2)}"
    return (
        f"{names(found.offsets)} sets the direct voltage at the output ({names(found.output_nets)}), and no current: "
        f"adjust it to {goal}, or to the equipment's own figure."
    )


def _grids(found: SettingUp) -> str:
    """The grid voltages with every trimmer at minimum."""
    rows = []
    for trimmer in found.trimmers:
        for ref in trimmer.devices:
            volts = trimmer.sweep[0].controls.get(ref, math.nan)
            if found.reading.circuit.by_ref[ref].kind in VALVES and math.isfinite(volts):
                rows.append(f"{ref} {show(volts, 'V', 2)}")
    return f" ({', '.join(rows)} to its cathode by calculation)" if rows else ""


def _raising(found: SettingUp) -> list[str]:
    """A step for each trimmer."""
    steps = []
    running = found.least.typical
    for place, trimmer in enumerate(found.trimmers):
        leave = f"Leave {found.trimmers[place - 1].ref}. " if place else ""
        head = f"{leave}Slowly raise {trimmer.ref} (it biases {names(trimmer.devices)}{_stage(found, place)}) until "
        if trimmer.target is None:
            steps.append(f"{head}the total has risen by the specified current of that stage{_from_now(place)}.")
            continue
        running += trimmer.target
        wanted = f"{'a further ' if place else ''}{show(trimmer.target, 'A')}"
        total = f" ({show(running, 'A', 2)} in all by the estimate)" if math.isfinite(running) else ""
        if trimmer.minimum is not None and trimmer.setting is None:
            total += f"; by calculation it cannot reach that: {reach(trimmer)}"
        steps.append(f"{head}the total has risen by {wanted}{total}.")
    return steps


def _from_now(place: int) -> str:
    return " from where it is now" if place else ""


def _settling(found: SettingUp) -> str:
    trimmers = found.trimmers
    again = "read the total again and correct it"
    if len(trimmers) > 1:
        again = (
            f"turn {trimmers[-1].ref} back to minimum: the total must come back to what it was before it was raised; "
            "correct, and raise it again"
        )
    if kinds_of(found) & set(VALVES):
        how = "change under 5 % in 5 min; valves: again after 30 min"
    elif found.reading.circuit.band is not None and not is_radio(found.reading):
        how = "change under 5 % in 5 min; 10 to 30 min for an audio power stage"
    else:
        how = "change under 5 % in 5 min"
    return f"Wait until it is steady ({how}), then {again}."


def _to_minimum(trimmers: tuple[Trimmer, ...]) -> str:
    """The first step: which end is minimum, of each trimmer."""
    known = [trimmer for trimmer in trimmers if trimmer.minimum is not None]
    unknown = [trimmer.ref for trimmer in trimmers if trimmer.minimum is None]
    said = f"{names(trimmer.ref for trimmer in known)} to minimum: " if known else ""
    groups: dict[str, list[Trimmer]] = {}
    for trimmer in known:
        groups.setdefault(trimmer.towards, []).append(trimmer)
    said += "; ".join(
        f"{_way(towards)}({'; '.join(f'{item.ref}: {item.end}' for item in group)})"
        for towards, group in groups.items()
    )
    if unknown:
        said += ". " if known else ""
        said += (
            f"Which end of {names(unknown)} is minimum cannot be told from the circuit: start with the supply "
            "current-limited and watch"
        )
    return f"{said}."


def _way(towards: str) -> str:
    """Where the wiper goes, in words; nothing where only the end can be told."""
    if not towards:
        return "wiper to its end "
    return f"{towards} " if "resistance" in towards else f"wiper towards {towards} "


def _stage(found: SettingUp, place: int) -> str:
    """What the devices of a trimmer are, in words."""
    if len(found.trimmers) == MOST_STAGES and _one_after_the_other(found):
        return ", the final" if place == len(found.trimmers) - 1 else ", the driver"
    devices = set(found.trimmers[place].devices)
    blocks = [block for block in _stages(found.reading) if devices & set(block.devices)]
    blocks.sort(key=lambda block: (-len(devices & set(block.devices)), block.sort != "output"))
    return f", the {blocks[0].name}" if blocks else ""


def _one_after_the_other(found: SettingUp) -> bool:
    """Whether the devices of each trimmer come wholly before those of the next on the signal path."""
    steps = {ref: place for place, step in enumerate(found.reading.path) for ref in step.refs}
    rows = [[steps[ref] for ref in trimmer.devices if ref in steps] for trimmer in found.trimmers]
    return all(rows) and all(max(one) < min(other) for one, other in pairwise(rows))


def reach(trimmer: Trimmer) -> str:
    """What the trimmer reaches at full travel."""
    last, first = trimmer.sweep[-1], trimmer.sweep[0]
    if not math.isfinite(last.total):
        return "not calculable, since values are missing"
    measure = first.total if trimmer.target is None else first.total + trimmer.target
    told = f"{show(last.total, 'A', 2)} in all"
    return f"{told} by calculation, far beyond any setting" if last.total > BEYOND * measure else told


def _stages(reading: Reading) -> list[Block]:
    """The blocks whose devices handle the signal."""
    return [block for block in reading.blocks if block.sort in ("stage", "driver", "splitter", "output", "compound")]
