"""Near misses of stages of one device: a device that does nothing, where one slip undone puts it on the signal's way.

An edit counts if by it the device conducts, is the stage of a kept claim, has a bias or a foot of its own, hands the
signal on to the output, and no stage is lost.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from topo.matching.shelf import Library
from topo.netlist.kinds import in_group
from topo.reading.claims import Claim
from topo.reading.edits import Edit
from topo.reading.lone_edits import lone_edits

if TYPE_CHECKING:
    from topo.reading.interpretation import Settled

_NOT_ACTING = frozenset({"off", "saturated", "reversed"})


@dataclass(frozen=True)
class Mended:
    """An edit by which a device becomes a stage: its claim, and how many parts then have a role."""

    edit: Edit
    claim: Claim
    explained: int


def lone_mends(settled: Settled, patterns: Library, refs: Sequence[str], most: int) -> Iterable[Mended]:
    """The best edit for each of some devices that have no stage; at most so many edits are tried."""
    left = most
    for ref in refs:
        if not in_group(settled.circuit.part(ref).kind, "amplifying") or left <= 0:
            continue
        for edits in lone_edits(settled.views, ref):
            found: list[Mended] = []
            for edit in edits:
                if left <= 0:
                    break
                left -= 1
                mended = _mended(edit, ref, settled, patterns)
                if mended is not None:
                    found.append(mended)
            if found:
                yield max(found, key=lambda item: item.explained)
                break


def _mended(edit: Edit, ref: str, settled: Settled, patterns: Library) -> Mended | None:
    """What an edit makes of a device; None where it is no stage on the signal's way, or something is lost."""
    from topo.reading.interpretation import find_path, settle

    ported = replace(edit.circuit, inputs=settled.circuit.inputs, outputs=settled.circuit.outputs)
    after = settle(ported, patterns)
    element = after.views.graph.element_of.get(ref)
    if element is None or not after.views.point.solved or after.views.point.states.get(element) in _NOT_ACTING:
        return None
    claim = next((item for item in after.claims if item.kind == "stage" and element in item.stage), None)
    if claim is None or not _stands_firm(element, after) or _lost(settled, after):
        return None
    way = find_path(after, patterns)
    if way is None or not way.arrives or element not in way.elements:
        return None
    return Mended(edit, claim, len(frozenset[str]().union(*(item.given for item in after.claims))))


def _stands_firm(element: int, settled: Settled) -> bool:
    """Whether some claim tells what sets a device's current at rest."""
    return any(
        claim.sort == "bias" and element in (claim.devices | claim.witnessed | claim.stage) for claim in settled.claims
    )


def _lost(before: Settled, after: Settled) -> bool:
    """Whether a device that had a stage has none any more."""

    def held(settled: Settled) -> set[str]:
        elements = settled.views.graph.elements
        stages = [claim for claim in settled.claims if claim.kind in ("stage", "takes over")]
        return {ref for claim in stages for index in claim.stage or claim.devices for ref in elements[index].members}

    return not held(before) <= held(after)
