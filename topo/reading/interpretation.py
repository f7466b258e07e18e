"""The whole of a reading: from a circuit to what is understood of it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from topo.analysis import operating_point
from topo.analysis.exchanged import set_right
from topo.analysis.sanity import check_with_point
from topo.graph import normalise
from topo.graph.graph import Graph
from topo.matching.composites import compose
from topo.matching.context import Context
from topo.matching.devices import are_parallel
from topo.matching.engine import matches
from topo.matching.filling import fill
from topo.matching.match import Match
from topo.matching.shelf import Library
from topo.matching.shelf import library as shipped_library
from topo.netlist.circuit import Circuit, Port
from topo.reading.blocks import build_blocks
from topo.reading.cautions import cautions
from topo.reading.claims import Claim, claim_of, devices_of
from topo.reading.classes import classes
from topo.reading.driving import Driven, drive, node_of_net
from topo.reading.feedback import loop_sign
from topo.reading.flow import Flow, electrode, flow_by_position, flow_by_power
from topo.reading.legs import changers, through_opaque, through_the_bands
from topo.reading.near_misses import near_misses
from topo.reading.ordering import in_signal_order, served_devices
from topo.reading.path import Way, find_way
from topo.reading.phases import phase_warnings
from topo.reading.ports import infer_ports, is_connector, is_drive, is_transducer
from topo.reading.reading import Reading, Step
from topo.reading.remarks import assumptions, excess_warnings, warnings
from topo.reading.resolution import resolve
from topo.reading.sections import find_sections, section_warnings
from topo.reading.summary import capital, summarise
from topo.reading.trimmers import bias_trimmers
from topo.views import views as make_views
from topo.views.view import View, Views

# A part of these that has no value is missing from the numbers, though the signal may well pass it.
_VALUED = frozenset({"capacitor", "inductor", "choke"})
_NOT_ACTING = frozenset({"off", "saturated", "reversed"})
_AMPLIFYING_SORTS = frozenset({"stage", "driver", "splitter", "output"})


@dataclass(frozen=True)
class Settled:
    """A circuit with its ports, its views, and the claims that are kept, composites among them."""

    circuit: Circuit
    views: Views
    claims: tuple[Claim, ...]
    inferred: tuple[bool, bool]


def read(circuit: Circuit, library: Library | None = None, *, advice: bool = True) -> Reading:
    """Reads a circuit: what its sub-circuits are, in signal order, and what the circuit as a whole is.

    Args:
        circuit: as typed; ports that it does not give are found, and said to be found.
        library: the patterns to look for; the shipped ones when None.
        advice: whether near misses, warnings and cautions are wanted; they take a fifth of the time.
    Returns:
        A reading, whatever the circuit: where the operating point is not solved, by position, and marked so.
    """
    patterns = shipped_library() if library is None else library
    circuit = set_right(circuit)
    settled = settle(circuit, patterns)
    views = settled.views
    inputs, outputs = settled.circuit.inputs, settled.circuit.outputs
    driven = drive(views, inputs[0]) if inputs and not views.by_position else None
    way = find_path(settled, patterns)
    served = {id(claim): served_devices(claim, views) for claim in settled.claims}
    ordered = in_signal_order(settled.claims, way.elements if way else (), served, views.graph)
    along = way.nodes if way else ()
    loops = {id(claim): loop_sign(claim, views, along) for claim in ordered if claim.sort == "feedback"}
    context = Context(views, patterns)
    blocks = build_blocks(ordered, context, served, loops)
    stage_classes = classes(ordered, views)
    arrives = way is not None and way.arrives
    by_claim = dict(zip((id(claim) for claim in ordered), blocks, strict=True))
    steps = _with_transducers(way, settled.circuit, views.graph) if way else ()
    summary = summarise(
        circuit,
        views,
        blocks,
        stage_classes,
        steps,
        arrives,
        outputs,
        [(claim.rank, by_claim[id(claim)]) for claim in ordered if claim.sort == "whole"],
        [by_claim[id(claim)] for claim in ordered if claim.kind == "takes over"],
    )
    explained = {ref for block in blocks for refs in (block.parts, *block.roles.values()) for ref in refs}
    # What stands at the pins of an integrated circuit does not say what that is.
    opaque = {part.ref for part in circuit.parts if part.kind == "ic"}
    explained -= opaque - {ref for block in blocks for ref in block.parts}
    ends = [*_transducers(circuit, inputs), *_transducers(circuit, outputs)]
    explained |= {*views.graph.links, *ends, *(part.ref for part in circuit.parts if is_connector(part))}
    restless = {ref for claim in ordered if claim.kind == "takes over" for ref in by_claim[id(claim)].devices}
    sections = find_sections(settled.circuit, views, ordered, way, patterns, served)
    amplifies = any(block.sort in _AMPLIFYING_SORTS for block in blocks)
    of_voltages = check_with_point(circuit, views.point)
    return Reading(
        circuit=circuit,
        views=views,
        blocks=blocks,
        path=steps,
        classes=stage_classes,
        inputs=inputs,
        outputs=outputs,
        ports_inferred=any(settled.inferred),
        summary=summary,
        bias_trimmers=bias_trimmers(ordered, views),
        not_recognised=tuple(part.ref for part in circuit.parts if part.ref not in explained),
        near_misses=near_misses(settled, patterns, way) if advice else (),
        assumptions=assumptions(circuit, views, inputs, outputs, settled.inferred),
        warnings=(
            *warnings(circuit, views, blocks, way, amplifies, restless, of_voltages),
            *phase_warnings(ordered, circuit, views, driven),
            *excess_warnings(circuit, stage_classes),
            *section_warnings(circuit, sections, views),
        ),
        cautions=cautions(circuit, views, stage_classes, _pattern_cautions(ordered, context)),
        sections=sections,
        of_voltages=of_voltages,
    )


def settle(circuit: Circuit, patterns: Library) -> Settled:
    """Solves, views, matches and resolves a circuit: all that the rest of the reading builds on."""
    ported, views, inferred = views_with_ports(circuit)

    def claim(match: Match) -> Claim:
        return claim_of(match, patterns, views.graph)

    kept = resolve(claim(match) for match in matches(views, patterns))
    composed = [claim(match) for match in compose([item.match for item in kept], patterns, views)]
    composed = [item for item in composed if not any(_says_less(item, other) for other in composed)]
    return Settled(ported, views, (*kept, *composed), inferred)


def _says_less(claim: Claim, other: Claim) -> bool:
    """Whether a name for the whole is within another one that holds more."""
    return claim.sort == other.sort == "whole" and claim.rank <= other.rank and claim.given < other.given


def views_with_ports(circuit: Circuit) -> tuple[Circuit, Views, tuple[bool, bool]]:
    """A circuit with its ports and its views; ports that are not given are found on first views without them."""
    views = _views(circuit)
    wanted = (not circuit.inputs, not circuit.outputs)
    if not any(wanted) or not views.signals:
        return circuit, views, (False, False)
    inputs, outputs = infer_ports(views, inputs=wanted[0], outputs=wanted[1])
    if not inputs and not outputs:
        return circuit, views, (False, False)
    ported = replace(circuit, inputs=circuit.inputs or inputs, outputs=circuit.outputs or outputs)
    return ported, _views(ported), (wanted[0] and bool(inputs), wanted[1] and bool(outputs))


def _views(circuit: Circuit) -> Views:
    """The views of a circuit."""
    graph = normalise(circuit)
    return make_views(graph, operating_point(graph))


def find_path(settled: Settled, patterns: Library) -> Way | None:
    """The signal's way from the first input to the output, by power or else by position; through mixers and detectors
    where there are several bands, and through an integrated circuit where nothing else leads on."""
    views, graph = settled.views, settled.views.graph
    if not settled.circuit.inputs or not views.signals:
        return None
    driven = None if views.by_position else drive(views, settled.circuit.inputs[0])
    start = node_of_net(graph, settled.circuit.inputs[0].net)
    goals = {node for port in settled.circuit.outputs if (node := node_of_net(graph, port.net)) is not None}
    if start is None or start in goals:
        return None
    feedback, pairs = _feedback_elements(settled.claims, views), _pairs(settled.claims)
    leads = {index: _control_lead(views, index) for pair in pairs for side in pair for index in sorted(side)}
    fellows = _fellows(settled.claims, views)
    by_power = None

    def flow_of(here: Driven, band: int, barred: Collection[int]) -> Flow:
        made = flow_by_power(
            graph,
            views.signals[band],
            here.volts,
            here.powers,
            here.frequency,
            idle=_idle_elements(views),
            feedback=feedback,
            without=barred,
        )
        return replace(made, fellows=fellows)

    def find(flow: Flow, view: View, node: int, ends: Collection[int]) -> Way:
        return find_way(flow, view, node, ends, pairs, leads)

    found = changers(settled.claims, patterns, views)
    banded = len(views.signals) > 1 or any(changer.same_band for changer in found)
    if found and banded and not views.by_position:
        way = through_the_bands(views, start, settled.circuit.inputs[0], goals, found, flow_of, find)
        if way is not None:
            return way
    if driven is not None:
        by_power = find(flow_of(driven, 0, ()), views.signal, start, goals)
        past = None if by_power.arrives else through_opaque(views, start, goals, flow_of, find)
        if past is not None:
            return past
        valued = all(element.value is not None for element in graph.elements if element.kind in _VALUED)
        if by_power.arrives or (views.point.solved and valued):
            return by_power
    by_position = find_way(
        replace(flow_by_position(graph, views.signal, feedback=feedback), fellows=fellows),
        views.signal,
        start,
        goals,
        pairs,
        leads,
    )
    return by_power if by_power is not None and not by_position.arrives else by_position


def _fellows(claims: Sequence[Claim], views: Views) -> dict[int, tuple[int, ...]]:
    """For each device of a set in parallel that is kept as one, the elements of the set in file order."""
    found: dict[int, tuple[int, ...]] = {}
    for claim in claims:
        for device in devices_of(claim.match):
            members = [views.graph.elements[index] for index in sorted(device.elements)]
            if (
                claim.stage
                and set(device.elements) <= claim.stage
                and len(members) > 1
                and are_parallel(members, views.graph)
            ):
                found.update(dict.fromkeys(device.elements, tuple(element.index for element in members)))
    return found


def _control_lead(views: Views, index: int) -> tuple[int, ...]:
    """The parts in the lead of a device's control electrode."""
    from topo.views.leads import leads

    terminal = electrode(views.graph.elements[index], "ctl")
    if terminal is None:
        return ()
    walked = leads(views, views.wire, index, terminal, sort="ctl")
    return tuple(dict.fromkeys(element for lead in walked for element in lead.passed))


def _idle_elements(views: Views) -> set[int]:
    """Devices that hand nothing on: off, saturated or reversed, and not driven into conduction by the signal."""
    states = views.point.states
    return {index for index, state in states.items() if state in _NOT_ACTING and index not in views.driven}


def _with_transducers(way: Way, circuit: Circuit, graph: Graph) -> tuple[Step, ...]:
    """The steps of a way, with what turns the signal into electricity before them and what it is for behind them."""
    here = [port for port in circuit.outputs if node_of_net(graph, port.net) == way.end]
    first = [Step(((ref,),), circuit.inputs[0].net, "+") for ref in _transducers(circuit, circuit.inputs[:1])]
    last = [
        Step(((ref,),), "", way.steps[-1].sign if way.steps else "")
        for ref in _transducers(circuit, here or circuit.outputs)
    ]
    shown = {ref for step in way.steps for ref in step.refs}
    before = [step for step in first if not set(step.refs) & shown]
    after = [step for step in last if not set(step.refs) & shown] if way.arrives else []
    return (*before, *way.steps, *after)


def _transducers(circuit: Circuit, ports: Sequence[Port]) -> list[str]:
    """Loudspeakers, aerials, microphones and the like on the nets of ports; sources that stand at one."""
    nets = {port.net for port in ports}
    return [
        part.ref
        for part in circuit.parts
        if (is_transducer(part) or is_drive(part, circuit)) and any(terminal.net in nets for terminal in part.terminals)
    ]


def _feedback_elements(claims: Sequence[Claim], views: Views) -> set[int]:
    """Elements that only feedback claims speak of."""
    graph = views.graph
    back = {ref for claim in claims if claim.sort == "feedback" for ref in claim.given}
    forward = {ref for claim in claims if claim.sort not in ("feedback", "whole") for ref in claim.given}
    return {graph.element_of[ref] for ref in back - forward if ref in graph.element_of}


def _pairs(claims: Sequence[Claim]) -> list[tuple[frozenset[int], frozenset[int]]]:
    """The two sides of each kept claim of two devices that share the signal."""
    found = []
    for claim in claims:
        sides = [device for device in devices_of(claim.match) if claim.stage and set(device.elements) <= claim.stage]
        if len(sides) == 2 and claim.kind == "stage":
            found.append((frozenset(sides[0].elements), frozenset(sides[1].elements)))
    return found


def _pattern_cautions(claims: Sequence[Claim], context: Context) -> list[str]:
    """The cautions of the kept patterns in the order of the blocks; what a text asks for and is not known drops it."""
    found: list[str] = []
    for claim in claims:
        for text in context.library.texts(claim.pattern).cautions:
            filled = fill(text, claim.match, context)
            if filled is not None:
                found.append(capital(filled.text))
    return list(dict.fromkeys(found))
