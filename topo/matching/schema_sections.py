"""The parts of a pattern file that are numbers, texts and examples."""

from __future__ import annotations

from collections.abc import Mapping

from topo.errors import Place
from topo.matching.checking import Checker
from topo.matching.pattern import Figure
from topo.matching.placeholders import read_placeholders
from topo.matching.schema_shape import read_condition
from topo.matching.schema_texts import Example, Segments, Texts
from topo.matching.units import UNITS
from topo.matching.vocabulary import Vocabulary
from topo.matching.yaml_source import Entry

VOICES = ("student", "technician")
DETAILS = ("working", "principle")


class Sections:
    """Reads these keys of one file; `vocabulary` has to know the pattern's roles and nets by then."""

    def __init__(self, entry: Entry, top: Mapping[str, Entry], vocabulary: Vocabulary, checker: Checker) -> None:
        self.entry = entry
        self.top = top
        self.vocabulary = vocabulary
        self.checker = checker

    def known_role(self, word: str, place: Place) -> bool:
        """Whether a word names a role; a problem if not."""
        if self.vocabulary.is_role(word):
            return True
        self.checker.unknown(place, "role", word, self.vocabulary.roles)
        return False

    # -- numbers and texts ----------------------------------------------------------------------------------------

    def name_figures(self) -> None:
        """Lets the vocabulary know what figures there are, so that conditions may speak of them."""
        entry = self.top.get("figures")
        for name, _, value in entry.pairs if entry is not None else ():
            unit = value.get("unit")
            self.vocabulary.figures[name] = unit.text if unit is not None and unit.text in UNITS else ""

    def figures(self) -> tuple[Figure, ...]:
        entry = self.top.get("figures")
        pairs = self.checker.map(entry, "`figures`")
        units: dict[str, str] = {}
        for name, place, value in pairs:
            keys = {key: item for key, _, item in self.checker.map(value, "A figure", ("is", "unit"))}
            unit = keys["unit"].text if "unit" in keys and keys["unit"].kind == "text" else ""
            if "unit" in keys and unit not in UNITS:
                self.checker.unknown(keys["unit"].place, "unit", unit, UNITS, expected=", ".join(filter(None, UNITS)))
                unit = ""
            if "is" not in keys or "unit" not in keys:
                self.checker.complain(
                    place, f"The figure `{name}` lacks its formula or unit.", expected='`{is: "...", unit: V}`'
                )
            if name in self.vocabulary.roles or name in self.vocabulary.nets:
                self.checker.complain(place, f"`{name}` is a role or net as well.", expected="a name of its own")
            units[name] = unit
        self.vocabulary.figures = units
        found = []
        for name, _, value in pairs:
            formula = value.get("is") if value.kind == "map" else None
            if formula is None:
                continue
            condition = read_condition(formula, self.vocabulary, self.checker)
            if condition is None:
                continue
            figure = Figure(name, condition.tree, units[name], condition.text, condition.names)
            got = self.vocabulary.unit(figure.tree, figure.text, formula.place, self.checker)
            if got and got != figure.unit and UNITS[got] != UNITS.get(figure.unit):
                message = f"The figure `{name}` comes out in {got}, not in {figure.unit or 'a plain number'}."
                self.checker.complain(formula.place, message, expected=f"`unit: {got}`", code="unit")
            found.append(figure)
        self._check_circles(found)
        return tuple(found)

    def _check_circles(self, figures: list[Figure]) -> None:
        """No figure may be computed from itself."""
        uses = {figure.name: [name for name in figure.names if name in self.vocabulary.figures] for figure in figures}
        for start in uses:
            seen: set[str] = set()
            queue = list(uses[start])
            while queue:
                name = queue.pop()
                if name not in seen:
                    seen.add(name)
                    queue.extend(uses.get(name, ()))
            if start in seen:
                message = f"The figure `{start}` is computed from itself."
                self.checker.complain(self.top["figures"].place, message, code="expression")
                return

    def _segments(self, entry: Entry | None, what: str) -> list[Segments]:
        return [
            read_placeholders(text, place, self.vocabulary, self.checker)
            for text, place in self.checker.texts(entry, what)
        ]

    def texts(self) -> Texts:
        keys = {k: v for k, _, v in self.checker.map(self.top.get("text"), "`text`", ("block", "roles", "check"))}
        block: dict[str, list[Segments]] = {}
        for voice, _, value in self.checker.map(keys.get("block"), "`block`", VOICES):
            block[voice] = self._segments(value, f"The text for a {voice}")
        missing = [voice for voice in VOICES if not block.get(voice)]
        if missing:
            place = self.top["text"].place if "text" in self.top else self.entry.place
            message = f"The text of the block lacks the voice of the {' and the '.join(missing)}."
            self.checker.complain(
                place, message, expected="`text: {block: {student: [...], technician: [...]}}`", code="missing"
            )
        roles: dict[str, dict[str, Segments]] = {}
        for name, place, value in self.checker.map(keys.get("roles"), "`roles` of the text"):
            if not self.known_role(name, place):
                continue
            if value.kind == "map":
                pairs = self.checker.map(value, f"The text of `{name}`", VOICES)
                voices = {voice: self._segments(item, f"The text of `{name}`") for voice, _, item in pairs}
            else:
                both = self._segments(value, f"The text of `{name}`")
                voices = dict.fromkeys(VOICES, both)
            roles[name] = {voice: found[0] for voice, found in voices.items() if found}
        omit: dict[str, dict[str, Segments]] = {}
        for detail, _, value in self.checker.map(self.top.get("omit"), "`omit`", DETAILS):
            omit[detail] = {}
            for name, place, item in self.checker.map(value, f"`{detail}`"):
                reasons = self._segments(item, f"The reason for `{name}`")
                if self.known_role(name, place) and reasons:
                    omit[detail][name] = reasons[0]
        near = self._segments(self.top.get("near miss"), "`near miss`")
        return Texts(
            block,
            roles,
            self._segments(keys.get("check"), "`check`"),
            self._segments(self.top.get("cautions"), "`cautions`"),
            near[0] if near else [],
            omit,
        )

    def omit(self) -> dict[str, dict[str, str]]:
        entry = self.top.get("omit")
        if entry is None or entry.kind != "map":
            return {}
        return {
            detail: {name: item.text for name, _, item in value.pairs}
            for detail, _, value in entry.pairs
            if detail in DETAILS and value.kind == "map"
        }

    # -- examples -------------------------------------------------------------------------------------------------

    def examples(self) -> tuple[Example, ...]:
        entry = self.top.get("examples")
        keys = {k: v for k, _, v in self.checker.map(entry, "`examples`", ("match", "no match"))}
        found: list[Example] = []
        names: dict[str, Place] = {}
        for sign in ("match", "no match"):
            items = self.checker.items(keys.get(sign), f"`{sign}`")
            if len(items) < 2:
                place = keys[sign].place if sign in keys else entry.place if entry is not None else self.entry.place
                message = f"There are {len(items)} examples under `{sign}`; two are the least."
                self.checker.complain(place, message, expected="`- as: ...` with a `netlist: |`", code="examples")
            for item in items:
                example = self._example(item, sign == "match")
                if example is not None:
                    if example.words in names:
                        message = f"Two examples are called `{example.words}`."
                        self.checker.complain(item.place, message, expected="a name of its own for each")
                    names[example.words] = item.place
                    found.append(example)
        return tuple(found)

    def _example(self, item: Entry, matches: bool) -> Example | None:
        allowed = ("as", "netlist", "known miss", "roles") if matches else ("as", "netlist", "known miss")
        keys = {key: value for key, _, value in self.checker.map(item, "An example", allowed)}
        for key in ("as", "netlist"):
            if key not in keys:
                self.checker.complain(
                    item.place, f"An example lacks `{key}`.", expected=f"`{key}: ...`", code="missing"
                )
                return None
        roles = {}
        for name, place, value in self.checker.map(keys.get("roles"), "`roles` of an example"):
            if self.known_role(name, place):
                items = value.items if value.kind == "list" else (value,)
                roles[name] = tuple(part.text for part in items)
        netlist = keys["netlist"]
        return Example(
            self.checker.text(keys["as"], "`as`"),
            self.checker.text(netlist, "`netlist`"),
            matches,
            roles,
            self.checker.flag(keys.get("known miss"), "`known miss`"),
            netlist.place.line + 1,
        )
