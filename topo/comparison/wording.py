"""How alike two circuits are, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from topo.comparison.aligning import ENDS, relation
from topo.comparison.comparison import BlockPair, Comparison, Member
from topo.comparison.numbers import gain_of, same_value
from topo.comparison.outline import Item, Outline, stage_parts
from topo.comparison.pairing import kind_of
from topo.quantities import show, show_percent, show_range
from topo.reading.reading import Reading
from topo.reading.summary import capital, joined, with_article

_FEW = 6
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
# Two currents or powers within this share of each other need no word.
_ALIKE = 0.05
# Amperes under which a device is said to carry no current.
_NEXT_TO_NOTHING = 1e-6


def likeness_of(draft: Comparison, one: Outline, two: Outline, stages: Sequence[tuple[Item, Item]]) -> tuple[str, str]:
    """How alike two circuits are (one of `LIKENESSES`), and what both are called ("" where there is no such name)."""
    common = _common_name(one, two, stages)
    sides = (draft.first, draft.second)
    plain = not any(side.extra or side.alone for side in sides)
    plain = plain and all(pair.relation == "same" for pair in draft.blocks)
    plain = plain and not any(pair.first_only or pair.second_only for pair in draft.blocks)
    plain = plain and not _other_devices(draft, two)
    if plain and draft.pairs:
        return "same", common
    if not (one.items or two.items):
        return "not known", ""
    complete = len(stages) == len(one.spine) == len(two.spine)
    related = all(relation(a, b) in ("same", "kin") for a, b in stages)
    if stages and complete and related and not _differs_in_structure(draft, one, two, stages):
        return "same circuit", common
    return ("partly alike" if stages else "different"), common


def _differs_in_structure(draft: Comparison, one: Outline, two: Outline, stages: Sequence[tuple[Item, Item]]) -> bool:
    """Whether like stages are put together otherwise: as a compound, or, without a name for the whole, by other
    couplings and feedback."""
    sorts = {member.sort for side in (draft.first, draft.second) for member in side.extra}
    if "compound" in sorts:
        return True
    if len(stages) == 1 or _shared_whole(one, two):
        return False
    means = {pair.first.sort for pair in draft.blocks if pair.relation == "other means"}
    on_path = [sum(_is_on_path(item, seen) for item in seen.spine) for seen in (one, two)]
    return bool((sorts | means) & {"coupling", "feedback"}) or on_path[0] != on_path[1]


def _is_on_path(item: Item, seen: Outline) -> bool:
    passed = {ref for step in seen.reading.path for ref in step.refs}
    return bool(passed & set(stage_parts(item, seen.reading)))


def _shared_whole(one: Outline, two: Outline) -> bool:
    """Whether both have a name as wholes, and one that is the same or kin."""
    theirs = {pattern.kin or pattern.slug for pattern, _ in two.wholes}
    return any((pattern.kin or pattern.slug) in theirs for pattern, _ in one.wholes)


def _other_devices(draft: Comparison, two: Outline) -> list[tuple[str, str, str, str]]:
    """Corresponding devices of another kind: designator and kind in A and in B."""
    mine, theirs = draft.first.reading.circuit.by_ref, two.reading.circuit.by_ref
    rows = [(pair.first, mine[pair.first].kind, pair.second, theirs[pair.second].kind) for pair in draft.pairs]
    return [row for row in rows if row[1] != row[3] and kind_of(mine[row[0]]) == "amplifying device"]


def _devices(draft: Comparison, two: Outline) -> list[str]:
    """Which corresponding devices are of another kind, in a sentence."""
    rows = _other_devices(draft, two)
    words = [f"{first} ({kind}) and {second} ({other})" for first, kind, second, other in rows]
    more = f", and {len(words) - _FEW} pairs more" if len(words) > _FEW else ""
    return [f"Devices of other kinds correspond: {'; '.join(words[:_FEW])}{more}."] if words else []


def _common_name(one: Outline, two: Outline, stages: Sequence[tuple[Item, Item]]) -> str:
    """What two circuits are both called: as wholes, or by the stages that correspond."""
    for mine, name in one.wholes:
        if any(theirs.slug == mine.slug for theirs, _ in two.wholes):
            return name
    if stages and len(stages) == len(one.spine) == len(two.spine):
        for mine, _ in one.wholes:
            if mine.kin and any(theirs.kin == mine.kin for theirs, _ in two.wholes):
                return mine.kin
    names = [_shared_name(a, b) for a, b in stages if relation(a, b) in ("same", "kin")]
    return _some(names[0], len(names)) if len(names) > 1 and len(set(names)) == 1 else ", then ".join(names)


def _shared_name(a: Item, b: Item) -> str:
    """What two related blocks are both called."""
    same = a.pattern.slug == b.pattern.slug and a.block.name == b.block.name
    return a.block.name if same else a.pattern.kin or a.pattern.name


def sentences(
    draft: Comparison, likeness: str, common: str, one: Outline, two: Outline, stages: Sequence[tuple[Item, Item]]
) -> tuple[str, ...]:
    """How alike they are, the most important first."""
    if likeness == "same":
        return _of_the_same(draft, common)
    means = _means_words(draft.blocks)
    if likeness == "not known":
        return ("How alike they are is not known: no sub-circuit is recognised in either.",)
    if likeness == "same circuit":
        known = "" if not _unread_devices(draft) else ", as far as it is recognised"
        head = f"The same circuit{known}, {_with_article(common)}" if common else f"The same circuit{known}"
        tail = f", with different means of {means}" if means else ""
        said = [f"{head}{tail}{_ends_of_one(draft)}.", *_extras(draft, "beside what corresponds", with_stages=True)]
        return (*said, *_devices(draft, two), *_bands(one.reading, two.reading), *_polarities(draft))
    if likeness == "partly alike":
        shared = [_shared_name(a, b) for a, b in stages if relation(a, b) in ("same", "kin")]
        head = f"Alike in part: both have {_counted(shared)}" if shared else "Alike in what they are for"
        tail = f"; different means of {means}" if means else ""
        return (f"{head}{tail}.", *_stages_of_one(one, two, stages), *_extras(draft, "beside the stages"))
    said = [f"Different circuits. {_called('A', one)} {_called('B', two)}"]
    shared_blocks = [pair for pair in draft.blocks if pair.relation in ("same", "kin")]
    if shared_blocks:
        names = list(dict.fromkeys(pair.common for pair in shared_blocks))
        said.append(f"Both have {joined([with_article(name) for name in names])}.")
    return tuple(said)


def _with_article(common: str) -> str:
    """A name with its article, unless it begins with a number."""
    return common if common.split(" ")[0] in _NUMBERS else with_article(common)


def _unread_devices(draft: Comparison) -> bool:
    """Whether there are devices without a counterpart in no block of theirs."""
    sides = (draft.first, draft.second)
    return any(kind_of(side.reading.circuit.by_ref[ref]) == "amplifying device" for side in sides for ref in side.alone)


def _called(letter: str, seen: Outline) -> str:
    """What a circuit is, as a sentence that begins with its letter."""
    summary = seen.reading.summary or "Not recognised."
    with_verb = summary.startswith(("A ", "An "))
    return f"{letter} is {summary[:1].lower()}{summary[1:]}" if with_verb else f"{letter}: {summary}"


def _of_the_same(draft: Comparison, common: str) -> tuple[str, ...]:
    """Two circuits in which everything corresponds."""
    head = f"The same circuit, {_with_article(common)}, part for part" if common else "The same circuit, part for part"
    one, two = draft.first.reading.circuit, draft.second.reading.circuit
    changed = [pair for pair in draft.pairs if not same_value(one.by_ref[pair.first], two.by_ref[pair.second])]
    count = len(draft.pairs)
    if not changed:
        values = f"{_all(count)} with the same values" if count > 1 else "with the same value"
    else:
        of = f"{len(changed)} of {count} parts" if count > 1 else "the one part"
        values = f"{of} with {'another value' if len(changed) == 1 else 'other values'}"
    return (f"{head}: {values}.", *_bands(draft.first.reading, draft.second.reading), *_polarities(draft))


def _all(count: int) -> str:
    return "both parts" if count == 2 else f"all {count} parts"


def _means_words(blocks: Iterable[BlockPair]) -> str:
    """ "bias: resistor-and-diode bias (R9, D1) in A, a VBE multiplier (Q6, R3) in B; ..."; "" where there are none."""
    found = [pair for pair in blocks if pair.relation == "other means"]
    words = []
    for end in dict.fromkeys(pair.common for pair in found):
        here = [pair for pair in found if pair.common == end]
        first, second = ([getattr(pair, side) for pair in here] for side in ("first", "second"))
        words.append(f"{end}: {_listed_members(first)} in A, {_listed_members(second)} in B")
    return "; ".join(words)


def _listed_members(members: Sequence[Member]) -> str:
    """Blocks by name, each once, with their parts: "divider bias (R1, R2)"."""
    parts: dict[str, list[str]] = {}
    for member in members:
        parts.setdefault(member.name, []).extend(member.telling)
    return joined([f"{parts_name(name, refs)} ({_refs(refs)})" if refs else name for name, refs in parts.items()])


_PART_NAMES = ("bead", "capacitor", "choke", "resistor", "diode")


def parts_name(name: str, refs: Sequence[str]) -> str:
    """The name of a block that is one part by name, for several of them: "ferrite beads"."""
    return f"{name}s" if len(refs) > 1 and name.endswith(_PART_NAMES) else name


def _refs(refs: Sequence[str]) -> str:
    shown = list(dict.fromkeys(refs))
    if len(shown) > _FEW:
        return f"{', '.join(shown[: _FEW - 1])} and {len(shown) - _FEW + 1} more"
    return ", ".join(shown)


def _extras(draft: Comparison, where: str, *, with_stages: bool = False) -> list[str]:
    """What only one side has about the stages that correspond."""
    said = []
    for letter, side in (("A", draft.first), ("B", draft.second)):
        shown = [member for member in side.extra if with_stages or member.sort not in _STAGES]
        shown = [member for member in shown if not (with_stages and member.sort in _TOLD_FIRST)]
        if shown:
            said.append(f"{letter} alone has, {where}: {_listed_members(shown)}.")
    return said


_STAGES = frozenset({"stage", "driver", "output"})
_TOLD_FIRST = frozenset({"bias"})


def _ends_of_one(draft: Comparison) -> str:
    """ ", with bias in B alone: a diode spreader (D1, D2)"; "" where both or neither have more of it."""
    words = []
    for letter, side in (("A", draft.first), ("B", draft.second)):
        for sort in sorted(_TOLD_FIRST):
            mine = [member for member in side.extra if member.sort == sort]
            if mine:
                served = dict.fromkeys(ref for member in mine for ref in member.serves)
                others = any(pair.first.sort == sort for pair in draft.blocks)
                whose = f" of {_refs(list(served))}" if others and served else ""
                words.append(f"{ENDS[sort]}{whose} in {letter} alone: {_listed_members(mine)}")
    joint = ";" if _means_words(draft.blocks) else ","
    return f"{joint} with {', and with '.join(words)}" if words else ""


def _stages_of_one(one: Outline, two: Outline, stages: Sequence[tuple[Item, Item]]) -> list[str]:
    """The stages that have no counterpart."""
    said = []
    for letter, seen, side in (("A", one, 0), ("B", two, 1)):
        mine = [item for item in seen.spine if all(item is not pair[side] for pair in stages)]
        if mine:
            refs: dict[str, list[str]] = {}
            for item in mine:
                refs.setdefault(item.block.name, []).extend(stage_parts(item, seen.reading))
            names = [item.block.name for item in mine]
            named = [f"{_some(name, names.count(name))} ({_refs(found)})" for name, found in refs.items()]
            said.append(f"{letter} alone has {joined(named)}.")
    return said


def _counted(names: Sequence[str]) -> str:
    """Names with how many there are of each: "two common-emitter stages and an emitter follower"."""
    return joined([_some(name, names.count(name)) for name in dict.fromkeys(names)])


def _some(name: str, count: int) -> str:
    """A name with its article, or with a number and in the plural."""
    if count == 1:
        return with_article(name)
    number = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return f"{number} {name if name.endswith('s') else f'{name}s'}"


def _bands(first: Reading, second: Reading) -> list[str]:
    """The bands, where they are apart."""
    mine, theirs = first.circuit.band, second.circuit.band
    if not mine or not theirs or (mine[0] <= theirs[1] and theirs[0] <= mine[1]):
        return []
    return [f"Their bands are apart: A works from {show_range(*mine, 'Hz')}, B from {show_range(*theirs, 'Hz')}."]


def _polarities(draft: Comparison) -> list[str]:
    """Whether the one is the other way up than the other."""
    if draft.turned:
        return ["B is the other way up: its polarities are turned over for the comparison."]
    return []


def consequences(draft: Comparison) -> tuple[str, ...]:
    """What the differences come to, as far as the numbers and the patterns say."""
    return (*_classes(draft), *_gains(draft), *_adjustments(draft), *_lacking(draft))


def _classes(draft: Comparison) -> list[str]:
    """Class of operation and idle current of each pair of stages."""
    said = []
    for pair in draft.stages:
        numbers = {row.name: (row.first, row.second) for row in pair.figures}
        idle, swing = (numbers.get(name, (None, None)) for name in ("current at rest", "current of a full swing"))
        if not pair.first_class or not pair.second_class or idle[0] is None or idle[1] is None:
            continue
        mine, theirs = (
            _class_words(pair.first_class, idle[0], swing[0]),
            _class_words(pair.second_class, idle[1], swing[1]),
        )
        if pair.first_class == pair.second_class and abs(idle[0] - idle[1]) <= _ALIKE * max(idle[0], idle[1]):
            continue
        said.append(f"{_refs(pair.first)} in A: {mine}; {_refs(pair.second)} in B: {theirs}.")
    return said


def _class_words(letter: str, idle: float, swing: float | None) -> str:
    name = f"class {letter}" if letter in ("A", "AB", "B", "C") else letter
    if idle < _NEXT_TO_NOTHING:
        return f"{name}, no current at rest"
    part = f" ({show_percent(idle / swing)} of a full swing in class A)" if swing and letter in ("AB", "B") else ""
    return f"{name} with {show(idle, 'A', 2)} at rest{part}"


def _gains(draft: Comparison) -> list[str]:
    """The gain of both circuits, where both are compared as wholes."""
    if draft.first.outside or draft.second.outside:
        return []
    mine, theirs = gain_of(draft.first.reading), gain_of(draft.second.reading)
    if mine is None or theirs is None or abs(mine - theirs) < 0.5:
        return []
    return [f"Voltage gain from input to output: {_decibels(mine)} in A, {_decibels(theirs)} in B."]


def _decibels(value: float) -> str:
    return show(value, "dB", 2).replace("-", "−")


def _adjustments(draft: Comparison) -> list[str]:
    """Which trimmers set currents at rest, where only one of the two has any."""
    found = []
    for side in (draft.first, draft.second):
        inside = set(side.compared)
        found.append([ref for ref in side.reading.bias_trimmers if ref in inside])
    if bool(found[0]) == bool(found[1]):
        return []
    letter, other, refs = ("A", "B", found[0]) if found[0] else ("B", "A", found[1])
    verb = "adjusts" if len(refs) == 1 else "adjust"
    return [f"{_refs(refs)} {verb} the current at rest in {letter}; in {other} it is as the parts make it."]


def _lacking(draft: Comparison) -> list[str]:
    """What the parts do that only one side has within corresponding blocks of one kind."""
    said = []
    for pair in draft.blocks:
        if pair.relation == "other means":
            continue
        for member, other in ((pair.first, "B"), (pair.second, "A")):
            for refs, words in member.without:
                said.append(f"{other} goes without {_refs(refs)} of {'A' if other == 'B' else 'B'}: {words}.")
    return [capital(sentence) for sentence in dict.fromkeys(said)]
