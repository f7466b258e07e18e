"""Assumptions, and warnings that the operating point and the reading give rise to."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from topo.errors import Place, Problem
from topo.netlist.circuit import Circuit, Port
from topo.quantities import show
from topo.reading.flow import is_device
from topo.reading.path import Way
from topo.reading.reading import Block, StageClass
from topo.reading.summary import capital, joined
from topo.views.view import Views


def assumptions(
    circuit: Circuit, views: Views, inputs: Sequence[Port], outputs: Sequence[Port], inferred: tuple[bool, bool]
) -> tuple[str, ...]:
    """What was assumed, in sentences, each once.

    Args:
        inferred: whether the input and the output were found from the circuit.
    """
    said = [*_grouped(views.point.assumed)]
    for name, ports, guessed in (("Input", inputs, inferred[0]), ("Output", outputs, inferred[1])):
        if guessed and ports:
            nets = joined([port.net for port in ports])
            said.append(f"{name} taken as net {nets}, found from the circuit; the file does not give it.")
    if not views.point.solved:
        missing = f": {'; '.join(views.point.missing)}" if views.point.missing else ""
        said.append(f"The operating point is {views.point.status}{missing}. What rests on it is judged by position.")
    said += views.assumptions
    return tuple(dict.fromkeys(_sentence(words) for words in said))


def _sentence(words: str) -> str:
    """Words with a large letter first and a stop at the end; a name of the circuit keeps its spelling."""
    return f"{capital(words)}{'' if words.endswith('.') else '.'}"


def _grouped(assumed: Mapping[str, str]) -> list[str]:
    """One sentence for all parts of which the same was assumed."""
    parts: dict[str, list[str]] = {}
    for ref, words in assumed.items():
        parts.setdefault(words, []).append(ref)
    return [f"{joined(refs)}: {words}{'' if words.endswith('.') else '.'}" for words, refs in parts.items()]


# Notes on how a list was read that belong to `topo check`, not to an explanation.
_FOR_A_CHECK = frozenset(
    ("not-used", "model-part-used", "letter-for-point", "output-taken", "band-taken", "supply", "coefficient")
)


def warnings(
    circuit: Circuit,
    views: Views,
    blocks: Sequence[Block],
    way: Way | None,
    amplifies: bool,
    restless: Collection[str] = (),
    of_voltages: Sequence[Problem] = (),
) -> list[Problem]:
    """Warnings of the file, of the voltages, and of what does not fit an amplifier.

    Args:
        restless: devices of a circuit that has no state of rest: what they would do in one is no fault.
        of_voltages: what the voltages at rest give rise to.
    """
    moving = {circuit.part(ref).place for ref in restless}
    found = [problem for problem in circuit.warnings if problem.code not in _FOR_A_CHECK]
    found += [
        item
        for item in of_voltages
        if item.severity == "warning" and not (item.place in moving and item.code.startswith("device-"))
    ]
    told = {problem.place for problem in found}
    if amplifies:
        found += [item for item in _idle_devices(circuit, views, blocks) if item.place not in told]
    if way is not None and not way.arrives and amplifies:
        found.append(_broken_path(circuit, views, way))
    return list(dict.fromkeys(found))


_STATE_WORDS = {
    "off": "carries no current at rest",
    "saturated": "is saturated at rest",
    "reversed": "works reversed at rest: its collector and emitter may be exchanged",
}


def _idle_devices(circuit: Circuit, views: Views, blocks: Sequence[Block]) -> list[Problem]:
    """Devices that do not act, in no block that says why."""
    explained = {ref for block in blocks for ref in block.devices if block.sort != "compound"}
    found = []
    for element in views.graph.elements:
        state = views.point.states.get(element.index, "")
        if is_device(element) and state in _STATE_WORDS and not explained & set(element.members):
            part = element.part
            message = f"{element.name} {_STATE_WORDS[state]}, and no sub-circuit that was recognised accounts for it."
            found.append(Problem(part.place, message, source=part.source, severity="warning", code=f"device-{state}"))
    return found


# A pair idles too high from this many times the peak of a full class-A swing, where that heats it this much (watts)
# and the load is one that asks for power (ohms): of a pair that drives the next one, much idle current is usual.
_FAR_TOO_MUCH, _WARMTH, _LARGEST_LOAD = 3.0, 0.25, 1e3


def is_far_too_much(idle: float, swing: float, volts: float, ohms: float) -> bool:
    """Whether a pair idles far above what any swing asks for: amperes of each, volts across each, ohms of the load."""
    return ohms <= _LARGEST_LOAD and idle >= _FAR_TOO_MUCH * swing and idle * volts >= _WARMTH


def excess_warnings(circuit: Circuit, classes: Sequence[StageClass]) -> list[Problem]:
    """Pairs that idle far above what any swing into their load asks for."""
    found = []
    for item in classes:
        if not item.idle or not item.swing or not item.volts or not item.ohms:
            continue
        times = item.idle / item.swing
        if not is_far_too_much(item.idle, item.swing, item.volts, item.ohms):
            continue
        part = circuit.part(item.devices[0])
        message = (
            f"{joined(item.devices)} idle at {show(item.idle, 'A', 2)} each, {times:.2g} times what a full swing in "
            "class A would take: far too much for this load."
        )
        mend = "Is a part of their bias missing, open or the wrong way round?"
        found.append(Problem(part.place, message, mend=mend, source=part.source, severity="warning", code="idle-high"))
    return found


def _broken_path(circuit: Circuit, views: Views, way: Way) -> Problem:
    """Where the signal stops."""
    net = views.graph.nets[way.end]
    place = circuit.net_places.get(net, Place(circuit.file))
    if way.elements:
        last = views.graph.elements[way.elements[-1]].name
        message = (
            f"The signal can be followed from the input to {last}, net {net}; nothing leads from there to the output."
        )
    else:
        message = f"The signal cannot be followed from the input, net {net}: no part hands it on."
    return Problem(place, message, severity="warning", code="path-broken-off")
