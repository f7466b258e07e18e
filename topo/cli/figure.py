"""`topo figure`: the circuit, or what is left of it, as a schematic; in steps; or how it works under drive."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option, library_of, patterns_option

if TYPE_CHECKING:
    from topo.matching import Library
    from topo.reading.reading import Reading

_WIDTH = re.compile(r"(\d{1,4}(?:\.\d{1,2})?) *(mm|cm)?")
_LEAST, _MOST = 20.0, 2000.0
# Print practice: 7 points at final size, of which a capital has seven tenths.
_LEAST_TEXT = 1.7


class Width(click.ParamType):
    """A width in millimetres, typed with its unit or without."""

    name = "width"

    def convert(self, value, param, ctx):
        """The millimetres of what was typed."""
        if isinstance(value, float):
            return value
        match = _WIDTH.fullmatch(value.strip())
        width = float(match.group(1)) * (10 if match.group(2) == "cm" else 1) if match else 0.0
        if not _LEAST <= width <= _MOST:
            self.fail(f"{value!r} is no width from 20mm to 2000mm; write it like 85mm.", param, ctx)
        return width


@click.command(short_help="Draw the circuit, or what is left of it, as a schematic.")
@circuit_argument
@click.option(
    "--detail",
    type=click.Choice(("whole", "working", "principle")),
    help="How much to draw: everything; what it works by; the principle.  [default: working]",
)
@click.option("--focus", metavar="BLOCK", default="", help="Draw one block only: its number, or a part of its name.")
@click.option("--section", metavar="NAME", default="", help="Draw one section of the circuit only.")
@click.option("--width", type=Width(), metavar="85mm", help="Width in print; without it a module is 2.5 mm.")
@click.option(
    "--symbols",
    type=click.Choice(("iec", "ieee")),
    default="iec",
    show_default=True,
    help="Resistors as boxes (IEC 60617) or zigzags (IEEE 315).",
)
@click.option("--blocks", is_flag=True, help="Tint the blocks and name them.")
@click.option("--values", type=click.Choice(("dc",)), help="Write volts and currents at rest beside the wires.")
@click.option(
    "--series",
    metavar="DIR",
    type=click.Path(file_okay=False),
    help="Write the circuit in steps to a folder, from its bare principle to the whole, with an index.",
)
@click.option(
    "--plot",
    type=click.Choice(("waveforms", "transfer")),
    help="Plot, in place of the schematic, a cycle under drive or the output over the input.",
)
@click.option(
    "-o", "--output", metavar="FILE", type=click.Path(dir_okay=False), help="Write it here: .svg, .pdf, .png."
)
@click.option(
    "--format", "form", type=click.Choice(("svg", "pdf", "png")), help="Format of the figures of --series.  [svg]"
)
@click.option("--dpi", type=click.IntRange(50, 2400), default=600, show_default=True, help="Dots per inch of a .png.")
@json_option
@patterns_option
def figure(file: str, output: str | None, as_json: bool, pattern_folders, **options) -> None:
    """Draw the circuit of FILE as a schematic, SVG, to standard output or a file.

    What the figure joins is read back from its own lines and compared with the circuit; a figure that differs
    is never written. The same circuit gives the same bytes.
    """
    from topo.drawing.printing import format_of
    from topo.reading import read

    _check(output, options)
    form = format_of(output) if output is not None else options["form"] or "svg"
    circuit = circuit_of(file)
    library = library_of(pattern_folders)
    reading = read(circuit, library)
    if options["series"] is not None:
        _series(reading, library, form, as_json, options)
        return
    if options["plot"]:
        from topo.drawing.plots import plot

        width = options["width"]
        made = plot(reading, options["plot"], **({"width": width} if width is not None else {}))
        svg, values = made.svg, made.values()
    else:
        result = _schematic(reading, library, options)
        svg, values = result.svg, result.values()
    if output is not None:
        _write(output, svg, form, options["dpi"])
    if as_json:
        from topo.report.envelope import as_json as json_text

        click.echo(json_text(values), nl=False)
    elif output is None:
        click.echo(svg, nl=False)


def _check(output: str | None, options: dict) -> None:
    """Refuse what cannot be asked for together."""
    from topo.errors import UsageError

    given = {name for name in ("detail", "focus", "section", "blocks", "values", "series", "plot") if options[name]}
    given |= {"output"} if output is not None else set()
    barred = {
        "series": given & {"detail", "focus", "section", "blocks", "values", "plot", "output"},
        "plot": given & {"detail", "focus", "section", "blocks", "values"},
    }
    for name, others in barred.items():
        if name in given and others:
            listed = ", ".join(f"--{other}" for other in sorted(others))
            raise UsageError(f"--{name} cannot go together with {listed}.")
    if options["form"] and "series" not in given:
        raise UsageError("--format is for the figures of --series; the name given to -o says the format of one figure.")


def _schematic(reading: Reading, library: Library, options: dict):
    from topo.drawing import figure as drawn
    from topo.reduction import reduce

    detail = options["detail"] or "working"
    source = reading if detail == "whole" else reduce(reading, detail, library=library)
    result = drawn(
        source,
        focus=options["focus"],
        section=options["section"],
        width=options["width"],
        symbols=options["symbols"],
        blocks=options["blocks"],
        values=options["values"] or "",
        library=library,
    )
    _warn_of_small_text(options["width"], result.text_height)
    return result


def _warn_of_small_text(width: float | None, text_height) -> None:
    if width is not None and (size := text_height(width)) < _LEAST_TEXT:
        click.echo(
            f"At {width:g} mm the text is {size:.1f} mm high, too small to read in print. Draw a part of it: "
            "--focus, --section, or a smaller --detail.",
            err=True,
        )


def _write(output: str, svg: str, form: str, dpi: int) -> None:
    from topo.cli.writing import write_files
    from topo.drawing.printing import printed

    write_files({output: printed(svg, form, dpi)})
    if form != "svg":
        _warn_of_signs(svg)


def _warn_of_signs(svg: str) -> None:
    from topo.drawing.printing.pdf import lacking

    if signs := lacking(svg):
        click.echo(f"The type that is embedded has no {' '.join(signs)}; a box stands there.", err=True)


def _series(reading: Reading, library: Library, form: str, as_json: bool, options: dict) -> None:
    """Write the progressive set and its index, all of it or nothing."""
    from pathlib import Path

    from topo.cli.writing import write_files
    from topo.drawing.printing import printed
    from topo.drawing.series import series
    from topo.explanation import explain
    from topo.reduction import reduce
    from topo.report.figure_set import index_of

    principle = reduce(reading, "principle", library=library)
    explanation = explain(reading, (principle,))
    steps = series(explanation, principle, width=options["width"], symbols=options["symbols"], library=library)
    if steps:
        _warn_of_small_text(options["width"], steps[-1].text_height)
    folder = Path(options["series"])
    names = [f"step-{step.number}.{form}" for step in steps]
    texts: dict[str | Path, str | bytes] = {
        folder / name: printed(step.svg, form, options["dpi"]) for name, step in zip(names, steps, strict=True)
    }
    texts[folder / "index.md"] = index_of(reading.circuit.title or "The circuit", steps, names)
    write_files(texts)
    if form != "svg":
        _warn_of_signs(steps[-1].svg)
    if as_json:
        from topo.report.envelope import as_json as json_text

        rows = [{"file": name, **step.values()} for name, step in zip(names, steps, strict=True)]
        click.echo(json_text({"title": reading.circuit.title, "figures": rows}), nl=False)
    else:
        for name, step in zip(names, steps, strict=True):
            click.echo(f"{folder / name}  {step.heading}")
