"""Kept claims as the blocks of a reading: named, numbered, with their figures evaluated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from topo.matching.context import Context, figures
from topo.matching.match import Device, Evidence
from topo.matching.pattern import Pattern
from topo.reading.claims import Claim, devices_of
from topo.reading.reading import Block, Figure
from topo.views.view import Views


def build_blocks(
    claims: Sequence[Claim],
    context: Context,
    served: Mapping[int, Sequence[int]],
    loops: Mapping[int, str],
) -> tuple[Block, ...]:
    """Blocks in the order of the claims.

    Args:
        served: device elements that a claim serves, by `id` of the claim.
        loops: sign of a feedback claim's loop, by `id` of the claim.
    """
    return tuple(
        _block(number, claim, context, served.get(id(claim), ()), loops.get(id(claim), ""))
        for number, claim in enumerate(claims, start=1)
    )


def _block(number: int, claim: Claim, context: Context, served: Sequence[int], loop: str) -> Block:
    """One claim as a block."""
    patterns, views = context.library, context.views
    pattern = patterns.get(claim.pattern)
    match = claim.match
    stage = devices_of(match, [role for role in pattern.reading.stage if role in match.handles])
    own = devices_of(match, [role for role in match.handles if role not in _witnesses(pattern)])
    devices = stage or tuple(device for device in own if set(device.elements) <= claim.devices)
    evidence = match.evidence
    if loop:
        evidence = (*evidence, Evidence("signal", _LOOP_WORDS[loop]))
    return Block(
        number=number,
        pattern=claim.pattern,
        name=pattern.shown_name(family_of(stage or devices_of(match)), match.variant),
        sort=claim.sort,
        roles=match.roles,
        parts=tuple(part.ref for part in views.graph.circuit.parts if part.ref in claim.parts),
        devices=_designators(views, [index for device in devices for index in device.elements]),
        serves=_designators(views, served),
        figures=_figures(claim, context),
        evidence=evidence,
        undecided=(*match.undecided, *(f"{patterns.get(slug).name} fits as well" for slug in claim.also)),
        match=match,
        loop=loop,
        returns_to=_designators(views, sorted(claim.witnessed))
        if claim.sort == "feedback" and not claim.devices and pattern.reading.section
        else (),
    )


def _witnesses(pattern: Pattern) -> frozenset[str]:
    """Names of the roles that a pattern only needs to exist."""
    return frozenset(name for name, role in pattern.roles.items() if role.witness)


_LOOP_WORDS = {
    "negative": "the return point driven alone moves the output the other way: negative feedback",
    "positive": "the return point driven alone moves the output the same way: positive feedback",
    "undecided": "the sign of the loop is undecided: a device in it does not act, or nothing comes round",
}


def family_of(devices: Sequence[Device]) -> str:
    """The family of the first device, "bipolar" where there is none."""
    return devices[0].family if devices else "bipolar"


def _designators(views: Views, elements: Sequence[int]) -> tuple[str, ...]:
    """Designators of elements, each once, in the order given."""
    return tuple(dict.fromkeys(ref for index in elements for ref in views.graph.elements[index].members))


def _figures(claim: Claim, context: Context) -> tuple[Figure, ...]:
    """The pattern's figures for this match, those that cannot be computed as not known."""
    return tuple(Figure(item.name, item.value, item.unit, item.status) for item in figures(claim.match, context))
