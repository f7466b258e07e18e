"""`topo check`: what is wrong or doubtful in a netlist, all of it in one run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from topo.cli.sources import circuit_argument, circuit_of, json_option

if TYPE_CHECKING:
    from topo.errors import Problem
    from topo.netlist.circuit import Circuit
    from topo.reading.reading import NearMiss


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
    return Verdict(shown, judge_circuit(circuit, gaps, voltages), circuit, strict)


def judge_circuit(circuit: Circuit, gaps: bool, voltages: bool) -> tuple[Problem, ...]:
    """All that can be asked about a circuit, in the order of the lines."""
    problems = list(circuit.warnings)
    if gaps:
        from topo.netlist.checks import check as checked

        problems += [problem for problem in checked(circuit, gaps=True) if problem.severity == "note"]
    if voltages:
        from topo.overview import is_large

        found, restless = _piece_by_piece(circuit) if is_large(circuit) else _with_voltages(circuit)
        problems += found
        if restless and not circuit.inputs:
            problems = [problem for problem in problems if problem.code != "band-asked"]
    return tuple(sorted(problems, key=lambda problem: (problem.place.line, problem.place.column)))


def _with_voltages(circuit: Circuit) -> tuple[list[Problem], bool]:
    """What the operating point and a reading give rise to; and whether it is a circuit that never stays at rest."""
    from topo.matching.shelf import library
    from topo.reading import read
    from topo.reading.oddities import restless_devices
    from topo.reading.slips import slips

    patterns = library()
    reading = read(circuit, patterns)
    told = {problem.code for problem in circuit.warnings}
    found = [*reading.of_voltages, *slips(reading, patterns)]
    found += [problem for problem in reading.warnings if problem.code not in told]
    found += [_near_miss(miss, circuit) for miss in reading.near_misses]
    restless = restless_devices(reading, patterns)
    if restless:  # what its devices and electrolytics would do at rest is no fault
        moving = {circuit.part(ref).place for ref in restless}
        found = [
            problem
            for problem in found
            if not (problem.place in moving and problem.code.startswith("device-"))
            and problem.code != "electrolytic-reversed"
        ]
    return list(dict.fromkeys(found)), bool(restless)


def _piece_by_piece(circuit: Circuit) -> tuple[list[Problem], bool]:
    """The same of a large circuit: asked of one piece of each shape, with how many more pieces it holds for."""
    from dataclasses import replace

    from topo.overview import pieces_to_read

    told = {problem.code for problem in circuit.warnings}
    found: list[Problem] = []
    restless = False
    for piece, count in pieces_to_read(circuit):
        problems, moves = _with_voltages(piece)
        restless = restless or moves
        more = f" So it is in {_counted(count - 1, 'piece')} more." if count > 1 else ""
        found += [replace(item, message=item.message + more) for item in problems if item.code not in told]
    return found, restless


def _near_miss(miss: NearMiss, circuit: Circuit) -> Problem:
    """A near miss as a problem of its line."""
    from topo.errors import Place, Problem
    from topo.reading.summary import capital

    column, length = miss.mark if miss.mark[0] else (0, 1)
    place = Place(circuit.file, miss.line, column, length)
    return Problem(place, miss.message, "", capital(miss.suggestion), miss.source, "warning", "near-miss")


def as_text(verdict: Verdict) -> str:
    """The problems as a person reads them, and a closing line."""
    from topo.errors import MOST_SHOWN

    paragraphs = [str(problem) for problem in verdict.problems[:MOST_SHOWN]]
    if len(verdict.problems) > MOST_SHOWN:
        paragraphs.append(f"... and {len(verdict.problems) - MOST_SHOWN} more.")
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
    from topo.errors import json_text

    circuit = verdict.circuit
    return json_text(
        {
            "file": verdict.file,
            "passed": verdict.passed,
            "parts": len(circuit.parts) if circuit else None,
            "nets": len(circuit.nets) if circuit else None,
            "problems": [_problem(problem) for problem in verdict.problems],
        },
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
