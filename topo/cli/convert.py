"""`topo convert`: a circuit in another of the forms that topo reads."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from topo.cli.sources import circuit_argument, circuit_of

if TYPE_CHECKING:
    from topo.netlist.circuit import Circuit

FORMS = ("net", "elements", "json")


@click.command(short_help="Write the circuit in another form.")
@circuit_argument
@click.option(
    "--to",
    "form",
    type=click.Choice(FORMS),
    default="net",
    show_default=True,
    help="net: the netlist language; elements: one letter, nodes and a value a line; json: for other programs.",
)
@click.option(
    "-o", "--output", metavar="FILE", type=click.Path(dir_okay=False), help="Write to FILE, not to the screen."
)
def convert(file: str, form: str, output: str | None) -> None:
    """Write the circuit of FILE in another form; which one FILE is in is told by its text.

    Nothing is lost on the way: what an element list cannot say is kept in its comments. What was doubtful in reading is
    said on standard error.
    """
    circuit = circuit_of(file)
    for problem in circuit.warnings:
        if problem.severity != "note" or problem.code == "ends-exchanged":
            click.echo(str(problem), err=True)
    text = converted(circuit, form)
    if output is None:
        click.echo(text, nl=False)
        return
    from topo.cli.writing import write_files

    write_files({Path(output): text})


def converted(circuit: Circuit, form: str) -> str:
    """The text of a circuit in a form."""
    if form == "elements":
        from topo.netlist.elements import write_elements

        return write_elements(circuit)
    if form == "json":
        from topo.netlist.json_form import to_json

        return to_json(circuit)
    from topo.netlist import write

    return write(circuit)
