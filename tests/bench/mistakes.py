"""How many typing mistakes are flagged, and on the right line: `python -m tests.bench.mistakes [seed [each]]`.

Of every sample one mistake of each kind is made at a place chosen by the seed (`each` times): a net misspelt, two
terminals exchanged, a part left out, a value ten times too large or small, npn for pnp. A mistake is flagged on the
right line where a warning, an error or a near miss points at the line that was changed; a part left out is flagged
where the gap list names it or something points at a part that it was joined to. The correct files must draw nothing.
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import topo
from topo.cli.check import judge_circuit
from topo.errors import NetlistError, Problem

ROOT = Path(__file__).resolve().parents[2]
KINDS = ("net misspelt", "terminals exchanged", "part left out", "value off by ten", "npn for pnp")
_PART = re.compile(r"^(?P<ref>[A-Za-z]+\d+)\s+(?P<what>.*?)\s*:(?P<where>\s.*)$")
_VALUE = re.compile(r"(?<![\w.])(\d+)([kMunpRm])?(\d*)(?=\s)")


class Mistake(NamedTuple):
    """A text with a mistake, the lines that are right to point at, the designator left out ("" where none is)."""

    kind: str
    text: str
    lines: frozenset[int]
    gone: str = ""
    what: str = ""


def mistakes(text: str, rng: random.Random) -> Iterator[Mistake]:
    """One mistake of each kind, where the circuit has room for it."""
    for kind, make in zip(KINDS, (_misspell, _exchange, _leave_out, _slip, _other_polarity), strict=True):
        rows = text.split("\n")
        numbers = [number for number, row in enumerate(rows) if _PART.match(row)]
        rng.shuffle(numbers)
        for number in numbers:
            made = make(rows, number, rng)
            if made is not None:
                changed, lines, gone = made
                yield Mistake(
                    kind, "\n".join(changed), lines, gone, f"{rows[number].strip()}  ->  {_new(changed, number)}"
                )
                break


def _new(rows: list[str], number: int) -> str:
    return rows[number].strip() or "(gone)"


def _replaced(rows: list[str], number: int, row: str) -> list[str]:
    return [*rows[:number], row, *rows[number + 1 :]]


Made = tuple[list[str], frozenset[int], str] | None


def _misspell(rows: list[str], number: int, rng: random.Random) -> Made:
    head, _, where = rows[number].partition(" : ")
    body = where.split("#")[0]
    names = [name for name in re.findall(r"(?<![\w.+-])[A-Za-z]\w+(?![\w.=])", body) if name.lower() != "gnd"]
    if not names:
        return None
    name = rng.choice(names)
    at = rng.randrange(len(name))
    slips = [name[:at] + name[at + 1 :], name[:at] + name[at] + name[at:], name[: at + 1] + "x" + name[at + 1 :]]
    if at + 1 < len(name) and name[at] != name[at + 1]:
        slips.append(name[:at] + name[at + 1] + name[at] + name[at + 2 :])
    wrong = rng.choice(slips)
    known = {word.lower() for row in rows for word in re.findall(r"[\w+-]+", row)}
    if not wrong or wrong.lower() in known:
        return None
    place = rng.choice([match.start() for match in re.finditer(rf"(?<![\w.]){re.escape(name)}(?![\w.])", body)])
    changed = f"{head} : {body[:place]}{wrong}{body[place + len(name) :]}"
    return _replaced(rows, number, changed), frozenset((number + 1,)), ""


def _exchange(rows: list[str], number: int, rng: random.Random) -> Made:
    head, _, where = rows[number].partition(" : ")
    named = re.findall(r"(\w+)=(\S+)", where)
    if len(named) == 3:
        one, other = rng.sample(range(3), 2)
        nets = [net for _, net in named]
        if nets[one] == nets[other]:
            return None
        nets[one], nets[other] = nets[other], nets[one]
        fields = " ".join(f"{name}={net}" for (name, _), net in zip(named, nets, strict=True))
        return _replaced(rows, number, f"{head} : {fields}"), frozenset((number + 1,)), ""
    words = where.split("#")[0].split()
    turned = re.search(r"\b(diode|zener|led|rectifier|electrolytic)\b", head) or re.match(r"\s*(D|ZD)\d", head)
    if turned and len(words) == 2:
        return _replaced(rows, number, f"{head} : {words[1]} {words[0]}"), frozenset((number + 1,)), ""
    if "|" in where:
        windings = [winding.split() for winding in where.split("#")[0].split("|")]
        tapped = [winding for winding in windings if len(winding) == 3]
        if not tapped:
            return None
        winding = rng.choice(tapped)
        winding[0], winding[1] = winding[1], winding[0]
        return _replaced(rows, number, f"{head} : {' | '.join(map(' '.join, windings))}"), frozenset((number + 1,)), ""
    return None


def _leave_out(rows: list[str], number: int, rng: random.Random) -> Made:
    match = _PART.match(rows[number])
    assert match is not None
    nets = set(re.findall(r"[\w+-]+", re.sub(r"\w+=", "", match["where"].split("#")[0]))) - {"gnd", "vcc", "vp", "vn"}
    beside = {
        other + 1
        for other, row in enumerate(rows)
        if other != number
        and (found := _PART.match(row))
        and nets & set(re.findall(r"[\w+-]+", re.sub(r"\w+=", "", found["where"])))
    }
    beside |= {
        other + 1 for other, row in enumerate(rows) if re.match(r"(in|out)put\s", row) and nets & set(row.split()[1:])
    }
    return _replaced(rows, number, ""), frozenset(beside), match["ref"]


def _slip(rows: list[str], number: int, rng: random.Random) -> Made:
    match = _PART.match(rows[number])
    assert match is not None
    if not re.match(r"[RC]\d", match["ref"]):
        return None
    value = _VALUE.search(match["what"] + " ")
    if value is None:
        return None
    whole, letter, rest = value[1], value[2] or "", value[3]
    if rng.random() < 0.5:
        wrong = f"{whole}{rest[:1] or '0'}{letter}{rest[1:]}" if letter else f"{whole}0"
    else:
        wrong = f"{whole[:-1] or '0'}{letter or 'R'}{whole[-1]}{rest}" if letter != "R" else f"0R{whole}{rest}"
    what = match["what"][: value.start()] + wrong + match["what"][value.end() :]
    return _replaced(rows, number, f"{match['ref']} {what} :{match['where']}"), frozenset((number + 1,)), ""


def _other_polarity(rows: list[str], number: int, rng: random.Random) -> Made:
    match = re.search(r"\b(npn|pnp)\b", rows[number].partition(" : ")[0])
    if match is None:
        return None
    other = "pnp" if match[1] == "npn" else "npn"
    row = rows[number][: match.start()] + other + rows[number][match.end() :]
    return _replaced(rows, number, row), frozenset((number + 1,)), ""


class Flag(NamedTuple):
    """Something said of a text: the lines that it points at, and what it says."""

    lines: frozenset[int]
    text: str


def flags(text: str) -> list[Flag]:
    """All that is said of a text that asks for another look: errors, warnings, gaps, near misses."""
    try:
        circuit = topo.loads(text, "sample.net")
    except NetlistError as error:
        return [_flag(problem) for problem in error.problems]
    problems = judge_circuit(circuit, gaps=True, voltages=True)
    said = [_flag(problem) for problem in problems]
    return list(dict.fromkeys(said))


def _flag(problem: Problem) -> Flag:
    text = f"{problem.severity}: {problem.message} {problem.mend}"
    named = [int(number) for number in re.findall(r"\bline (\d+)", text)]
    return Flag(frozenset((problem.place.line, *named)), text)


def judged(mistake: Mistake, usual: frozenset[str]) -> tuple[bool, list[Flag]]:
    """Whether a mistake is flagged on the right line, and all that is said beyond what is said of the correct file."""
    said = [flag for flag in flags(mistake.text) if flag.text not in usual]
    right = any(
        flag.lines & mistake.lines or (mistake.gone and re.search(rf"\b{mistake.gone}\b", flag.text)) for flag in said
    )
    return right, said


def main() -> None:
    """Print the share of each kind, and each mistake that went by."""
    seed, each = (int(word) for word in (*sys.argv[1:3], *("1", "5")[len(sys.argv) - 1 :]))
    rng = random.Random(seed)
    right = dict.fromkeys(KINDS, 0)
    made = dict.fromkeys(KINDS, 0)
    for path in sorted((ROOT / "samples").glob("*.net")):
        text = path.read_text(encoding="utf-8")
        usual = frozenset(flag.text for flag in flags(text))
        for line in sorted(usual):
            print(f"{path.stem}, correct: {line}")
        for _ in range(each):
            for mistake in mistakes(text, rng):
                found, said = judged(mistake, usual)
                made[mistake.kind] += 1
                right[mistake.kind] += found
                if not found:
                    print(f"{path.stem}, {mistake.kind}: {mistake.what}")
                    for flag in said[:4]:
                        print(f"    said of line {min(flag.lines)}: {flag.text[:140]}")
    for kind in KINDS:
        print(f"{kind:20} {right[kind]:3} of {made[kind]:3}")
    total, whole = sum(right.values()), sum(made.values())
    print(f"{'all':20} {total:3} of {whole:3}, {100 * total / whole:.0f} %")


if __name__ == "__main__":
    main()
