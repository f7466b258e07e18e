"""A circuit as JSON, and back: every part with its terminals, values and settings, for other programs to read."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any

from topo.errors import NetlistError, Place, Problem, json_text
from topo.netlist.circuit import Circuit, Part, Port, Supply, Terminal, Winding
from topo.netlist.drafting import GROUND_NAMES, MOST_PARTS
from topo.netlist.kinds import KIND_OF_WORD, kind_of
from topo.netlist.writing import write

FORM = "topo circuit"
_NAME = re.compile(r'[^\s:|=#,()"\\]{1,200}')
_LONGEST_TEXT = 2_000
_SETTINGS = {
    "at": (int, float),
    "state": (str,),
    "way": (int, str),
    "germanium": (bool,),
    "silicon": (bool,),
    "polarised": (bool,),
    "coefficient": (str,),
}


def to_json(circuit: Circuit) -> str:
    """The circuit as JSON text, by `report/schema/circuit.json`."""
    whole = {
        "form": FORM,
        "title": circuit.title,
        "ground": circuit.ground,
        "temperature": circuit.temperature,
        "supplies": [{"net": s.net, "volts": s.volts, "resistance": s.resistance} for s in circuit.supplies],
        "inputs": [{"net": port.net, "reference": port.reference} for port in circuit.inputs],
        "outputs": [{"net": port.net, "reference": port.reference} for port in circuit.outputs],
        "bands": [
            {"section": name, "low": low, "high": high, "assumed": circuit.band_assumed and name is None}
            for name, (low, high) in circuit.bands.items()
        ],
        "sections": list(circuit.sections),
        "notes": list(circuit.notes),
        "aliases": {
            name: net
            for name, net in circuit.aliases.items()
            if name != net.casefold() and not (net == circuit.ground and name in GROUND_NAMES)
        },
        "parts": [_part(part) for part in circuit.parts],
    }
    return json_text(whole, indent=1) + "\n"


def _part(part: Part) -> dict[str, Any]:
    return {
        "ref": part.ref,
        "kind": part.kind,
        "value": part.value,
        "unit": kind_of(part.kind).unit,
        "value_text": part.value_text,
        "type": part.type_name,
        "params": dict(part.params),
        "settings": dict(part.settings),
        "ratings": dict(part.ratings),
        "section": part.section,
        "terminals": [{"name": terminal.name, "net": terminal.net} for terminal in part.terminals],
        "windings": [
            {"terminals": list(w.terminals), "turns": list(w.turns), "assumed": w.assumed} for w in part.windings
        ],
    }


def from_json(text: str, file: str = "<text>") -> Circuit:
    """The circuit of a JSON text as `to_json` writes it.

    Raises:
        NetlistError: it is no such text; it holds every problem, each with the path of the field.
    """
    from topo.netlist.drafting import Drafter

    try:
        whole = json.loads(text.lstrip("\ufeff"), parse_constant=_no_constant)
    except RecursionError:
        raise NetlistError((Problem(Place(file), "the text is nested too deeply."),)) from None
    except ValueError as error:
        line, column = getattr(error, "lineno", 0), getattr(error, "colno", 0)
        message = f"this is no JSON: {getattr(error, 'msg', error)}."
        raise NetlistError((Problem(Place(file, line, column), message, code="json"),)) from None
    reader = _Reader(file)
    circuit = reader.circuit(whole)
    if reader.problems:
        raise NetlistError(tuple(reader.problems))
    netlist = write(circuit)
    try:
        return Drafter(netlist, file).circuit()
    except NetlistError as error:
        raise NetlistError(tuple(_without_line(problem, file) for problem in error.problems)) from None


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number here")


def _without_line(problem: Problem, file: str) -> Problem:
    """A problem of a part: where it stands in a netlist of the same parts says nothing of the JSON text."""
    return Problem(
        Place(file), problem.message, problem.expected, problem.mend, problem.source, problem.severity, problem.code
    )


class _Reader:
    """Takes a JSON value for a circuit, noting what of it cannot be taken."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []

    def _wrong(self, path: str, wanted: str) -> None:
        self.problems.append(Problem(Place(self.file), f"{path}: {wanted} is wanted.", code="json-field"))

    def _list(self, value: Any, path: str) -> list[Any]:
        if value is None:
            return []
        if not isinstance(value, list):
            self._wrong(path, "a list")
            return []
        if len(value) > MOST_PARTS:
            self._wrong(path, f"a list of no more than {MOST_PARTS} entries")
            return []
        return value

    def _table(self, value: Any, path: str) -> Mapping[str, Any]:
        if value is None:
            return {}
        if not isinstance(value, dict):
            self._wrong(path, "an object")
            return {}
        return value

    def _name(self, value: Any, path: str, default: str = "") -> str:
        if value is None and default:
            return default
        if isinstance(value, str) and _NAME.fullmatch(value) and value.isprintable():
            return value
        self._wrong(path, 'a name without white space and without : | = # , ( ) "')
        return default or "?"

    def _text(self, value: Any, path: str) -> str:
        if value is None:
            return ""
        if isinstance(value, str) and len(value) <= _LONGEST_TEXT and "#" not in value and "\\" not in value:
            return " ".join("".join(c if c.isprintable() else " " for c in value).split())
        self._wrong(path, "a line of text without # and \\")
        return ""

    def _number(self, value: Any, path: str, default: float | None = None) -> float | None:
        if value is None:
            return default
        if (
            isinstance(value, (int, float))
            and not isinstance(value, bool)
            and abs(value) < 1e300
            and math.isfinite(value)
        ):
            return float(value)
        self._wrong(path, "a number")
        return default

    def _numbers(self, value: Any, path: str) -> dict[str, float]:
        found = {}
        for name, figure in self._table(value, path).items():
            known = self._number(figure, f"{path}.{name}")
            if known is not None and re.fullmatch(r"[A-Za-z%°][\w%°]{0,15}", name):
                found[name] = known
            elif known is not None:
                self._wrong(f"{path}.{name}", "a parameter's name")
        return found

    def circuit(self, value: Any) -> Circuit:
        """The circuit of the whole."""
        whole = self._table(value, "the text")
        if whole.get("form") != FORM:
            self._wrong("form", f'"{FORM}"')
        ground = self._name(whole.get("ground"), "ground", "gnd")
        parts = tuple(
            self._part(row, f"parts[{place}]") for place, row in enumerate(self._list(whole.get("parts"), "parts"))
        )
        bands: dict[str | None, tuple[float, float]] = {}
        assumed = False
        for place, item in enumerate(self._list(whole.get("bands"), "bands")):
            band = self._table(item, f"bands[{place}]")
            low, high = (self._number(band.get(key), f"bands[{place}].{key}", 0.0) or 0.0 for key in ("low", "high"))
            section = self._text(band.get("section"), f"bands[{place}].section") or None
            assumed = assumed or (section is None and band.get("assumed") is True)
            bands[section] = (low, high)
        return Circuit(
            title=self._text(whole.get("title"), "title"),
            parts=parts,
            nets=tuple(dict.fromkeys(terminal.net for part in parts for terminal in part.terminals)),
            supplies=tuple(self._supplies(whole.get("supplies"))),
            ground=ground,
            inputs=self._ports(whole.get("inputs"), "inputs", ground),
            outputs=self._ports(whole.get("outputs"), "outputs", ground),
            bands=bands,
            band_assumed=assumed,
            temperature=self._number(whole.get("temperature"), "temperature", 27.0) or 0.0,
            notes=tuple(filter(None, (self._text(n, "notes") for n in self._list(whole.get("notes"), "notes")))),
            sections=tuple(
                dict.fromkeys(
                    filter(None, (self._text(n, "sections") for n in self._list(whole.get("sections"), "sections")))
                )
            ),
            aliases=self._aliases(whole.get("aliases")),
            file=self.file,
        )

    def _aliases(self, value: Any) -> dict[str, str]:
        return {
            self._name(name, "aliases").casefold(): self._name(net, f"aliases.{name}")
            for name, net in self._table(value, "aliases").items()
        }

    def _supplies(self, value: Any) -> list[Supply]:
        found = []
        for place, item in enumerate(self._list(value, "supplies")):
            row, path = self._table(item, f"supplies[{place}]"), f"supplies[{place}]"
            volts = self._number(row.get("volts"), f"{path}.volts")
            if volts is None:
                self._wrong(f"{path}.volts", "a number")
                continue
            ohms = self._number(row.get("resistance"), f"{path}.resistance", 0.0) or 0.0
            found.append(Supply(self._name(row.get("net"), f"{path}.net"), volts, ohms))
        return found

    def _ports(self, value: Any, path: str, ground: str) -> tuple[Port, ...]:
        found = []
        for place, item in enumerate(self._list(value, path)):
            row = self._table(item, f"{path}[{place}]")
            net = self._name(row.get("net"), f"{path}[{place}].net")
            found.append(Port(net, self._name(row.get("reference"), f"{path}[{place}].reference", ground)))
        return tuple(found)

    def _part(self, value: Any, path: str) -> Part:
        row = self._table(value, path)
        kind = row.get("kind")
        if not isinstance(kind, str) or kind not in KIND_OF_WORD or KIND_OF_WORD[kind].name != kind:
            self._wrong(f"{path}.kind", "a kind of part")
            kind = "other"
        text = row.get("value_text")
        kept = isinstance(text, str) and bool(_NAME.fullmatch(text))
        type_name = row.get("type")
        return Part(
            ref=self._name(row.get("ref"), f"{path}.ref"),
            kind=kind,
            terminals=self._terminals(row.get("terminals"), f"{path}.terminals"),
            value=self._number(row.get("value"), f"{path}.value"),
            value_text=str(text) if kept else "",
            type_name=None if type_name is None else self._name(type_name, f"{path}.type"),
            params=self._numbers(row.get("params"), f"{path}.params"),
            settings=self._settings(row.get("settings"), f"{path}.settings"),
            ratings=self._numbers(row.get("ratings"), f"{path}.ratings"),
            windings=self._windings(row, path),
            section=self._text(row.get("section"), f"{path}.section") or None,
        )

    def _terminals(self, value: Any, path: str) -> tuple[Terminal, ...]:
        found = []
        for place, item in enumerate(self._list(value, path)):
            row = self._table(item, f"{path}[{place}]")
            name = self._name(row.get("name"), f"{path}[{place}].name")
            found.append(Terminal(name, self._name(row.get("net"), f"{path}[{place}].net")))
        if not found:
            self._wrong(path, "one terminal or more")
        return tuple(found)

    def _settings(self, value: Any, path: str) -> dict[str, object]:
        found: dict[str, object] = {}
        for name, setting in self._table(value, path).items():
            types = _SETTINGS.get(name)
            if types is None or not isinstance(setting, types) or (isinstance(setting, bool) and bool not in types):
                self._wrong(f"{path}.{name}", "a setting of a part")
            elif isinstance(setting, str) and not _NAME.fullmatch(setting):
                self._wrong(f"{path}.{name}", "a word")
            else:
                found[name] = setting
        return found

    def _windings(self, row: Mapping[str, Any], path: str) -> tuple[Winding, ...]:
        there = {item.get("name") for item in self._list(row.get("terminals"), path) if isinstance(item, dict)}
        found = []
        for place, item in enumerate(self._list(row.get("windings"), f"{path}.windings")):
            winding, where = self._table(item, path), f"{path}.windings[{place}]"
            names = [name for name in self._list(winding.get("terminals"), where) if isinstance(name, str)]
            turns = [self._number(figure, where, 1.0) or 1.0 for figure in self._list(winding.get("turns"), where)]
            if len(names) < 2 or len(turns) != len(names) - 1 or not set(names) <= there or min(turns) <= 0:
                self._wrong(where, "terminals of the part, and turns for each section between them,")
                continue
            found.append(Winding(f"w{place + 1}", tuple(names), tuple(turns), winding.get("assumed") is True))
        return tuple(found)
