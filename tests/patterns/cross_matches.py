"""The table of every example against every pattern: what a reading keeps of each.

`python tests/patterns/cross_matches.py` writes the table anew, to be reviewed as any change is.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

from topo.matching import library
from topo.matching.pattern import Pattern
from topo.matching.schema_texts import Example
from topo.netlist import loads
from topo.reading.claims import Claim
from topo.reading.interpretation import settle

TABLE = Path(__file__).with_suffix(".txt")
HEAD = """\
# What a reading keeps of each example of each pattern: `+` the example is one, `-` it is none; then the patterns.
"""


def claims(example: Example) -> tuple[Claim, ...]:
    """The claims that a reading of an example keeps."""
    return _claims(example.netlist)


@cache
def _claims(netlist: str) -> tuple[Claim, ...]:
    return settle(loads(netlist), library()).claims


def section_of(pattern: Pattern) -> str:
    """The lines of the table on one pattern."""
    lines = [pattern.slug]
    for example in library().examples(pattern.slug):
        kept = sorted({claim.pattern for claim in claims(example)})
        lines.append(f"  {'+' if example.matches else '-'} {example.words}: {' '.join(kept) or 'nothing'}")
    return "\n".join(lines)


def sections() -> dict[str, str]:
    """The sections of the committed table."""
    found: dict[str, list[str]] = {}
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        if line and not line.startswith((" ", "#")):
            found[line] = []
        if line and not line.startswith("#"):
            found[list(found)[-1]].append(line)
    return {slug: "\n".join(lines) for slug, lines in found.items()}


def main() -> None:
    TABLE.write_text("\n".join([HEAD, *(f"{section_of(p)}\n" for p in library().patterns)]), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
