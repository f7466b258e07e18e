"""`topo explain`: what a circuit is, stage by stage; the main job."""

from __future__ import annotations

from pathlib import Path

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option, library_of, patterns_option


@click.command(short_help="Say what the circuit is, stage by stage, with the numbers.")
@circuit_argument
@click.option(
    "--voice",
    type=click.Choice(("student", "technician")),
    default="technician",
    show_default=True,
    help="For whom: why it is so, or what to expect and to check.",
)
@click.option(
    "--signal",
    is_flag=True,
    help="Drive it too: largest power, conduction, distortion, and distortion over the bias (a second or two).",
)
@click.option(
    "--section", metavar="NAME", help="Only this section of a receiver, such as mixer, IF amplifier or audio."
)
@click.option(
    "-o",
    "--output",
    "folder",
    metavar="DIR",
    type=click.Path(file_okay=False),
    help="Write the report here: explanation.md, reading.json, reduced.net, blocks.svg.",
)
@click.option("--part", metavar="REF", help="Of a large circuit, explain the piece that holds this part.")
@json_option
@patterns_option
def explain(
    file: str,
    voice: str,
    signal: bool,
    section: str | None,
    folder: str | None,
    part: str | None,
    as_json: bool,
    pattern_folders,
) -> None:
    """Explain the circuit of FILE: what it is, the way of the signal, each stage and its numbers,
    what does not matter and why, what was not recognised, and what calls for care.

    A circuit of more than a thousand parts is cut at its rails and summed up: what its pieces are,
    and how often each sub-circuit is there; --part explains one piece.
    """
    from topo.explanation import explain as explained
    from topo.overview import is_large, piece_with
    from topo.reading import read

    circuit = circuit_of(file)
    library = library_of(pattern_folders)
    if part is not None:
        circuit = piece_with(circuit, part)
    elif is_large(circuit):
        _sum_up(circuit, library, folder, as_json)
        return
    explanation = explained(read(circuit, library), voice=voice, library=library, signal=signal)
    if section is not None:
        from topo.explanation.sections import only

        explanation = only(explanation, section)
    if folder is not None:
        _write_report(explanation, Path(folder))
    if as_json:
        from topo.report.envelope import as_json as json_text
        from topo.report.envelope import envelope

        click.echo(json_text(envelope(explanation)), nl=False)
    else:
        from topo.cli.paging import page
        from topo.report.terminal import text

        click.echo(text(explanation, page()), nl=False)


def _sum_up(circuit, library, folder: str | None, as_json: bool) -> None:
    """The overview of a large circuit."""
    import sys

    from topo.errors import UsageError, json_text
    from topo.overview import survey
    from topo.report.overview import overview_data, overview_text

    if folder is not None:
        raise UsageError("A circuit of this size has no report in files. Name a piece by --part REF.")

    def progress(done: int, whole: int) -> None:
        click.echo(f"\r{done} of {whole} pieces", err=True, nl=done == whole)

    found = survey(circuit, library, progress if sys.stderr.isatty() else None)
    click.echo(json_text(overview_data(found)) if as_json else overview_text(found).rstrip())


def _write_report(explanation, folder: Path) -> None:
    """The four files of the report."""
    from topo.cli.writing import write_files
    from topo.drawing import block_map, block_map_svg
    from topo.netlist import write
    from topo.reduction import comments
    from topo.report.envelope import as_json, envelope
    from topo.report.markdown import markdown

    working = next(item for item in explanation.reductions if item.detail == "working")
    write_files(
        {
            folder / "explanation.md": markdown(explanation),
            folder / "reading.json": as_json(envelope(explanation)),
            folder / "reduced.net": write(working.circuit, comments(working)),
            folder / "blocks.svg": block_map_svg(block_map(explanation.reading)),
        }
    )
