"""The use of a block: which net goes to which of the block's list."""

from __future__ import annotations

from topo.netlist.problems import Problems
from topo.netlist.sheet import Block
from topo.netlist.spelling import did_you_mean
from topo.netlist.syntax import PartLine, Word


def nets_of_use(row: PartLine, block: Block, problems: Problems) -> list[Word] | None:
    """The nets of a use in the order of the block's list; None if they do not fit."""
    items = row.items
    ports = [port.text.casefold() for port in block.nets]
    expected = f"{row.ref.text} {block.name.text} : {' '.join(port.text for port in block.nets)}"
    start, length = items[0].start, items[-1].net.end - items[0].start
    if len(row.groups) > 1 or len(items) != len(ports):
        words = {"name": block.name.text, "wanted": len(ports), "found": len(items), "expected": expected}
        problems.error("block-count", row.line, start, length, **words)
        return None
    if not any(item.name for item in items):
        return [item.net for item in items]
    by_name = {item.name.text.casefold(): item.net for item in items if item.name}
    for item in items:
        if item.name is None:
            problems.error("names-mixed", row.line, item.start, len(item.net.text))
            return None
        if item.name.text.casefold() not in ports:
            near = did_you_mean(item.name.text, ports)
            words = {"kind": f"the block {block.name.text}", "name": item.name.text, "expected": expected}
            problems.error("no-such-terminal", row.line, item.start, len(item.name.text), **words, near=near)
            return None
    if len(by_name) < len(items):
        problems.error("terminal-twice", row.line, start, length, name=items[0].name and items[0].name.text)
        return None
    return [by_name[port] for port in ports]
