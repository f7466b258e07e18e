"""`topo check`: what is wrong or doubtful in a netlist, all of it in one run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option

if TYPE_CHECKING:
    from topo.errors import Problem
    from topo.netlist.circuit import Circuit


@dataclass(frozen=True)
class Verdict:
    """What a check found; `circuit` is None where the text has errors."""

    file: str
    problems: tuple[Problem, ...]
    circuit: Circuit | None
    strict: bool

    def count(self, severity: str) -> int:
        """How many problems there are of a severity."""
        return sum(problem.severity == severity for problem in self.problems)

    @property
    def passed(self) -> bool:
        """Whether the file may be used: no error and, where asked for, no warning."""
        return not self.count("error") and not (self.strict and self.count("warning"))


@click.command(short_help="Say what is wrong or doubtful in the netlist.")
@circuit_argument
@click.option("--strict", is_flag=True, help="Take warnings for errors.")
@click.option("--gaps", is_flag=True, help="Note the designators that are missing in each run, such as R14.")
@click.option(
    "--parts",
    "order",
    type=click.Choice(["designator", "value"]),
    help="List the parts, to tick off against the paper.",
)
@click.option("--on", "net", metavar="NET", help="Say what is on a net; Q1.c means the net of that terminal.")
@click.option("--between", "pair", nargs=2, metavar="NET NET", help="Say what joins two nets.")
@click.option("--no-voltages", is_flag=True, help="Leave out the checks that need the operating point.")
@json_option
@click.pass_context
def check(
    ctx: click.Context,
    file: str,
    strict: bool,
    gaps: bool,
    order: str | None,
    net: str | None,
    pair: tuple[str, str] | None,
    no_voltages: bool,
    as_json: bool,
) -> None:
    """Check the netlist of FILE: each problem with its line, what was expected, and a mend to type.

    --parts, --on and --between answer a question about the wiring in place of the checks.

    Exit status: 0 the netlist can be used, 1 it has errors (or, with --strict, warnings), 2 wrong use.
    """
    if order or net or pair:
        from topo.cli.asking import answer

        click.echo(answer(circuit_of(file), order, net, pair, as_json), nl=False)
        return
    verdict = judge(file, strict, gaps, voltages=not no_voltages)
    click.echo(as_json_text(verdict) if as_json else as_text(verdict))
    ctx.exit(0 if verdict.passed else 1)


def judge(file: str, strict: bool, gaps: bool, voltages: bool) -> Verdict:
    """Read a file and gather all that can be asked about it."""
    from topo.errors import NetlistError

    shown = "<standard input>" if file == "-" else file
    try:
        circuit = circuit_of(file)
    except NetlistError as error:
        return Verdict(shown, error.problems, None, strict)
    problems = list(circuit.warnings)
    if gaps:
        from topo.netlist.checks import check as checked

        problems += [problem for problem in checked(circuit, gaps=True) if problem.severity == "note"]
    if voltages:
        problems += _with_voltages(circuit)
    problems.sort(key=lambda problem: (problem.place.line, problem.place.column))
    return Verdict(shown, tuple(problems), circuit, strict)


def _with_voltages(circuit: Circuit) -> tuple[Problem, ...]:
    """The checks that need the operating point."""
    from topo.analysis import operating_point
    from topo.analysis.sanity import check_with_point

    return check_with_point(circuit, operating_point(circuit))


def as_text(verdict: Verdict) -> str:
    """The problems as a person reads them, and a closing line."""
    paragraphs = [str(problem) for problem in verdict.problems]
    return "\n\n".join((*paragraphs, _closing(verdict)))


def _closing(verdict: Verdict) -> str:
    """What stands, in one line."""
    counts = [_counted(verdict.count(severity), severity) for severity in ("error", "warning", "note")]
    found = ", ".join(count for count in counts if count) or "no problems"
    if verdict.circuit is None:
        return f"{verdict.file}: {found}. Nothing is read from it until the errors are mended."
    size = f"{_counted(len(verdict.circuit.parts), 'part') or 'no parts'}, {_counted(len(verdict.circuit.nets), 'net')}"
    return f"{verdict.file}: {size.removesuffix(', ')}; {found}."


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}" if number else ""


def as_json_text(verdict: Verdict) -> str:
    """The problems as JSON: `file`, `passed`, `parts`, `nets`, and `problems` in the order of their lines."""
    import json

    circuit = verdict.circuit
    return json.dumps(
        {
            "file": verdict.file,
            "passed": verdict.passed,
            "parts": len(circuit.parts) if circuit else None,
            "nets": len(circuit.nets) if circuit else None,
            "problems": [_problem(problem) for problem in verdict.problems],
        },
        indent=2,
        ensure_ascii=False,
    )


def _problem(problem: Problem) -> dict[str, object]:
    return {
        "severity": problem.severity,
        "code": problem.code,
        "line": problem.place.line or None,
        "column": problem.place.column or None,
        "length": problem.place.length,
        "message": problem.message,
        "expected": problem.expected or None,
        "mend": problem.mend or None,
        "source": problem.source or None,
    }
