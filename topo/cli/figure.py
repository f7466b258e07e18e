"""`topo figure`: the circuit, or what is left of it, as a schematic."""

from __future__ import annotations

import re

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option, library_of, patterns_option

_WIDTH = re.compile(r"(\d{1,4}(?:\.\d{1,2})?) *(mm|cm)?")
_LEAST, _MOST = 20.0, 2000.0
# Print practice: 7 points at final size.
_LEAST_TEXT = 1.7


class _Width(click.ParamType):
    name = "width"

    def convert(self, value, param, ctx):
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
    default="working",
    show_default=True,
    help="How much to draw: everything; what it works by; the principle.",
)
@click.option("--focus", metavar="BLOCK", default="", help="Draw one block only: its number, or a part of its name.")
@click.option("--section", metavar="NAME", default="", help="Draw one section of the circuit only.")
@click.option("--width", type=_Width(), metavar="85mm", help="Width in print; without it a module is 2.5 mm.")
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
    "-o", "--output", metavar="FILE", type=click.Path(dir_okay=False), help="Write the figure here: .svg, .pdf or .png."
)
@click.option("--dpi", type=click.IntRange(50, 2400), default=600, show_default=True, help="Dots per inch of a .png.")
@json_option
@patterns_option
def figure(
    file: str,
    detail: str,
    focus: str,
    section: str,
    width: float | None,
    symbols: str,
    blocks: bool,
    values: str | None,
    output: str | None,
    dpi: int,
    as_json: bool,
    pattern_folders,
) -> None:
    """Draw the circuit of FILE as a schematic, SVG, to standard output or a file.

    What the figure joins is read back from its own lines and compared with the circuit; a figure that differs
    is never written. The same circuit gives the same bytes.
    """
    from topo.drawing import figure as drawn
    from topo.drawing.printing import format_of, printed
    from topo.reading import read
    from topo.reduction import reduce

    form = format_of(output) if output is not None else "svg"
    circuit = circuit_of(file)
    library = library_of(pattern_folders)
    reading = read(circuit, library)
    source = reading if detail == "whole" else reduce(reading, detail, library=library)
    result = drawn(
        source, focus=focus, section=section, width=width, symbols=symbols, blocks=blocks, values=values or ""
    )
    if width is not None and (size := result.text_height(width)) < _LEAST_TEXT:
        click.echo(
            f"At {width:g} mm the text is {size:.1f} mm high, too small to read in print. Draw a part of it: "
            "--focus, --section, or a smaller --detail.",
            err=True,
        )
    if output is not None:
        from topo.cli.writing import write_files

        write_files({output: printed(result.svg, form, dpi)})
        if form != "svg":
            from topo.drawing.printing.pdf import lacking

            if signs := lacking(result.svg):
                click.echo(f"The type that is embedded has no {' '.join(signs)}; a box stands there.", err=True)
    if as_json:
        from topo.report.envelope import as_json as json_text

        click.echo(json_text(result.values()), nl=False)
    elif output is None:
        click.echo(result.svg, nl=False)
