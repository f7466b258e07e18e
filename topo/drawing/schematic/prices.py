"""What wires cost, in twentieths of a module of length."""

from __future__ import annotations

UNIT = 20
BEND = 80
CROSSING = 300
TEE = 12
BESIDE_WIRE = 8
BESIDE_BODY = 12
IN_ZONE = 36
UNROUTED = 200_000


def joint(mask: int, step: int, count: int) -> int:
    """What it costs to leave a point in a direction where the net goes in others already.

    Args:
        mask: the directions in which it goes, as bits.
        step: the new direction.
        count: the number of bits in the mask.
    """
    if count == 1:
        return 0 if mask >> (step + 2) % 4 & 1 else BEND
    return TEE
