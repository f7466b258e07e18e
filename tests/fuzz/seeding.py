"""The sound inputs from which mutation starts: samples, examples of patterns, lists, JSON, pattern files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import yaml

ROOT = Path(__file__).resolve().parents[2]
SEEDS = Path(__file__).resolve().parent / "seeds"


@dataclass(frozen=True)
class Seeds:
    """Texts by what they are; each tuple in a fixed order."""

    netlists: tuple[str, ...]
    lists: tuple[str, ...]
    json: tuple[str, ...]
    patterns: tuple[str, ...]


def seeds(step: int = 1) -> Seeds:
    """All seeds, or those of each `step`-th pattern file alone."""
    import topo
    from topo.netlist.elements import write_elements
    from topo.netlist.json_form import to_json

    samples = [file.read_text(encoding="utf-8") for file in sorted((ROOT / "samples").glob("*.net"))]
    netlists = [*samples, (SEEDS / "every-kind.net").read_text(encoding="utf-8")]
    lists = [file.read_text(encoding="utf-8") for file in [*sorted(SEEDS.glob("*.cir")), SEEDS / "parts.lib"]]
    more = ROOT / "tests" / "netlist" / "elements" / "lists"
    lists += [file.read_text(encoding="latin-1") for file in sorted(more.glob("*.cir"))]
    circuits = [topo.loads(text) for text in netlists]
    lists += [write_elements(circuit) for circuit in circuits]
    files = [file.read_text(encoding="utf-8") for file in sorted((ROOT / "patterns").glob("*/*.yaml"))[::step]]
    for file in files:
        netlists += _examples(file)
    return Seeds(tuple(netlists), tuple(lists), tuple(to_json(circuit) for circuit in circuits), tuple(files))


def _examples(file: str) -> list[str]:
    """The netlists of a pattern file's examples."""
    listed = yaml.load(file, getattr(yaml, "CSafeLoader", yaml.SafeLoader)).get("examples") or {}
    return [item["netlist"] for items in listed.values() for item in items if "netlist" in item]
