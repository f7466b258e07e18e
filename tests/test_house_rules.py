"""The rules that keep the project in shape; each failure says which rule, and how to keep it."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "topo"
FLOW = [
    "errors",
    "quantities",
    "netlist",
    "graph",
    "analysis",
    "views",
    "matching",
    "reading",
    "overview",
    "reduction",
    "comparison",
    "explanation",
    "drawing",
    "report",
    "cli",
]
LONGEST_FILE = 420
MODULES = sorted(PACKAGE.rglob("*.py"))


def _stage(module: str) -> int | None:
    """Place of a module in the flow, by the first name below `topo`."""
    parts = module.split(".")
    return FLOW.index(parts[1]) if len(parts) > 1 and parts[0] == "topo" and parts[1] in FLOW else None


def _imports(path: Path) -> list[tuple[int, str]]:
    """Line and dotted name of each import, those inside of functions included."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.append((node.lineno, node.module))
        elif isinstance(node, ast.Import):
            found.extend((node.lineno, alias.name) for alias in node.names)
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_folder_imports_only_folders_before_it_in_the_flow(path: Path):
    own = _stage(".".join(path.relative_to(ROOT).with_suffix("").parts))
    if own is None:
        return
    # `Circuit.graph()` is the one public short cut forward, imported when called.
    allowed = {("topo/netlist/circuit.py", "topo.graph.public")}
    wrong = [
        f"line {line}: {name}"
        for line, name in _imports(path)
        if (stage := _stage(name)) is not None and stage > own and (str(path.relative_to(ROOT)), name) not in allowed
    ]
    assert not wrong, f"{path}: imports a later stage: {wrong}. Move the function to the later stage."


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_file_stays_short_enough_to_be_one_subject(path: Path):
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST_FILE, f"{path} has {lines} lines: split it by subject."


def test_no_pattern_is_named_in_python():
    slugs = sorted(file.stem for file in (ROOT / "patterns").rglob("*.yaml"))
    # One-word slugs are ordinary words of the trade, which code may use.
    slugs = [slug for slug in slugs if "-" in slug]
    wrong = [
        f"{path.relative_to(ROOT)}: {slug}"
        for path in MODULES
        for slug in slugs
        if f'"{slug}"' in path.read_text(encoding="utf-8") or f"'{slug}'" in path.read_text(encoding="utf-8")
    ]
    assert not wrong, (
        f"A pattern's name in Python: {wrong}. Say it in the pattern file, by a key that all patterns have."
    )


def test_explaining_a_circuit_imports_no_heavy_module():
    code = (
        "import sys, topo, topo.cli\n"
        "from click.testing import CliRunner\n"
        "result = CliRunner().invoke(topo.cli.main, ['explain', 'samples/intercom.net'])\n"
        "assert result.exit_code == 0, result.output\n"
        "print([name for name in ('networkx', 'scipy', 'graphviz', 'hypothesis') if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]", "Import heavy modules inside of the function that uses them."


def test_the_package_itself_starts_light():
    code = "import sys, topo; print([n for n in ('numpy', 'lark', 'yaml', 'click', 'networkx') if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]", "`import topo` gives names; their modules are imported on first use."


@pytest.mark.parametrize("sample", sorted((ROOT / "samples").glob("*.net")), ids=lambda path: path.stem)
def test_the_same_file_gives_the_same_bytes_whatever_the_hash_seed(sample: Path):
    outputs = []
    for seed in ("0", "1"):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-m", "topo.cli", "explain", "--json", str(sample)],
            cwd=ROOT,
            capture_output=True,
            env=environment,
            check=True,
        )
        outputs.append(done.stdout)
    assert outputs[0] == outputs[1], "Sort before iterating over a set."
