"""Where a command's circuit and patterns come from."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from topo.matching import Library
    from topo.netlist.circuit import Circuit

STANDARD_INPUT = "-"
circuit_argument = click.argument("file", metavar="FILE", type=click.Path(allow_dash=True, dir_okay=False))
patterns_option = click.option(
    "--patterns",
    "pattern_folders",
    metavar="DIR",
    multiple=True,
    type=click.Path(exists=True, file_okay=False),
    help="Add a folder of patterns to the library; one of the same name replaces the library's.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")


def circuit_of(file: str) -> Circuit:
    """The circuit of a file, or of standard input for "-", with drain and source told apart where a list does not.

    Raises:
        NetlistError: the text cannot be understood; it carries every problem.
        CircuitError: it holds no part.
        OSError: the file cannot be read.
    """
    from topo.errors import CircuitError
    from topo.netlist import load, load_stream

    circuit = load_stream(sys.stdin.buffer, "<standard input>") if file == STANDARD_INPUT else load(file)
    if not circuit.parts:
        raise CircuitError(f"{circuit.file}: there is no part in it.", mend="Write one a line: R1 1k : vcc out")
    if circuit.by_order:
        from topo.analysis.exchanged import set_right

        return set_right(circuit)
    return circuit


def library_of(folders: tuple[str, ...]) -> Library:
    """The pattern library, with the user's own folders added."""
    from topo.matching.shelf import library

    return library(extra_dirs=tuple(Path(folder) for folder in folders))
