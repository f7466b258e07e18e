"""A net mistyped in one lead of the plain example of a pattern of several devices: the line is told."""

from __future__ import annotations

import re

import pytest

import topo
from topo.matching import library
from topo.netlist.kinds import in_group

LIBRARY = library()
# The electrode whose lead is torn off, where it is not the collecting one.
OTHER_LEAD = {"current-mirror": "emt", "complementary-common-emitter-output": "emt"}
COLLECTING = {"c", "d", "a"}
EMITTING = {"e", "s", "k"}
# Patterns of which no near miss is told, and why.
NOT_TOLD = {
    "feedback-bias-regulator": "the pair that it biases is off as well, and is told instead",
    "constant-current-source": "the pair whose tail it is stands still as well, and is told instead",
    "shunt-regulated-push-pull": "no current flows in either device then, and nothing says which lead is the torn one",
    "keyed-bias": "a switch without a load is off, as it may well be",
    "astable-multivibrator": "with one lead torn off the other half still is a working stage",
    "bistable-multivibrator": "with one lead torn off the other half still is a working stage",
    "monostable-multivibrator": "with one lead torn off the other half still is a working stage",
    "push-pull-inverter": "the other half with its winding still is a stage of another kind",
    "schmitt-trigger": "with one lead torn off the other half still is a working stage",
    "h-bridge": "its switches are off or saturated as they stand, and so are those of many other circuits",
}
CHOSEN = [
    pattern.slug
    for pattern in LIBRARY.patterns
    if pattern.reading.claim in ("stage", "takes over") and len(pattern.reading.stage) > 1
]


def torn(slug: str) -> tuple[str, str]:
    """The plain example with one lead of the first device of the pattern's stage torn off, and that device."""
    pattern = LIBRARY.get(slug)
    example = next(item for item in LIBRARY.examples(slug) if item.matches)
    circuit = topo.loads(example.netlist)
    named = [ref for refs in example.roles.values() for ref in refs]
    devices = [part for part in circuit.parts if in_group(part.kind, "amplifying")]
    device = next((part for part in devices if part.ref in named), devices[0])
    wanted = EMITTING if OTHER_LEAD.get(pattern.slug) == "emt" else COLLECTING
    lead = next(terminal for terminal in device.terminals if terminal.name in wanted)
    text = re.sub(
        rf"(?m)^({device.ref}\s.*\b{lead.name}={re.escape(lead.net)})(?=\s|$)", r"\g<1>9", example.netlist, count=1
    )
    assert text != example.netlist
    return text, device.ref


@pytest.mark.parametrize("slug", [slug for slug in CHOSEN if slug not in NOT_TOLD])
def test_a_torn_lead_is_told_with_its_line(slug):
    text, ref = torn(slug)
    misses = topo.read(topo.loads(text)).near_misses

    assert slug in [miss.pattern for miss in misses], [miss.message for miss in misses]
    line = next(number for number, row in enumerate(text.splitlines(), 1) if row.split()[:1] == [ref])
    assert line in [miss.line for miss in misses]


@pytest.mark.parametrize("slug", [slug for slug in CHOSEN if slug in NOT_TOLD])
def test_what_is_not_told_is_not_called_the_whole_either(slug):
    text, _ = torn(slug)

    assert slug not in [block.pattern for block in topo.read(topo.loads(text)).blocks]
