"""The setting-up procedure of the quiescent currents as a page to work from."""

from __future__ import annotations

import math

from topo.analysis.parameters import MOSFETS, VALVES
from topo.quantities import show, show_percent
from topo.reading.reading import Block, Reading
from topo.reading.setting_up import SettingUp, State, Trimmer
from topo.report.figures import with_range
from topo.report.layout import Page, names

BEYOND = 10.0
"""A current at full travel that is so many times the one that is wanted is told without a figure."""

HOT_WATTS = 1.0
RADIO_HERTZ = 100e3
NOTHING = 1e-6
"""Amperes: what no meter of the bench shows."""

LEFT_OVER = 0.1
"""Of the total: a device that carries more at minimum is told."""

MOST_STAGES = 2
"""Two trimmers are the usual pair of driver and final."""

_COUNTS = {1: "One idle current is", 2: "Two idle currents are", 3: "Three idle currents are"}


def text(found: SettingUp, page: Page | None = None) -> str:
    """The page in lines of at most its width, ending in a line feed."""
    page = page or Page()
    circuit = found.reading.circuit
    lines = page.head(f"{circuit.title or circuit.file}: setting the quiescent current", _where(found))
    lines.append("")
    lines += _procedure(found, page) if found.trimmers else _nothing_to_set(found.reading, page)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _where(found: SettingUp) -> str:
    return names(trimmer.ref for trimmer in found.trimmers)


def _procedure(found: SettingUp, page: Page) -> list[str]:
    many = len(found.trimmers)
    count = _COUNTS.get(many, f"{many} idle currents are")
    own = "its own trimmer" if many > 1 else f"{found.trimmers[0].ref}"
    lines = page.paragraph(f"{count} set{', each' if many > 1 else ''} by {own}, and read in the total supply current.")
    for number, step in enumerate(_steps(found), 1):
        lines += page.paragraph(step, f"{number}  ", "   ")
    for trimmer in found.trimmers:
        lines += ["", *_about(trimmer, found, page)]
    return [*lines, "", *_closing(found, page)]


def _steps(found: SettingUp) -> list[str]:
    """The steps, in the order in which they are done."""
    reading, trimmers = found.reading, found.trimmers
    steps = [_to_minimum(trimmers)]
    load = "Dummy load on the output, no drive" if reading.outputs else "Output loaded, no drive"
    meter = f"meter in the lead of {found.supply}" if found.supply else "meter in the supply lead"
    if found.least.known:
        expected = f"the total should be about {with_range(found.least, 'A', 2)} (estimate). Note it"
    else:
        expected = "note the total (it cannot be calculated: values are missing)"
    steps.append(f"{load}; {meter}, current limit a little above the expected total. Supply on: {expected}.")
    running = found.least.typical
    for place, trimmer in enumerate(trimmers):
        leave = f"Leave {trimmers[place - 1].ref}. " if place else ""
        further = "a further " if place else ""
        total = ""
        if trimmer.target is None:
            wanted = f"the specified current of that stage{' from where it is now' if place else ''}"
        else:
            running += trimmer.target
            wanted = further + show(trimmer.target, "A")
            total = f" ({show(running, 'A', 2)} in all by the estimate)" if math.isfinite(running) else ""
        if trimmer.target is not None and trimmer.minimum is not None and trimmer.setting is None:
            total = f". By calculation it cannot reach that: {_reach(trimmer)}"
        steps.append(
            f"{leave}Slowly raise {trimmer.ref} (it biases {names(trimmer.devices)}{_stage(found, place)}) "
            f"until the total has risen by {wanted}{total}."
        )
    again = "check again from step 3"
    if len(trimmers) > 1:
        again = (
            f"turn {trimmers[-1].ref} back to minimum: the total must come back to what it was before it was raised; "
            "correct, and raise it again"
        )
    steps.append(f"Wait until it is steady (change under 5% in 5 min; 10 to 30 min for audio), then {again}.")
    volts = [supply.volts for supply in reading.circuit.supplies]
    if volts and min(volts) < 0 < max(volts) and 0.5 < -max(volts) / min(volts) < 2.0:
        steps.append("Split supply: check the direct voltage at the output first, and again at the end.")
    steps.append("Switch off at once if the current climbs by itself or does not follow the trimmer.")
    return steps


def _to_minimum(trimmers: tuple[Trimmer, ...]) -> str:
    """The first step: which end is minimum, of each trimmer."""
    known = [trimmer for trimmer in trimmers if trimmer.minimum is not None]
    unknown = [trimmer.ref for trimmer in trimmers if trimmer.minimum is None]
    said = f"{names(trimmer.ref for trimmer in known)} to minimum: " if known else ""
    groups: dict[str, list[Trimmer]] = {}
    for trimmer in known:
        groups.setdefault(trimmer.towards, []).append(trimmer)
    said += "; ".join(
        f"{'' if 'resistance' in towards else 'wiper towards '}{towards} "
        f"({'; '.join(f'{item.ref}: {item.end}' for item in group)})"
        for towards, group in groups.items()
    )
    if unknown:
        said += ". " if known else ""
        said += (
            f"Which end of {names(unknown)} is minimum cannot be told from the circuit: start with the supply "
            "current-limited and watch"
        )
    return f"{said}."


def _stage(found: SettingUp, place: int) -> str:
    """What the devices of a trimmer are, in words."""
    acting = [set(trimmer.devices) for trimmer in found.trimmers]
    together = any(sum(bool(set(block.devices) & one) for one in acting) > 1 for block in _stages(found.reading))
    if len(found.trimmers) == MOST_STAGES and not together:
        return ", the final" if place == len(found.trimmers) - 1 else ", the driver"
    devices = set(found.trimmers[place].devices)
    blocks = [block for block in _stages(found.reading) if devices & set(block.devices)]
    blocks.sort(key=lambda block: (-len(devices & set(block.devices)), block.sort != "output"))
    return f", the {blocks[0].name}" if blocks else ""


def _stages(reading: Reading) -> list[Block]:
    """The blocks whose devices handle the signal."""
    return [block for block in reading.blocks if block.sort != "bias"]


def _about(trimmer: Trimmer, found: SettingUp, page: Page) -> list[str]:
    """The currents over the wiper's travel, and where to read them."""
    lines = [page.strong(f"{trimmer.ref}: travel from minimum, and what follows (estimate)")]
    rows = [("   travel", "total", *trimmer.devices)]
    wanted = [(0.0, trimmer.sweep[0]), *trimmer.table]
    if trimmer.reached is not None and trimmer.setting is not None:
        wanted = [row for row in wanted if abs(row[0] - trimmer.setting) > 1e-6]
        wanted = sorted([*wanted, (trimmer.setting, trimmer.reached)], key=lambda row: row[0])
    for travel, state in wanted:
        mark = "  <- your figure" if travel == trimmer.setting else ""
        cells = [f"   {show_percent(travel, 3)}", show(state.total, "A", 2)]
        cells += [_amperes(state.currents.get(ref, math.nan)) for ref in trimmer.devices]
        cells[-1] += mark
        rows.append(tuple(cells))
    lines += page.table(rows)
    said = [f"At full travel: {_reach(trimmer)}."]
    if trimmer.typed is not None:
        said.append(f"As typed it stands at {show_percent(trimmer.typed)} of its travel from minimum.")
    said += _left_over(trimmer)
    said += _open_wiper(trimmer)
    said += _reading_places(trimmer)
    said += _heat(trimmer)
    return lines + page.paragraph(" ".join(said), "   ")


def _amperes(value: float) -> str:
    return "off" if abs(value) < NOTHING else show(value, "A", 2)


def _reach(trimmer: Trimmer) -> str:
    """What the trimmer reaches at full travel."""
    last, first = trimmer.sweep[-1], trimmer.sweep[0]
    if not math.isfinite(last.total):
        return "not calculable, since values are missing"
    measure = trimmer.target if trimmer.target is not None else first.total
    if last.total > BEYOND * max(measure, first.total):
        return f"more than {BEYOND:g} times that in all, enough to destroy the devices"
    return f"{show(last.total, 'A', 2)} in all"


def _left_over(trimmer: Trimmer) -> list[str]:
    """What the devices carry at minimum, where that is not little."""
    least = trimmer.sweep[0]
    flows = [ref for ref in trimmer.devices if least.currents.get(ref, math.nan) > LEFT_OVER * least.total]
    if not flows:
        return []
    told = ", ".join(f"{ref} {show(least.currents[ref], 'A', 2)}" for ref in flows)
    return [f"At minimum current still flows ({told}), which a rise of the total does not count."]


def _open_wiper(trimmer: Trimmer) -> list[str]:
    if trimmer.opened is None:
        return []
    current = sum(trimmer.opened.currents.get(ref, math.nan) for ref in trimmer.devices)
    if not math.isfinite(current):
        return [
            f"A wiper of {trimmer.ref} that loses contact leaves {names(trimmer.devices)} without a defined bias: "
            "a worn trimmer is to be replaced before the supply is on."
        ]
    if trimmer.may_open_to_full:
        return [
            f"Hazard: if the wiper of {trimmer.ref} loses contact, the bias goes to full; replace a worn trimmer first."
        ]
    if current <= 1.2 * sum(trimmer.sweep[0].currents.get(ref, math.nan) for ref in trimmer.devices) + 1e-5:
        return [f"If the wiper of {trimmer.ref} loses contact, the current falls to its minimum."]
    return [
        f"If the wiper of {trimmer.ref} loses contact, {names(trimmer.devices)} carry {show(current, 'A', 2)} in all."
    ]


def _reading_places(trimmer: Trimmer) -> list[str]:
    """Resistors whose drop tells a device's current."""
    if not trimmer.meters:
        return [
            "No resistor carries the current of one device alone: only the total tells, and it hides unequal sharing."
        ]
    said = []
    for place in trimmer.meters:
        amperes = trimmer.reached.currents[place.device] if trimmer.reached is not None else 0.01
        drop = show(amperes * place.ohms, "V", 2)
        said.append(
            f"{place.resistor} ({show(place.ohms, 'ohm')}) for {place.device}: {drop} at {show(amperes, 'A', 2)}"
        )
    return [f"Without breaking a lead, read the drop across {'; '.join(said)}."]


def _heat(trimmer: Trimmer) -> list[str]:
    state: State | None = trimmer.reached
    if state is None:
        return []
    watts = [(ref, state.watts.get(ref, math.nan)) for ref in trimmer.devices]
    told = ", ".join(f"{ref} {show(value, 'W', 2)}" for ref, value in watts if math.isfinite(value))
    hot = any(value > HOT_WATTS for _, value in watts)
    return (
        [f"At your figure, at rest: {told}{'; heat sink fitted and hot within minutes' if hot else ''}."]
        if told
        else []
    )


def _closing(found: SettingUp, page: Page) -> list[str]:
    """Who governs, and the cautions that this circuit calls for."""
    reading = found.reading
    lines = page.paragraph(
        "The equipment's own manual governs where there is one: its currents, its order, its test points, its load. "
        "No specified current is given here; totals and settings "
        "are estimates, and the setting moves with the devices in hand: go by the meter."
    )
    kinds = {reading.circuit.by_ref[ref].kind for trimmer in found.trimmers for ref in trimmer.devices}
    cautions = list(reading.cautions)
    band = reading.circuit.band
    if band is not None and band[0] >= RADIO_HERTZ and not any("burn" in words.casefold() for words in cautions):
        cautions.append("RF burns: no drive while setting; do not touch the output once it is driven.")
    if kinds & set(MOSFETS):
        cautions.append("MOSFETs: a few tens of millivolts at the gate decide; turn gently.")
    if kinds & set(VALVES):
        cautions.append(
            "Valves: bias at every grid before the high tension is on; the cathode's drop includes the screen."
        )
    if len(found.trimmers) > 1:
        cautions.append(
            "A small first current is poorly read on a range chosen for the total: choose the range each time."
        )
    if cautions:
        lines.append("With care:")
        for words in cautions:
            lines += page.paragraph(words, "  ", "    ")
    return lines


def _nothing_to_set(reading: Reading, page: Page) -> list[str]:
    """What to say where there is no trimmer."""
    lines = page.paragraph("No bias trimmer is recognised here: there is nothing to set.")
    graph, point = reading.views.graph, reading.views.point
    for block in reading.blocks:
        if block.sort != "bias" or not block.serves:
            continue
        currents = []
        for ref in block.serves:
            index = graph.element_of.get(ref)
            amperes = math.nan if index is None else abs(point.current(ref))
            currents.append(f"{ref} {show(amperes, 'A', 2)}")
        lines += page.paragraph(
            f"{block.name[:1].upper() + block.name[1:]} ({', '.join(block.parts)}) sets the current at rest of "
            f"{', '.join(currents)} (topo voltages gives the range, and what it rests on).",
            "  ",
            "    ",
        )
    lines += page.paragraph(
        "A current that is wrong points to a part that is wrong. The equipment's own manual governs where there is one."
    )
    return lines
