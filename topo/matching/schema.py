"""A pattern file to a pattern: every rule of the pattern language is checked, and all problems are told in one run."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePath

from topo.errors import Problem
from topo.matching.checking import Checker
from topo.matching.pattern import Component, Condition, Pattern, ReadingRule, Shape
from topo.matching.schema_drawing import read_drawing
from topo.matching.schema_sections import Sections
from topo.matching.schema_shape import (
    check_shape,
    read_conditions,
    read_shape,
    without_unused_nets,
)
from topo.matching.schema_texts import Example, Texts
from topo.matching.vocabulary import Vocabulary
from topo.matching.yaml_source import Entry, read_yaml

FAMILIES = (
    "single-device-stages",
    "bias-of-a-single-stage",
    "compound-devices",
    "phase-splitters-and-drive",
    "output-stages",
    "rf-power",
    "bias-of-power-stages",
    "coupling",
    "feedback",
    "supply-filters-and-protection",
    "receiver-sections",
    "valve-stages",
    "whole-circuits",
)
CLAIMS = ("stage", "beside", "leftover", "takes over")
STAGE_SORTS = ("stage", "driver", "splitter", "output", "bias", "coupling", "feedback", "supply", "protection")
SORTS = (*STAGE_SORTS, "compound", "control", "whole")
DEVICE_FAMILIES = ("bipolar", "fet", "valve")
KEYS = (
    "name",
    "names",
    "also",
    "kin",
    "family",
    "purpose",
    "source",
    "reading",
    "roles",
    "nets",
    "joins",
    "where",
    "not",
    "variants",
    "symmetry",
    "turns over",
    "acts as",
    "made of",
    "distinct",
    "may coincide",
    "figures",
    "text",
    "cautions",
    "near miss",
    "omit",
    "drawing",
    "examples",
)


@dataclass(frozen=True)
class Document:
    """A pattern file that was read: the pattern, its texts and its examples."""

    pattern: Pattern
    texts: Texts
    examples: tuple[Example, ...]


def read_pattern(text: str, file: str) -> tuple[Document | None, tuple[Problem, ...]]:
    """The pattern of a file's text, None where it cannot be used; and every problem found."""
    entry, found = read_yaml(text, file)
    checker = Checker(file, text)
    checker.problems.extend(found)
    if entry is None or entry.kind != "map":
        if entry is not None:
            checker.complain(entry.place, "A pattern is a map.", expected="`name: ...` in the first line")
        return None, tuple(checker.problems)
    document = _Reader(entry, checker, file).document()
    problems = tuple(sorted(checker.problems, key=lambda problem: (problem.place.line, problem.place.column)))
    return (None if problems else document), problems


class _Reader:
    """Reads the keys of one file in turn."""

    def __init__(self, entry: Entry, checker: Checker, file: str) -> None:
        self.entry = entry
        self.checker = checker
        self.file = file
        self.top = {key: value for key, _, value in checker.map(entry, "A pattern", KEYS)}
        self.vocabulary = Vocabulary()
        self.sections = Sections(entry, self.top, self.vocabulary, checker)

    def document(self) -> Document:
        self.sections.name_figures()
        made_of = self._components()
        shapes = self._shapes()
        for shape in shapes:
            self.vocabulary.roles.update({role.name: role for role in shape.roles})
            self.vocabulary.nets.update(net.name for net in shape.nets)
        where: tuple[Condition, ...] = ()
        if made_of:
            where = read_conditions(self.top.get("where"), self.vocabulary, self.checker)
        figures = self.sections.figures()
        texts = self.sections.texts()
        pattern = Pattern(
            slug=PurePath(self.file).stem,
            name=self._needed("name"),
            names=self._names(),
            also=tuple(text for text, _ in self.checker.texts(self.top.get("also"), "`also`")),
            family=self._family(),
            purpose=self._needed("purpose"),
            source=self._needed("source"),
            reading=self._reading(),
            shapes=shapes,
            symmetry=self._symmetry(),
            turns_over=self.checker.flag(self.top.get("turns over"), "`turns over`"),
            acts_as=self._acts_as(),
            made_of=made_of,
            where=where,
            figures=figures,
            cautions=tuple(text for text, _ in self.checker.texts(self.top.get("cautions"), "`cautions`")),
            omit=self.sections.omit(),
            drawing=read_drawing(self.top.get("drawing"), shapes, self.vocabulary, self.checker),
            coincide=self._pairs("may coincide"),
            distinct=self._pairs("distinct"),
            near_miss=self.checker.text(self.top.get("near miss"), "`near miss`"),
            file=self.file,
            kin=self._kin(),
        )
        return Document(pattern, texts, self.sections.examples())

    def _needed(self, key: str) -> str:
        if key not in self.top:
            expected = {"source": "`source: common practice`, or a book and page"}.get(key, f"a line `{key}: ...`")
            message = f"The key `{key}` is missing."
            self.checker.complain(self.entry.place, message, expected=expected, code="missing")
        return self.checker.text(self.top.get(key), f"`{key}`")

    def _names(self) -> dict[str, str]:
        variants = [name for name, _, _ in self.top["variants"].pairs] if "variants" in self.top else []
        pairs = self.checker.map(self.top.get("names"), "`names`", (*DEVICE_FAMILIES, *variants))
        return {key: self.checker.text(value, f"The name for {key}") for key, _, value in pairs}

    def _kin(self) -> str:
        word = self.checker.text(self.top.get("kin"), "`kin`")
        if "kin" in self.top and not word.strip():
            message = "`kin` is empty."
            self.checker.complain(
                self.top["kin"].place, message, expected="what patterns of one circuit have in common, in words"
            )
        return word.strip()

    def _family(self) -> str:
        word = self._needed("family")
        slug = word.replace(" ", "-")
        if word and slug not in FAMILIES:
            names = [name.replace("-", " ") for name in FAMILIES]
            self.checker.unknown(self.top["family"].place, "family", word, names, expected=", ".join(names))
        folder = PurePath(self.file).parent.name
        if slug in FAMILIES and folder in FAMILIES and slug != folder:
            message = f"The family `{word}` is not the folder's, {folder}."
            self.checker.complain(self.top["family"].place, message, expected=folder.replace("-", " "))
        return slug

    def _reading(self) -> ReadingRule:
        entry = self.top.get("reading")
        if entry is None:
            message = "The key `reading` is missing."
            self.checker.complain(
                self.entry.place, message, expected="`reading: {claim: ..., sort: ...}`", code="missing"
            )
            return ReadingRule()
        allowed = ("claim", "rank", "stage", "sort", "supposes", "restless", "section", "converts", "hands on")
        pairs = self.checker.map(entry, "`reading`", allowed)
        keys = {key: value for key, _, value in pairs}
        claim = self.checker.choice(keys.get("claim"), "Claim", CLAIMS, "beside")
        rank = self.checker.whole_number(keys.get("rank"), "`rank`", 0)
        if claim in ("stage", "takes over") and "rank" not in keys:
            self.checker.complain(
                entry.place, f"A claim `{claim}` needs a rank.", expected="`rank: 20`", code="missing"
            )
        stage = self._role_names(keys.get("stage"), "`stage`")
        supposes = []
        for role, place, value in self.checker.map(keys.get("supposes"), "`supposes`"):
            self.sections.known_role(role, place)
            supposes.append((role, tuple(text for text, _ in self.checker.texts(value, "`supposes`"))))
        sort = self.checker.choice(keys.get("sort"), "Sort", SORTS, "stage")
        restless = self.checker.flag(keys.get("restless"), "`restless`")
        section = self.checker.text(keys.get("section"), "`section`")
        converts = self._two_nets(keys.get("converts"), "`converts`")
        handed = self._two_nets(keys.get("hands on"), "`hands on`")
        return ReadingRule(claim, rank, stage, sort, tuple(supposes), restless, section, converts, handed)

    def _two_nets(self, entry: Entry | None, what: str) -> tuple[str, ...]:
        """Two names of nets, or none."""
        named = self.checker.texts(entry, what)
        for name, place in named:
            if name not in self.vocabulary.nets:
                self.checker.unknown(place, "net", name, self.vocabulary.nets)
        if entry is not None and len(named) != 2:
            self.checker.complain(entry.place, f"{what} takes two nets.", expected="`[base, collector]`")
        return tuple(name for name, _ in named)

    def _role_names(self, entry: Entry | None, what: str) -> tuple[str, ...]:
        if entry is not None and entry.kind == "text":
            self.checker.complain(entry.place, f"{what} has to be a list.", expected=f"`[{entry.text}]`")
            return ()
        items = self.checker.items(entry, what)
        return tuple(item.text for item in items if self.sections.known_role(item.text, item.place))

    # -- what has to be there -------------------------------------------------------------------------------------

    def _components(self) -> tuple[Component, ...]:
        entry = self.top.get("made of")
        found = []
        for name, place, value in self.checker.map(entry, "`made of`"):
            optional, slugs = False, value
            if value.kind == "map":
                keys = {key: item for key, _, item in self.checker.map(value, "A component", ("of", "optional"))}
                optional = self.checker.flag(keys.get("optional"), "`optional`")
                if "of" not in keys:
                    self.checker.complain(place, f"`{name}` does not say of what.", expected="`{of: [slug, ...]}`")
                    continue
                slugs = keys["of"]
            words = tuple(text for text, _ in self.checker.texts(slugs, f"`{name}`"))
            found.append(Component(name, words, optional))
        self.vocabulary.components = {component.name for component in found}
        if entry is not None and not any(not component.optional for component in found):
            self.checker.complain(entry.place, "A composite needs a component that is not optional.")
        if entry is not None:
            for key in ("roles", "nets", "joins", "not", "variants"):
                if key in self.top:
                    message = f"A pattern with `made of` has no `{key}`."
                    self.checker.complain(self.top[key].place, message, expected="conditions under `where`")
        return tuple(found)

    def _shapes(self) -> tuple[Shape, ...]:
        if "made of" in self.top:
            return ()
        for key in ("roles", "joins"):
            if key not in self.top and "variants" not in self.top:
                message = f"The key `{key}` is missing."
                self.checker.complain(self.entry.place, message, expected=f"`{key}:` or `made of:`", code="missing")
        before = len(self.checker.problems)
        base = read_shape("", self.top, None, self.vocabulary, self.checker)
        variants = []
        for words, place, item in self.checker.map(self.top.get("variants"), "`variants`"):
            pairs = self.checker.map(item, f"The variant `{words}`", ("roles", "nets", "joins", "where", "not"))
            keys = {key: value for key, _, value in pairs}
            variants.append((read_shape(words, keys, base, self.vocabulary, self.checker), place))
        if len(self.checker.problems) > before:
            # What is unused or hangs loose may be so by what is wrong already.
            return tuple(shape for shape, _ in variants) or (base,)
        if not variants:
            place = self.top["joins"].place if "joins" in self.top else self.entry.place
            check_shape(base, self.checker, place)
            return (base,)
        pruned = [(without_unused_nets(shape), place) for shape, place in variants]
        used = {net.name for shape, _ in pruned for net in shape.nets}
        for net in dict.fromkeys(net.name for shape, _ in variants for net in shape.nets):
            if net not in used:
                place = self.top["variants"].place
                self.checker.complain(
                    place, f"The net `{net}` is in no join.", expected="a join that names it", code="unused"
                )
        for shape, place in pruned:
            check_shape(shape, self.checker, place)
        return tuple(shape for shape, _ in pruned)

    def _symmetry(self) -> tuple[tuple[str, ...], ...]:
        found = []
        for item in self.checker.items(self.top.get("symmetry"), "`symmetry`"):
            names = self._role_names(item, "A set of `symmetry`")
            kinds = {self.vocabulary.roles[name].kinds for name in names if name in self.vocabulary.roles}
            if len(names) < 2 or len(kinds) > 1:
                message = "A set of `symmetry` holds two or more roles of one kind."
                self.checker.complain(item.place, message, expected="`[[upper, lower], [re upper, re lower]]`")
            else:
                found.append(names)
        if len({len(names) for names in found}) > 1:
            place = self.top["symmetry"].place
            self.checker.complain(
                place, "All sets of `symmetry` have the same length.", expected="pairs exchanged together"
            )
        return tuple(found)

    def _acts_as(self) -> dict[str, str]:
        needed = ("polarity", "ctl", "emt", "col")
        entry = self.top.get("acts as")
        found: dict[str, str] = {}
        for key, _, value in self.checker.map(entry, "`acts as`", needed):
            word = self.checker.text(value, f"`{key}`")
            role, _, terminal = word.partition(".")
            if not self.sections.known_role(role, value.place):
                continue
            if key != "polarity" and terminal not in ("ctl", "emt", "col"):
                self.checker.complain(
                    value.place, f"`{word}` is no terminal.", expected=f"`{role}.ctl`, `.emt` or `.col`"
                )
                continue
            found[key] = role if key == "polarity" else word
        if entry is not None and entry.kind == "map":
            missing = [key for key in needed if entry.get(key) is None]
            if missing:
                message = f"`acts as` lacks {', '.join(missing)}."
                expected = "`{polarity: first, ctl: first.ctl, emt: second.emt, col: first.col}`"
                self.checker.complain(entry.place, message, expected=expected)
        return found

    def _pairs(self, key: str) -> tuple[tuple[str, str], ...]:
        found = []
        for item in self.checker.items(self.top.get(key), f"`{key}`"):
            names = [part.text for part in self.checker.items(item, f"A pair of `{key}`")]
            for part in item.items:
                if part.text not in self.vocabulary.nets:
                    self.checker.unknown(part.place, "net", part.text, self.vocabulary.nets)
            if len(names) != 2:
                self.checker.complain(item.place, f"`{key}` holds pairs of nets.", expected="`[[a, b]]`")
            else:
                found.append((names[0], names[1]))
        return tuple(found)
