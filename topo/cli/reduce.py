"""`topo reduce`: the reduced circuit as a netlist that explains itself, or the ledger."""

from __future__ import annotations

import sys

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option, library_of, patterns_option


@click.command(short_help="Leave out what does not matter, with the reason for each part.")
@circuit_argument
@click.option(
    "--detail",
    type=click.Choice(("whole", "working", "principle")),
    help="How far to go: merge only; keep it working the same; show the principle.  [default: working]",
)
@click.option("--keep", metavar="REF", multiple=True, help="A part that stays as it is. May be given several times.")
@click.option(
    "--omit", metavar="REF", multiple=True, help="A part to leave out, tested or not. May be given several times."
)
@click.option(
    "--focus",
    metavar="BLOCK",
    multiple=True,
    help="A block to show whole, by its number or its pattern; the rest at `principle` unless --detail says otherwise.",
)
@click.option(
    "--section",
    metavar="NAME",
    help="Cut this section out of a receiver, the rest summed up as source, load and supply; audio for all behind the "
    "detector.",
)
@click.option("-o", "--output", metavar="FILE", type=click.Path(dir_okay=False), help="Write the reduced netlist here.")
@click.option("--ledger", type=click.Choice(("table", "json")), help="Print what became of every part.")
@json_option
@patterns_option
def reduce(
    file: str, detail: str | None, keep, omit, focus, section, output, ledger, as_json: bool, pattern_folders
) -> None:
    """Print the reduced circuit of FILE as a netlist whose comments say what was left out, and why.

    The reduced circuit is solved again; its first lines state how far its gain, its currents at rest and the edges
    of its band are from those of the original.
    """
    from topo.netlist import write
    from topo.reading import read
    from topo.reduction import comments, steering, with_changes
    from topo.reduction import reduce as reduced

    circuit = circuit_of(file)
    library = library_of(pattern_folders)
    reading = read(circuit, library)
    if section is not None:
        _print_section(reading, section, output, ledger, as_json)
        return
    asked = steering(reading, keep, omit, focus)
    reduction = reduced(reading, detail or ("principle" if focus else "working"), library=library, asked=asked)
    netlist = write(reduction.circuit, comments(reduction))
    wants_json = as_json or ledger == "json"
    if ledger or as_json:
        reduction = with_changes(reduction, _progress if sys.stderr.isatty() else None)
    if output is not None:
        from topo.cli.writing import write_files

        write_files({output: netlist})
    if wants_json:
        from topo.report.envelope import as_json as json_text
        from topo.report.ledger import ledger_values

        click.echo(json_text(ledger_values(reduction, netlist)), nl=False)
    elif ledger == "table":
        from topo.cli.paging import page
        from topo.report.ledger import ledger_text

        click.echo(ledger_text(reduction, page()), nl=False)
    elif output is None:
        click.echo(netlist, nl=False)


def _print_section(reading, section: str, output, ledger: str | None, as_json: bool) -> None:
    """One section by itself, as a netlist or as the account of every part."""
    from topo.explanation.sections import wanted_sections
    from topo.netlist import write
    from topo.reduction import comments
    from topo.reduction.cutting import cut

    reduction = cut(reading, wanted_sections(reading, section))
    netlist = write(reduction.circuit, comments(reduction))
    if output is not None:
        from topo.cli.writing import write_files

        write_files({output: netlist})
    if as_json or ledger == "json":
        from topo.report.envelope import as_json as json_text
        from topo.report.ledger import ledger_values

        click.echo(json_text(ledger_values(reduction, netlist)), nl=False)
    elif ledger == "table":
        from topo.cli.paging import page
        from topo.report.ledger import ledger_text

        click.echo(ledger_text(reduction, page()), nl=False)
    elif output is None:
        click.echo(netlist, nl=False)


def _progress(done: int, count: int) -> None:
    """One line on a terminal, which goes when all is done."""
    said = f"Solving without each part: {done + 1} of {count}" if done < count else ""
    click.echo(f"\r\x1b[K{said}", nl=False, err=True)
