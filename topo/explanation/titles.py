"""What a block is called where it is told of."""

from __future__ import annotations

from topo.explanation.listing import capital
from topo.reading.reading import Block, Reading

_WORDS_OF_SORT = {"driver": "Driver", "output": "Output", "splitter": "Phase splitting", "bias": "Bias"}


def is_driver(block: Block, reading: Reading) -> bool:
    """Whether a block is the driver's stage: by its sort, as the one that a phase splitting names in its role `driver`,
    or as a power stage before the last one."""
    if block.sort == "stage":
        driven = {ref for other in reading.blocks if other.sort == "splitter" for ref in other.roles.get("driver", ())}
        return bool(driven & set(block.devices))
    if block.sort != "output":
        return block.sort == "driver"
    outputs = [other for other in reading.blocks if other.sort == "output" and other.devices]
    return bool(outputs) and not set(outputs[-1].devices) & set(block.devices)


def title_of(block: Block, reading: Reading) -> str:
    """A heading such as "Output: push-pull pair with centre-tapped transformer"."""
    word = "Driver" if is_driver(block, reading) else _WORDS_OF_SORT.get(block.sort, "")
    if word and word.split()[0].lower() not in block.name.lower():
        return f"{word}: {block.name}"
    return capital(block.name)
