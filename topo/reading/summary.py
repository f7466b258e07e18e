"""The first sentence: what the circuit is, as a practitioner would say it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import groupby

from topo.netlist.circuit import Circuit, Port
from topo.netlist.kinds import in_group
from topo.quantities import show, show_range
from topo.reading.reading import Block, StageClass, Step
from topo.views.view import Views

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_LOAD_WORDS = {"speaker": "loudspeaker", "headphones": "headphones", "antenna": "aerial", "lamp": "lamp"}
# A resistor from the output to ground is called the load up to this many ohms; above, it is a leak.
_LARGEST_LOAD = 1e3
_STAGE_SORTS = frozenset({"stage", "driver", "splitter", "output"})
_RADIO_FREQUENCY = 100e3


def summarise(
    circuit: Circuit,
    views: Views,
    blocks: Sequence[Block],
    classes: Sequence[StageClass],
    path: Sequence[Step],
    arrives: bool,
    outputs: Sequence[Port],
    wholes: Sequence[tuple[float, Block]],
    owners: Sequence[Block],
) -> str:
    """One sentence.

    Args:
        arrives: whether the signal path leads from the input to the output.
        wholes: kept composites of sort "whole", with their ranks.
        owners: kept blocks that take their devices over (oscillators, multivibrators and the like).
    """
    tail = _load_words(circuit, views, outputs)
    band = _band_words(views)
    on_path = {ref for step in path for ref in step.refs}
    found = [block for block in blocks if block.sort in _STAGE_SORTS]
    driven = {ref for block in found if block.sort == "output" for ref in block.devices}
    found = [block for block in found if block.sort != "splitter" or not set(block.devices) <= driven]
    stages = [block for block in found if set(_working_parts(circuit, block)) & on_path]
    aside = owners if arrives and circuit.inputs and not any(on_path & set(block.devices) for block in owners) else ()
    if wholes:
        rank, block = max(wholes, key=lambda item: (item[0], len(item[1].parts), -item[1].number))
        again = _again(block, [other for other_rank, other in wholes if other_rank == rank])
        if block in owners:
            tail = "" if tail.startswith("into ") else tail
            head = capital(with_article(block.name)) + _beside_owners(blocks, owners)
            if aside and stages:
                head = _with_owners(stages, aside)
            return ", ".join(word for word in (head, tail) if word) + "."
        if again > 1:
            head, tail = _counted([block.name] * again)[0], tail and f"{tail} each"
        else:
            head = with_article(block.name)
        said = [capital(head), _class_words(_driving_the_load(block, blocks), classes), *band, tail]
        return ", ".join(word for word in said if word) + "."
    if owners:
        names = [with_article(block.name) for block in owners]
        return capital(joined(list(dict.fromkeys(names)))) + _beside_owners(blocks, owners) + "."
    if stages and arrives:
        closed = {ref for item in classes if item.letter == "switch" for ref in item.devices}
        beside = [block for block in found if set(block.devices) - closed and block not in stages]
        teams = [block for block in blocks if block.sort == "compound" and len(block.devices) > 1]
        opaque = [ref for ref in on_path if circuit.part(ref).kind == "ic"]
        passed = f" On its way the signal passes {joined(sorted(opaque))}; what goes on inside is not known."
        amplify = all(block.devices or _whole_amplifiers(circuit, block) for block in stages)
        return (
            _by_stages(stages, teams, classes, [*band, tail] if tail else band, amplify)
            + (passed if opaque else "")
            + _beside_the_path(beside, stages, teams)
        )
    return _without_amplifier(circuit, blocks, on_path if arrives else set(), tail)


def _driving_the_load(block: Block, blocks: Sequence[Block]) -> Sequence[str]:
    """The devices of which a class is worth a word: of a whole with an output stage, those that belong to that."""
    last = {ref for other in blocks if other.sort in ("output", "driver") for ref in other.devices}
    return [ref for ref in block.devices if ref in last] if last else block.devices


def _by_stages(
    stages: Sequence[Block],
    teams: Sequence[Block],
    classes: Sequence[StageClass],
    tail: Sequence[str],
    amplify: bool,
) -> str:
    """A sentence from the stages on the path; stages that make a team are named by it.

    `amplify` says that each of them is an amplifier; a detector among them is none.
    """
    words = ", ".join(word for word in [_class_words(stages[-1].devices, classes), *tail] if word)
    names = _stage_names(stages, teams)
    if len(names) == 1:
        return ", ".join(word for word in (capital(with_article(names[0])), words) if word) + "."
    if not amplify:
        named = ", then ".join(_counted(names, articles=True))
        return f"{', '.join([capital(named), *tail])}" + _last_class(stages[-1], classes)
    named = ", then ".join(_counted(names))
    head = with_article(f"{_number(len(names))}-stage amplifier")
    return f"{capital(head)}{', ' + ', '.join(tail) if tail else ''}: {named}" + _last_class(stages[-1], classes)


def _with_owners(stages: Sequence[Block], owners: Sequence[Block]) -> str:
    """The stages that the signal passes, with the oscillators that only help."""
    named = ", then ".join(_counted([stage.name for stage in stages], articles=True))
    return f"{capital(named)}, with {joined(_counted([block.name for block in owners], articles=True))}"


def _beside_owners(blocks: Sequence[Block], owners: Sequence[Block]) -> str:
    """What is said of the stages beside an oscillator or the like, "" where there are none."""
    taken = {ref for block in owners for ref in block.devices}
    others = [
        block for block in blocks if block.sort in _STAGE_SORTS and block.devices and not taken & {*block.devices}
    ]
    return f", with {joined(_counted([block.name for block in others], articles=True))}" if others else ""


def _counted(names: Sequence[str], *, articles: bool = False) -> list[str]:
    """Names in order, alike neighbours under one number.

    >>> _counted(["emitter follower", "common-emitter stage", "common-emitter stage"])
    ['emitter follower', 'two common-emitter stages']
    """
    found: list[str] = []
    for name, alike in groupby(names):
        count = len(list(alike))
        if count == 1 or name.endswith("s"):
            found += [with_article(name) if articles else name] * count
        else:
            found.append(f"{_number(count)} {name}s")
    return found


def _number(count: int) -> str:
    """A small number in words."""
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _again(block: Block, others: Sequence[Block]) -> int:
    """How many blocks of the same name there are that share no part with one another, the given one among them."""
    parts = set(block.parts)
    count = 1
    for other in others:
        if other.pattern == block.pattern and not parts & set(other.parts):
            parts |= set(other.parts)
            count += 1
    return count


def _whole_amplifiers(circuit: Circuit, block: Block) -> list[str]:
    """Designators of operational amplifiers in a block."""
    return [ref for ref in block.parts if circuit.part(ref).kind == "opamp"]


def _working_parts(circuit: Circuit, block: Block) -> Sequence[str]:
    """Designators by which the path passes a stage: its devices, else the parts of a stage that has none."""
    return block.devices or _whole_amplifiers(circuit, block) or (block.parts if block.sort == "stage" else ())


def _stage_names(stages: Sequence[Block], teams: Sequence[Block]) -> list[str]:
    """Names of the stages in order, those of two or more devices that belong together under one name."""
    names: list[str] = []
    told: set[str] = set()
    for stage in stages:
        team = next((item for item in teams if stage.devices and set(stage.devices) < set(item.devices)), None)
        if team is None:
            names.append(stage.name)
        elif not told & set(team.devices):
            names.append(team.name)
            told |= set(team.devices)
    return names


def _beside_the_path(beside: Sequence[Block], stages: Sequence[Block], teams: Sequence[Block]) -> str:
    """What is said of stages that the signal from the input to the output does not pass."""
    own = {ref for block in stages for ref in block.devices}
    known = own | {ref for team in teams if own & set(team.devices) for ref in team.devices}
    apart = [block for block in beside if not known & set(block.devices)]
    if not apart:
        return ""
    if sorted(block.pattern for block in apart) == sorted(block.pattern for block in stages):
        devices = list(dict.fromkeys(ref for block in apart for ref in block.devices))
        return f" Apart from it, a second channel: {joined(devices)}."
    named = joined([with_article(block.name) for block in apart])
    return f" Apart from it, without a signal path between them: {named}."


def _last_class(stage: Block, classes: Sequence[StageClass]) -> str:
    """The class of the last stage, at the end of a sentence."""
    words = _class_words(stage.devices, classes)
    return f" in {words}." if words and stage.sort in ("output", "driver") else "."


def _without_amplifier(circuit: Circuit, blocks: Sequence[Block], on_path: Collection[str], tail: str) -> str:
    """What is said where no amplifier was found."""
    passed = [part.ref for part in circuit.parts if part.kind == "ic" and part.ref in on_path]
    if passed:
        what = "An integrated circuit" if len(passed) == 1 else "Integrated circuits"
        said = " ".join(
            word for word in (f"{what}, {joined(passed)},", "with the parts that it asks for,", tail) if word
        )
        return f"{said.rstrip(',')}. What goes on inside {joined(passed)} is not known."
    supplies = _supplies(circuit, blocks)
    if supplies:
        return f"{capital(', with '.join(with_article(name) for name in supplies))}."
    telling = [block for block in blocks if block.sort not in ("coupling", "feedback", "protection", "control")]
    if any(block.sort in _STAGE_SORTS for block in telling):
        telling = [block for block in telling if block.sort in _STAGE_SORTS | {"compound", "whole"}]
    if not telling:
        telling = [block for block in blocks if block.sort == "control"]
    names = sorted({block.name for block in telling}, key=lambda name: _importance(name, telling))
    devices = sum(part.kind in _DEVICE_KINDS for part in circuit.parts)
    opaque = [part.ref for part in circuit.parts if part.kind == "ic"]
    besides = f" What goes on inside {joined(opaque)} is not known." if opaque else ""
    if names:
        found = joined([with_article(name) for name in names[:5]])
        return f"Not recognised as a known circuit as a whole; found in it: {found}.{besides}"
    count = f"{len(circuit.parts)} part{'s' if len(circuit.parts) != 1 else ''}"
    return f"Not recognised as a known circuit: {count}, {devices} of them active devices.{besides}"


def _supplies(circuit: Circuit, blocks: Sequence[Block]) -> list[str]:
    """Names of the rectifiers and regulators where nothing else acts, those with devices first."""
    acting = {ref for block in blocks if block.sort not in ("compound", "protection") for ref in block.devices}
    found = [
        block
        for block in blocks
        if block.sort == "supply"
        and (block.devices or any(in_group(circuit.part(ref).kind, "diode") for ref in block.parts))
    ]
    if acting - {ref for block in found for ref in block.devices}:
        return []
    unknown = [part.ref for part in circuit.parts if part.kind in _DEVICE_KINDS | {"ic"} and part.ref not in acting]
    found.sort(key=lambda block: (not block.devices, block.number))
    return [] if unknown else list(dict.fromkeys(block.name for block in found))


def _importance(name: str, blocks: Sequence[Block]) -> tuple[int, int, str]:
    """Sorts the names of blocks: stages first, then by how many parts they hold."""
    own = [block for block in blocks if block.name == name]
    return min(block.sort not in _STAGE_SORTS for block in own), -max(len(block.parts) for block in own), name


_DEVICE_KINDS = frozenset(
    {"npn", "pnp", "njfet", "pjfet", "nmos", "pmos", "triode", "tetrode", "pentode", "opamp"},
)


def _class_words(devices: Sequence[str], classes: Sequence[StageClass]) -> str:
    """ "class AB", of the last of the classes given for any of the devices; "" where none or no amplifier's."""
    letters = [item.letter for item in classes if set(item.devices) & set(devices)]
    return f"class {letters[-1]}" if letters and letters[-1] in ("A", "AB", "B", "C") else ""


def _load_words(circuit: Circuit, views: Views, outputs: Sequence[Port]) -> str:
    """ "for an 8 ohm loudspeaker", "into 50 ohm", or "" where the file has no load at the output."""
    for port in outputs:
        here = [part for part in circuit.parts if any(terminal.net == port.net for terminal in part.terminals)]
        for part in here:
            if part.kind in _LOAD_WORDS:
                word = _LOAD_WORDS[part.kind]
                ohms = f"{show(part.value, 'ohm')} {word}" if part.value else word
                return f"for {ohms}" if word == "headphones" else f"for {with_article(ohms)}"
        load = _resistive_load(views, port)
        if load is not None:
            return f"into {show(load, 'ohm')}"
    return ""


def _resistive_load(views: Views, port: Port) -> float | None:
    """Ohms of the resistor (whatever it is made of) between a port's two nets, if it is small enough for a load."""
    graph = views.graph
    nodes = {graph.node_of.get(port.net), graph.node_of.get(port.reference, 0)}
    for element in graph.elements:
        if element.kind == "resistor" and set(element.nodes) == nodes and element.value:
            return element.value if element.value <= _LARGEST_LOAD else None
    return None


def _band_words(views: Views) -> list[str]:
    """The band, where it is one of radio frequency."""
    band = views.signal.band if views.signals else None
    return [show_range(*band, "Hz")] if band is not None and band[0] >= _RADIO_FREQUENCY else []


_SPOKEN_WITH_A_VOWEL = (
    "un-",
    "11 ",
    "18 ",
    "rf ",
    "rf-",
    "hf ",
    "if ",
    "mf ",
    "lf ",
    "npn ",
    "fm ",
    "r-c ",
    "rc ",
    "h-",
    "l-",
    "n-",
    "s-",
)


def with_article(noun: str) -> str:
    """A noun with "a" or "an", a plural without; numbers by how they are spoken.

    >>> with_article("emitter follower"), with_article("8 Ω loudspeaker"), with_article("two-stage amplifier")
    ('an emitter follower', 'an 8 Ω loudspeaker', 'a two-stage amplifier')
    >>> with_article("H-bridge"), with_article("high-pass filter")
    ('an H-bridge', 'a high-pass filter')
    """
    start = noun.casefold()
    if start.endswith("s") and not start.endswith(("ss", "us", "bias")):
        return noun
    spoken = start[0] in "aeio8" or start.startswith(_SPOKEN_WITH_A_VOWEL)
    silent = start.startswith(("one-", "eu", "uni"))
    return f"{'an' if spoken and not silent else 'a'} {noun}"


def capital(sentence: str) -> str:
    """A sentence with its first letter large."""
    return sentence[:1].upper() + sentence[1:]


def joined(words: Sequence[str]) -> str:
    """Words as a list in a sentence.

    >>> joined(["Q1", "Q2", "Q3"])
    'Q1, Q2 and Q3'
    """
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
