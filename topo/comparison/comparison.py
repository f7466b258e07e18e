"""The comparison: which part of one circuit does the work of which part of another."""

from __future__ import annotations

from dataclasses import dataclass

from topo.reading.reading import Reading

LIKENESSES = ("same", "same circuit", "partly alike", "different", "not known")
RELATIONS = ("same", "kin", "other means")


@dataclass(frozen=True)
class PartPair:
    """A part of A and the part of B that has the same role; `scaled` is B's value at A's levels, in words, or "".

    `role` is the role's word in A, `other_role` in B. `by_place` says that no block gave the roles: the two are of
    one kind and stand at corresponding places.
    """

    first: str
    second: str
    role: str
    other_role: str
    first_value: str = ""
    second_value: str = ""
    scaled: str = ""
    by_place: bool = False


@dataclass(frozen=True)
class Figures:
    """A number that both circuits have, in SI units: None where it is not known in one of them."""

    name: str
    unit: str
    first: float | None
    second: float | None


@dataclass(frozen=True)
class Member:
    """One side of a pair of blocks, or a block that only one circuit has.

    `number` is that of the block in its reading. `parts` are those of the block that are told here, each only once in a
    comparison; `telling` are the same, the most telling first. `serves` are devices that it is there for. `without`
    says what those of its parts do that the other circuit goes without.
    """

    number: int
    pattern: str
    name: str
    sort: str
    parts: tuple[str, ...]
    telling: tuple[str, ...] = ()
    serves: tuple[str, ...] = ()
    without: tuple[tuple[tuple[str, ...], str], ...] = ()


@dataclass(frozen=True)
class BlockPair:
    """Corresponding blocks.

    `relation` is "same" (one pattern), "kin" (one circuit by two names, `common` says which) or "other means" (other
    means to one end, which `common` names). `pairs` are the parts with equal roles, `first_only` and `second_only`
    those that only one of the two has.
    """

    relation: str
    common: str
    first: Member
    second: Member
    pairs: tuple[PartPair, ...] = ()
    first_only: tuple[str, ...] = ()
    second_only: tuple[str, ...] = ()
    figures: tuple[Figures, ...] = ()


@dataclass(frozen=True)
class StagePair:
    """Corresponding stages in numbers: devices, class of operation with the idle current and that of a full swing."""

    first: tuple[str, ...]
    second: tuple[str, ...]
    first_class: str
    second_class: str
    figures: tuple[Figures, ...]


@dataclass(frozen=True)
class Side:
    """One of the two circuits: its title, file, what of it is compared ("" for the whole), and what it adds.

    `extra` are blocks that only this side has, `outside` designators that stand outside of the focus, `alone`
    designators in no block that have no counterpart.
    """

    reading: Reading
    title: str
    file: str
    focus: str
    compared: tuple[str, ...]
    extra: tuple[Member, ...] = ()
    outside: tuple[str, ...] = ()
    alone: tuple[str, ...] = ()


@dataclass(frozen=True)
class Comparison:
    """Two circuits side by side.

    `likeness` is "same", "same circuit", "partly alike", "different" or "not known". `sentences` say how alike they
    are, the first in one sentence. `common` is what they are both called, or "". Each part of each side is in exactly
    one pair, `first_only` or `second_only`, extra block, or in `outside` or `alone` of its side; `rest` are pairs in
    no block.
    `turned` says that B is the other way up than A, and was turned over for the comparison.
    """

    likeness: str
    common: str
    sentences: tuple[str, ...]
    first: Side
    second: Side
    blocks: tuple[BlockPair, ...] = ()
    rest: tuple[PartPair, ...] = ()
    stages: tuple[StagePair, ...] = ()
    consequences: tuple[str, ...] = ()
    turned: bool = False

    @property
    def pairs(self) -> tuple[PartPair, ...]:
        """All pairs of parts."""
        return (*(pair for block in self.blocks for pair in block.pairs), *self.rest)
