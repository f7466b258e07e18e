"""`topo voltages`: what a meter shows at rest on every device."""

from __future__ import annotations

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option


@click.command(short_help="Say what a meter shows at rest on every device, with ranges.")
@circuit_argument
@click.option("--nets", is_flag=True, help="List the volts of every net as well.")
@click.option("--extremes", is_flag=True, help="Let the ranges hold every sample, not nine in ten.")
@json_option
def voltages(file: str, nets: bool, extremes: bool, as_json: bool) -> None:
    """Compute the circuit of FILE at rest: first the total supply current, then the volts of each device's leads and
    its current, each with a range for a sound specimen of the circuit.

    Each figure is marked: c calculated from given values, a rests on an assumed value, ? not known.
    """
    from topo.analysis.spread import spread
    from topo.report.voltages import text
    from topo.report.voltages import voltages as collected

    circuit = circuit_of(file)
    found = collected(circuit, spread(circuit, extremes=extremes), circuit.nets if nets else ())
    if as_json:
        from topo.report.envelope import as_json as json_text
        from topo.report.voltages_json import envelope

        click.echo(json_text(envelope(found)), nl=False)
    else:
        from topo.cli.paging import page

        click.echo(text(found, page()), nl=False)
