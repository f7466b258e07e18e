"""Compares two readings: blocks first, then their parts, then what the numbers say of the difference."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from topo.comparison.aligning import ENDS, LEAVES, aligned_besides, aligned_stages, relation
from topo.comparison.comparison import BlockPair, Comparison, Member, PartPair, Side
from topo.comparison.focus import Focus, narrowed
from topo.comparison.numbers import Scale, scale_of, shared_figures, stage_pair, value_words
from topo.comparison.outline import Item, Outline, outline, stage_parts
from topo.comparison.pairing import Counterparts, Pair, kind_of, paired, paired_leads
from topo.comparison.places import pairs_by_place
from topo.comparison.purposes import Purposes
from topo.comparison.turning import right_way_up
from topo.comparison.wording import consequences, likeness_of, sentences
from topo.matching.shelf import Library
from topo.matching.shelf import library as shipped_library
from topo.reading.reading import Reading


def compare(
    first: Reading,
    second: Reading,
    *,
    focus: tuple[Focus | None, Focus | None] = (None, None),
    library: Library | None = None,
) -> Comparison:
    """Compares two circuits part by part through their readings.

    Args:
        focus: of A and of B: the stages that are meant. Where only one has a focus, what corresponds to it is looked
            for in the whole of the other, and the rest of that stands outside of the comparison.
    """
    patterns = shipped_library() if library is None else library
    asked = second
    second, turned = right_way_up(first, second, patterns)
    one, two = narrowed(outline(first, patterns), focus[0]), narrowed(outline(second, patterns), focus[1])
    stages = aligned_stages(one, two)
    if stages and (focus[0] is None) != (focus[1] is None):
        if focus[0] is None:
            one = narrowed(one, _counterpart([a for a, _ in stages], first))
        else:
            two = narrowed(two, _counterpart([b for _, b in stages], second))
    found = _Comparing(one, two, focus, patterns).compared(turned)
    return replace(found, second=replace(found.second, reading=asked))


def _counterpart(items: Iterable[Item], reading: Reading) -> Focus:
    return Focus("", frozenset(ref for item in items for ref in stage_parts(item, reading)))


# So many parts around, nothing of a circuit is left out.
_WHOLLY = 8
_OF_DIRECT_CURRENT = frozenset({"bias", "supply"})


class _Comparing:
    """One comparison while it is made."""

    def __init__(self, one: Outline, two: Outline, focus: tuple[Focus | None, Focus | None], library: Library) -> None:
        self.one, self.two = one, two
        self.focus = focus
        self.circuits = (one.reading.circuit, two.reading.circuit)
        self.purposes = (Purposes(one.reading, library), Purposes(two.reading, library))
        self.known = Counterparts()
        self.found: list[tuple[Item, Item, list[Pair]]] = []
        self.told: tuple[set[str], set[str]] = (set(), set())

    def compared(self, turned: bool) -> Comparison:
        stages = aligned_stages(self.one, self.two)
        for a, b in stages:
            self._pair(a, b)
        self._pair_besides(stages)
        for a, b, pairs in self.found:
            pairs += paired_leads(a, b, *self.circuits, self.known)
        self.scales = self._scales(stages)
        rest = self._rest()
        blocks = self._blocks()
        sides = (self._side(0, self.one), self._side(1, self.two))
        numbers = tuple(stage_pair(a, b, self.one.reading, self.two.reading) for a, b in stages)
        numbers = tuple(pair for pair in numbers if pair.first_class or pair.second_class or pair.figures)
        draft = Comparison("", "", (), *sides, blocks, rest, numbers, turned=turned)
        likeness, common = likeness_of(draft, self.one, self.two, stages)
        said = sentences(draft, likeness, common, self.one, self.two, stages)
        return replace(draft, likeness=likeness, common=common, sentences=said, consequences=consequences(draft))

    def _pair(self, a: Item, b: Item) -> None:
        self.found.append((a, b, paired(a, b, *self.circuits, self.known)))

    def _pair_besides(self, stages: Sequence[tuple[Item, Item]]) -> None:
        """Pairs the blocks about the stages, then those about what these have paired, and so on."""
        for leave in LEAVES:
            while True:
                done = ({id(a) for a, _, _ in self.found}, {id(b) for _, b, _ in self.found})
                left = [item for item in self.one.items if id(item) not in done[0]]
                right = [item for item in self.two.items if id(item) not in done[1]]
                fresh = aligned_besides(left, right, self.known.to_second, leave)
                if not fresh:
                    break
                first_means = next(
                    (place for place, (a, b) in enumerate(fresh) if relation(a, b) == "other means"), len(fresh)
                )
                # Other means stand in only for what has no counterpart of its own kind.
                for a, b in fresh[:first_means] or fresh:
                    self._pair(a, b)

    def _scales(self, stages: Sequence[tuple[Item, Item]]) -> dict[str, Scale]:
        """The scale between corresponding stages that have a known load, by the devices of A."""
        readings = (self.one.reading, self.two.reading)
        found: dict[str, Scale] = {}
        for a, b in stages:
            scale = scale_of(a, b, *readings) if relation(a, b) != "other means" else None
            if scale is not None:
                found.update(dict.fromkeys(stage_parts(a, readings[0]), scale))
        return found

    def _scale(self, item: Item) -> Scale | None:
        """The scale for the parts of a block of A: those that the load has a say in, not bias and supply."""
        if item.block.sort in _OF_DIRECT_CURRENT:
            return None
        about = [*stage_parts(item, self.one.reading), *sorted(item.about)]
        return next((self.scales[ref] for ref in about if ref in self.scales), None)

    def _rest(self) -> tuple[PartPair, ...]:
        """Pairs of parts that no block has paired and that no block of one side alone speaks of."""
        spoken = tuple({ref for item in seen.items for ref in item.parts} for seen in (self.one, self.two))
        left, right = (
            [ref for ref in self._within(side, seen) if ref not in spoken[side]]
            for side, seen in enumerate((self.one, self.two))
        )
        found = pairs_by_place(*self.circuits, self.known.to_second, left, right)
        found = [pair for pair in found if self.known.add(*pair)]
        # Where all that is around them is alike, no reading is needed to tell that two parts are at one place.
        left, right = (
            [ref for ref in self._within(side, seen) if ref not in known]
            for side, (seen, known) in enumerate(((self.one, self.known.to_second), (self.two, self.known.to_first)))
        )
        deep = pairs_by_place(*self.circuits, {}, left, right, _WHOLLY)
        found += [pair for pair in deep if self.known.add(*pair)]
        return tuple(self._part_pair((a, b, "", ""), None, by_place=True) for a, b in found)

    def _within(self, side: int, seen: Outline) -> list[str]:
        """Designators that are compared, in the order of the file: all of them, or those of the blocks in focus."""
        refs = [part.ref for part in self.circuits[side].parts]
        whole = narrowing_none(self.focus)
        inside = {ref for item in seen.items for ref in item.parts}
        return [ref for ref in refs if whole or ref in inside]

    def _blocks(self) -> tuple[BlockPair, ...]:
        """The pairs of blocks with their pairs of parts, in the order of A; parts of roles before those in leads."""
        self.found.sort(key=lambda row: row[0].block.number)
        self.first_told = tuple(self._of_lone_stages(side, seen) for side, seen in enumerate((self.one, self.two)))
        own: list[tuple[list[str], list[str]]] = []
        for a, b, _ in self.found:
            own.append((self._take(0, _with_roles(a)), self._take(1, _with_roles(b))))
        self.extra = tuple(self._extra(side, seen) for side, seen in enumerate((self.one, self.two)))
        made = []
        for (a, b, pairs), (mine, theirs) in zip(self.found, own, strict=True):
            mine += self._take(0, a.leads)
            theirs += self._take(1, b.leads)
            how, scale = relation(a, b), self._scale(a)
            common = {"same": a.block.name, "kin": a.kin, "other means": ENDS.get(a.block.sort, "")}[how]
            made.append(
                BlockPair(
                    how,
                    common,
                    self._member(0, a, [*(pair[0] for pair in pairs), *mine], mine),
                    self._member(1, b, [*(pair[1] for pair in pairs), *theirs], theirs),
                    tuple(self._part_pair(pair, scale) for pair in pairs),
                    tuple(mine),
                    tuple(theirs),
                    shared_figures(a, b),
                )
            )
        # A pair of blocks whose parts are all told elsewhere is another side of those.
        return tuple(block for block in made if block.pairs or block.first.parts or block.second.parts)

    def _take(self, side: int, refs: Iterable[str]) -> list[str]:
        """Those of some parts that have no counterpart and are not told yet; they count as told from now on."""
        known = (self.known.to_second, self.known.to_first)[side]
        fresh = [ref for ref in dict.fromkeys(refs) if ref not in known and ref not in self.told[side]]
        self.told[side].update(fresh)
        return fresh

    def _of_lone_stages(self, side: int, seen: Outline) -> dict[int, list[str]]:
        """The parts of stages that have no counterpart: these are told there and not where they are mentioned."""
        paired_items = {id(row[side]) for row in self.found}
        return {id(item): self._take(side, _with_roles(item)) for item in seen.spine if id(item) not in paired_items}

    def _extra(self, side: int, seen: Outline) -> tuple[Member, ...]:
        paired_items = {id(row[side]) for row in self.found}
        members = []
        for item in seen.items:
            if id(item) not in paired_items:
                parts = [*self.first_told[side].get(id(item), ()), *self._take(side, item.parts)]
                if parts:
                    members.append(self._member(side, item, parts, parts))
        return tuple(members)

    def _member(self, side: int, item: Item, parts: Sequence[str], alone: Sequence[str]) -> Member:
        block = item.block
        without = self.purposes[side].of(item, alone)
        order = [part.ref for part in self.circuits[side].parts]
        shown = tuple(sorted(dict.fromkeys(parts), key=order.index))
        by_ref = self.circuits[side].by_ref
        telling = tuple(sorted(shown, key=lambda ref: _TELLING.get(kind_of(by_ref[ref]), len(_TELLING))))
        return Member(block.number, block.pattern, block.name, block.sort, shown, telling, block.serves, without)

    def _part_pair(self, pair: Pair, scale: Scale | None, *, by_place: bool = False) -> PartPair:
        first, second = self.circuits[0].by_ref[pair[0]], self.circuits[1].by_ref[pair[1]]
        scaled = scale.words(second) if scale is not None else ""
        words = (value_words(first), value_words(second))
        return PartPair(pair[0], pair[1], pair[2], pair[3], *words, scaled, by_place)

    def _side(self, side: int, seen: Outline) -> Side:
        circuit = self.circuits[side]
        within = self._within(side, seen)
        known = (self.known.to_second, self.known.to_first)[side]
        alone = tuple(ref for ref in within if ref not in known and ref not in self.told[side])
        outside = tuple(part.ref for part in circuit.parts if part.ref not in set(within))
        meant = self.focus[side]
        return Side(
            seen.reading,
            circuit.title or circuit.file.rpartition("/")[2],
            circuit.file,
            meant.words if meant is not None else "",
            tuple(within),
            self.extra[side],
            outside,
            alone,
        )


def narrowing_none(focus: tuple[Focus | None, Focus | None]) -> bool:
    """Whether both circuits are compared as wholes."""
    return focus[0] is None and focus[1] is None


_TELLING = {
    kind: place
    for place, kind in enumerate(
        ("amplifying device", "opamp", "transformer", "potentiometer", "thermistor", "diode", "resistor", "coil")
    )
}


def _with_roles(item: Item) -> list[str]:
    return [ref for refs in item.roles.values() for ref in refs]
