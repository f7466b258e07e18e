"""`topo reduce`: the reduced circuit as a netlist that explains itself, or the ledger."""

from __future__ import annotations

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option, library_of, patterns_option


@click.command(short_help="Leave out what does not matter, with the reason for each part.")
@circuit_argument
@click.option(
    "--detail",
    type=click.Choice(("whole", "working", "principle")),
    default="working",
    show_default=True,
    help="How far to go: merge only; keep it working the same; show the principle.",
)
@click.option("-o", "--output", metavar="FILE", type=click.Path(dir_okay=False), help="Write the reduced netlist here.")
@click.option("--ledger", type=click.Choice(("table", "json")), help="Print what became of every part.")
@json_option
@patterns_option
def reduce(file: str, detail: str, output: str | None, ledger: str | None, as_json: bool, pattern_folders) -> None:
    """Print the reduced circuit of FILE as a netlist whose comments say what was left out, and why.

    The reduced circuit is solved again; its first lines state how far its gain and its currents at rest are
    from those of the original.
    """
    from topo.netlist import write
    from topo.reading import read
    from topo.reduction import comments, with_changes
    from topo.reduction import reduce as reduced

    circuit = circuit_of(file)
    library = library_of(pattern_folders)
    reduction = reduced(read(circuit, library), detail, library=library)
    netlist = write(reduction.circuit, comments(reduction))
    wants_json = as_json or ledger == "json"
    if ledger or as_json:
        reduction = with_changes(reduction)
    if output is not None:
        from topo.cli.writing import write_files

        write_files({output: netlist})
    if wants_json:
        from topo.report.envelope import as_json as json_text
        from topo.report.envelope import reduction_values

        click.echo(json_text(reduction_values(reduction, netlist)), nl=False)
    elif ledger == "table":
        from topo.cli.paging import page
        from topo.report.ledger import ledger_text

        click.echo(ledger_text(reduction, page()), nl=False)
    elif output is None:
        click.echo(netlist, nl=False)
