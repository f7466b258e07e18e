"""`topo bias`: how to set the quiescent currents."""

from __future__ import annotations

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option, library_of, patterns_option


@click.command(short_help="Say how to set the quiescent currents, step by step.")
@circuit_argument
@click.option(
    "--set",
    "wanted",
    metavar="DEVICE=AMPERES",
    multiple=True,
    help="Your own specified current of a stage, as Q5=150mA: the rise of the total that its trimmer is to bring.",
)
@patterns_option
@json_option
def bias(file: str, wanted: tuple[str, ...], pattern_folders, as_json: bool) -> None:
    """Give the setting-up procedure of FILE from its recognised bias trimmers: which end of each is minimum, in
    which order, what the supply current should be, and what each place of the wiper gives.

    No specified current is ever supplied: give yours with --set. The equipment's own manual governs.
    """
    from topo.reading import read
    from topo.reading.setting_up import setting_up

    targets = currents_of(wanted)
    found = setting_up(read(circuit_of(file), library_of(pattern_folders)), targets)
    if as_json:
        from topo.report.envelope import as_json as json_text
        from topo.report.setting_json import envelope

        click.echo(json_text(envelope(found)), nl=False)
    else:
        from topo.cli.paging import page
        from topo.report.setting_up import text

        click.echo(text(found, page()), nl=False)


def currents_of(wanted: tuple[str, ...]) -> dict[str, float]:
    """Amperes by the names typed before the sign.

    Raises:
        UsageError: no sign, no positive current, or one name twice.
    """
    from topo.errors import UsageError
    from topo.quantities import QuantityError, parse

    found: dict[str, float] = {}
    for typed in wanted:
        name, sign, value = typed.partition("=")
        try:
            amperes = parse(value.strip(), "A") if sign and name.strip() else 0.0
        except QuantityError:
            amperes = 0.0
        if amperes <= 0:
            raise UsageError(f"--set {typed}: write a device and a current above nothing, such as Q5=150mA.")
        if name.strip() in found:
            raise UsageError(f"--set gives {name.strip()} two figures.")
        found[name.strip()] = amperes
    return found
