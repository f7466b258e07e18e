"""What the user asks of a reduction: parts to keep, parts to leave out, blocks to show whole."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field

from topo.errors import UsageError
from topo.reading.reading import Reading


@dataclass(frozen=True)
class Steering:
    """Designators as the circuit spells them: `keep` are neither left out nor merged, `omit` are left out at every
    detail but `whole`, `whole` are the parts of the blocks that are shown whole."""

    keep: frozenset[str] = field(default_factory=frozenset)
    omit: tuple[str, ...] = ()
    whole: frozenset[str] = field(default_factory=frozenset)

    @property
    def held(self) -> frozenset[str]:
        """Parts that stay as they are."""
        return (self.keep | self.whole) - set(self.omit)


def steering(
    reading: Reading, keep: Iterable[str] = (), omit: Iterable[str] = (), focus: Iterable[str] = ()
) -> Steering:
    """What is asked, checked against the circuit.

    Args:
        reading: of the circuit.
        keep: designators of parts that stay.
        omit: designators of parts that go.
        focus: blocks to show whole, each by its number in signal order or by the name of its pattern.

    Raises:
        UsageError: there is no such part or block, with the nearest names; or a part is both to stay and to go.
    """
    kept = tuple(_part(reading, ref) for ref in keep)
    gone = tuple(dict.fromkeys(_part(reading, ref) for ref in omit))
    both = [ref for ref in gone if ref in kept]
    if both:
        raise UsageError(f"{both[0]} is asked to be kept and to be left out.")
    whole = frozenset(ref for name in focus for ref in _block(reading, name))
    return Steering(frozenset(kept), gone, whole)


def _part(reading: Reading, ref: str) -> str:
    try:
        return reading.circuit.part(ref.strip()).ref
    except KeyError:
        names = [part.ref for part in reading.circuit.parts]
        raise UsageError(f"There is no part {ref}.{_near(ref, names)}") from None


def _block(reading: Reading, name: str) -> tuple[str, ...]:
    """The parts of all blocks of a name, or of the one with a number."""
    asked = name.strip().casefold()
    found = [block for block in reading.blocks if asked in (str(block.number), block.pattern, block.name.casefold())]
    if found:
        return tuple(dict.fromkeys(ref for block in found for ref in block.parts))
    names = list(dict.fromkeys(block.pattern for block in reading.blocks))
    if asked.isdigit():
        numbers = [block.number for block in reading.blocks]
        range_words = f" They are numbered {min(numbers)} to {max(numbers)}." if numbers else ""
        raise UsageError(f"There is no block {name}.{range_words}")
    near = _near(name, names)
    listed = "" if near else f" The circuit has {', '.join(names)}." if names else " No block was recognised."
    raise UsageError(f"There is no block {name} in this circuit.{near}{listed}")


def _near(word: str, names: list[str]) -> str:
    """A hint with the nearest names, or nothing."""
    folded = {name.casefold(): name for name in names}
    near = difflib.get_close_matches(word.strip().casefold(), folded, n=3, cutoff=0.4)
    return f" Did you mean {' or '.join(folded[item] for item in near)}?" if near else ""
