"""What must hold of every answer, whatever was asked: statuses, no traceback, nothing half done, sound outputs."""

from __future__ import annotations

import json
import xml.etree.ElementTree as tree
from pathlib import Path

from click.testing import CliRunner

import topo
from topo.cli import main
from topo.errors import TopoError

# Tags that none of the outputs has, but a name may bring.
_FOREIGN = {"script", "iframe", "img", "a", "object", "foreignObject"}


class Fault(AssertionError):
    """An answer that must not be."""


def check_circuit(file: Path):
    """The circuit of a file, or None where it was refused as it should be."""
    try:
        circuit = topo.load(file)
    except TopoError as error:
        _check_words(str(error))
        return None
    for problem in (*circuit.warnings, *topo.check(circuit, gaps=True)):
        _check_words(str(problem))
    return circuit


def check_round_trip(circuit) -> None:
    """What is written of a circuit reads back to the same parts on the same nets."""
    text = topo.write(circuit)
    try:
        again = topo.loads(text)
    except TopoError as error:
        raise Fault(f"what was written does not read back: {error}\n{text[:2000]}") from None
    if circuit.parts and [_said(part) for part in again.parts] != [_said(part) for part in circuit.parts]:
        raise Fault(f"what was written reads back to other parts\n{text[:2000]}")


def _said(part):
    return (part.ref, part.kind, part.value, tuple(terminal.net for terminal in part.terminals))


def check_command(arguments: list[str], made: Path | None = None, given: bytes | None = None) -> int:
    """Run a command; its exit status. `made` is where it may write, which must stay away on an error."""
    result = CliRunner().invoke(main, arguments, input=given)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    if result.exit_code not in (0, 1, 2):
        raise Fault(f"exit status {result.exit_code}")
    if "Internal error" in result.stderr or "Traceback" in result.output:
        raise Fault(result.stderr[-800:])
    _check_words(result.stderr)
    _check_words(result.stdout)
    if result.exit_code and made is not None and made.exists():
        raise Fault("something was written in spite of an error")
    if result.exit_code == 0:
        if "--json" in arguments:
            check_text(result.stdout, ".json")
        elif result.stdout.startswith("<"):
            check_text(result.stdout, ".svg")
        if made is not None and made.exists():
            for file in sorted(made.rglob("*")) if made.is_dir() else [made]:
                if file.suffix in (".svg", ".json", ".md", ".net", ".html"):
                    check_text(file.read_text(encoding="utf-8"), file.suffix)
    return result.exit_code


def check_text(text: str, suffix: str) -> None:
    """An output of a form is well-formed and holds no markup of a name's making."""
    if suffix == ".json":
        json.loads(text, parse_constant=_no_constant)
    elif suffix == ".svg":
        for node in tree.fromstring(text).iter():
            if node.tag.rpartition("}")[2] in _FOREIGN:
                raise Fault(f"markup of a name's making: {node.tag}")
    elif suffix in (".md", ".html") and "<script>alert" in text:
        raise Fault("markup of a name's making")
    elif suffix == ".net":
        try:
            topo.loads(text)
        except TopoError as error:
            raise Fault(f"what was written does not read back: {error}") from None


def _no_constant(name: str) -> float:
    raise Fault(f"{name} in JSON")


def _check_words(text: str) -> None:
    """What is printed cannot steer a terminal."""
    for character in text:
        if not character.isprintable() and character not in "\n":
            raise Fault(f"an unprintable character is printed: {character!r} in {text[:300]!r}")
