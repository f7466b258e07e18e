"""The setting-up procedure of the quiescent currents as a page to work from."""

from __future__ import annotations

import math

from topo.netlist.kinds import ELECTRODES, terminal_word
from topo.quantities import show, show_percent
from topo.reading.reading import Reading
from topo.reading.setting_up import SettingUp, State, Trimmer
from topo.report.figures import LEAST, with_range
from topo.report.layout import Page, names
from topo.report.setting_steps import by_moment, cautions_of, reach, steps_of

HOT_WATTS = 1.0
NOTHING = 1e-6
"""Amperes: what no meter of the bench shows."""

LEFT_OVER = 0.1
"""Of the total: a device that carries more at minimum is told."""

NEAR = 1e-4
"""Of the travel: two rows of the table as near as that are one."""

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
    lines = page.paragraph(
        f"{count} set{', each' if many > 1 else ''} by {own}, and read in the total supply current. At every step turn "
        "slowly, and switch off at once if the current climbs by itself or does not follow the trimmer."
    )
    for words in (*_out_of_reach(found.trimmers), *_shared(found.trimmers)):
        lines += page.paragraph(words)
    beside = by_moment(cautions_of(found))
    for number, step in enumerate(steps_of(found), 1):
        lines += page.paragraph(step.words, f"{number}  ", "   ")
        for words in beside.pop(step.moment, ()):
            lines += page.paragraph(f"With care: {words}", "   ", "     ")
    for trimmer in found.trimmers:
        lines += ["", *_about(trimmer, found, page)]
    return [*lines, "", *_closing(page, [words for rest in beside.values() for words in rest])]


def _out_of_reach(trimmers: tuple[Trimmer, ...]) -> list[str]:
    """Words for figures that a trimmer does not bring."""
    return [
        f"Out of reach: {show(item.target, 'A')} more by {item.ref} ({names(item.devices)}) is not what this circuit "
        f"gives at any place of the wiper. At full travel: {reach(item)}. Is the figure right, and every value of the "
        "netlist?"
        for item in trimmers
        if item.target is not None and item.minimum is not None and item.setting is None
    ]


def _shared(trimmers: tuple[Trimmer, ...]) -> list[str]:
    """Words for trimmers that act on the same devices."""
    rows = []
    for place, one in enumerate(trimmers):
        for other in trimmers[place + 1 :]:
            both = [ref for ref in one.devices if ref in other.devices]
            if both:
                rows.append(
                    f"{one.ref} and {other.ref} both act on {names(both)}: what one sets the other shifts. Check again "
                    "after each change of either."
                )
    return rows


def _about(trimmer: Trimmer, found: SettingUp, page: Page) -> list[str]:
    """The currents over the wiper's travel, and where to read them."""
    lines = [page.strong(f"{trimmer.ref}: travel from minimum, and what follows (estimate)")]
    rows = [("   travel", "total (other specimens)", *trimmer.devices)]
    wanted = [(0.0, trimmer.sweep[0]), *trimmer.table]
    for (travel, state), within in zip(wanted, trimmer.ranges, strict=True):
        mine = trimmer.setting is not None and abs(travel - trimmer.setting) < NEAR
        mark = "  <- your figure" if mine else ""
        cells = [f"   {show_percent(travel, 3)}", with_range(within, "A", 2) if within.known else "not known"]
        cells += [_amperes(state.currents.get(ref, math.nan)) for ref in trimmer.devices]
        cells[-1] += mark
        rows.append(tuple(cells))
    lines += page.table(rows)
    said = [f"At full travel: {reach(trimmer)}."]
    if trimmer.typed is not None:
        there = ", ".join(f"{ref} {_amperes(found.typed.currents.get(ref, math.nan))}" for ref in trimmer.devices)
        said.append(
            f"As typed it stands at {show_percent(trimmer.typed)} of its travel from minimum: "
            f"{there}, {show(found.typed.total, 'A', 2)} in all."
        )
    said += _bias_reach(trimmer, found)
    said += _left_over(trimmer)
    said += _open_wiper(trimmer)
    said += _reading_places(trimmer)
    said += _heat(trimmer)
    return lines + page.paragraph(" ".join(said), "   ")


def _amperes(value: float) -> str:
    return "off" if abs(value) < NOTHING else show(value, "A", 2)


def _bias_reach(trimmer: Trimmer, found: SettingUp) -> list[str]:
    """The least and the greatest bias that the trimmer brings to the first of its devices."""
    ref = trimmer.devices[0]
    low, high = (state.controls.get(ref, math.nan) for state in (trimmer.sweep[0], trimmer.sweep[-1]))
    if not (math.isfinite(low) and math.isfinite(high)):
        return []
    part = found.reading.circuit.by_ref[ref]
    control, emitting, _ = ELECTRODES[part.kind]

    def figure(volts: float) -> str:
        return show(volts if abs(volts) >= LEAST["V"] else 0.0, "V")

    return [
        f"Over its whole travel {terminal_word(part.kind, control)} to {terminal_word(part.kind, emitting)} of {ref} "
        f"goes from {figure(low)} to {figure(high)}."
    ]


def _left_over(trimmer: Trimmer) -> list[str]:
    """What the devices carry at minimum, where that is not little."""
    least = trimmer.sweep[0]
    flows = [
        ref for ref in trimmer.devices if least.currents.get(ref, math.nan) > max(LEFT_OVER * least.total, NOTHING)
    ]
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
        sharing = ", and it hides unequal sharing" if len(trimmer.devices) > 1 else ""
        return [f"No resistor carries the current of one device alone: only the total tells{sharing}."]
    said = []
    for resistor in dict.fromkeys(place.resistor for place in trimmer.meters):
        here = [place for place in trimmer.meters if place.resistor == resistor]
        amperes = trimmer.reached.currents[here[0].device] if trimmer.reached is not None else 0.01
        drop = show(amperes * here[0].ohms, "V", 2)
        devices = names(place.device for place in here)
        said.append(f"{resistor} ({show(here[0].ohms, 'ohm')}) for {devices}: {drop} at {show(amperes, 'A', 2)}")
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


def _closing(page: Page, cautions: list[str]) -> list[str]:
    """Who governs, and the cautions that belong to no step."""
    lines = page.paragraph(
        "The equipment's own manual governs where there is one: its currents, its order, its test points, its load. "
        "No specified current is given here; totals and settings "
        "are estimates, and the setting moves with the devices in hand: go by the meter."
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
