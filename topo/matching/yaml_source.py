"""A YAML text as a tree in which every value keeps its line and column.

Only the shape is taken from YAML: every scalar stays the text that was typed, so that `no`, `on`, `1e3` or
`2k` mean what the author wrote. Anchors, very large and very deep documents are refused.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from topo.errors import Place, Problem

LARGEST_TEXT = 200_000
LARGEST_TREE = 20_000
DEEPEST_TREE = 16


@dataclass(frozen=True)
class Entry:
    """A value of a YAML document: `kind` is "text", "list", "map" or "nothing".

    `items` are the values of a list; `pairs` the (key, key's place, value) of a map, in order of the file.
    """

    kind: str
    place: Place
    text: str = ""
    items: tuple[Entry, ...] = ()
    pairs: tuple[tuple[str, Place, Entry], ...] = ()
    quoted: bool = field(default=False, compare=False)

    def get(self, key: str) -> Entry | None:
        """The value of a key of a map, None if there is no such key."""
        return next((value for name, _, value in self.pairs if name == key), None)


def read_yaml(text: str, file: str) -> tuple[Entry | None, list[Problem]]:
    """The tree of a YAML text, or None with the problems that forbid reading it."""
    import yaml

    problems: list[Problem] = []
    if len(text) > LARGEST_TEXT:
        return None, [Problem(Place(file), f"The file has more than {LARGEST_TEXT} characters.", code="too-large")]
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        node = yaml.compose(text, Loader=loader)
    except yaml.YAMLError as error:
        return None, [_syntax_problem(error, file, text)]
    except RecursionError:
        return None, [Problem(Place(file), "The file is nested too deeply.", code="too-deep")]
    if node is None:
        return None, [Problem(Place(file, 1), "The file is empty.", expected="a map with `name:` first", code="empty")]
    entry = _Reader(file, problems).entry(node, 0)
    return (None if entry is None else entry), problems


class _Reader:
    """Turns YAML nodes into entries, counting them."""

    def __init__(self, file: str, problems: list[Problem]) -> None:
        self.file = file
        self.problems = problems
        self.count = 0

    def place(self, node) -> Place:
        mark = node.start_mark
        return Place(self.file, mark.line + 1, mark.column + 1)

    def complain(self, place: Place, message: str, expected: str = "", code: str = "yaml") -> None:
        self.problems.append(Problem(place, message, expected=expected, code=code))

    def entry(self, node, depth: int) -> Entry | None:
        """The entry of a node; None (and a problem, once) where a limit is passed."""
        import yaml

        self.count += 1
        place = self.place(node)
        if depth > DEEPEST_TREE or self.count > LARGEST_TREE:
            if not any(problem.code in ("too-deep", "too-large") for problem in self.problems):
                self.complain(place, "The file is nested too deeply or repeats itself.", code="too-deep")
            return None
        if isinstance(node, yaml.ScalarNode):
            self._look_at(node.value, place)
            plain = node.style not in ("'", '"', "|", ">")
            if plain and node.tag == "tag:yaml.org,2002:null":
                return Entry("nothing", place, node.value)
            return Entry("text", place, node.value, quoted=not plain)
        if isinstance(node, yaml.SequenceNode):
            items = [self.entry(item, depth + 1) for item in node.value]
            return Entry("list", place, items=tuple(item for item in items if item is not None))
        return self.map(node, place, depth)

    def _look_at(self, text: str, place: Place) -> None:
        """Complain of signs that steer a terminal, or that nobody sees."""
        odd = next((sign for sign in text if not sign.isprintable() and sign not in "\n\t"), None)
        if odd is not None:
            self.complain(place, f"The control character {odd!a} stands in this text.", code="control-character")

    def map(self, node, place: Place, depth: int) -> Entry:
        pairs: list[tuple[str, Place, Entry]] = []
        seen: dict[str, Place] = {}
        for key_node, value_node in node.value:
            key_place = self.place(key_node)
            key = getattr(key_node, "value", None)
            if not isinstance(key, str):
                self.complain(key_place, "A key has to be a plain word.", expected="`word: value`")
                continue
            self._look_at(key, key_place)
            if key in seen:
                self.complain(key_place, f"`{key}` stands twice here, first in line {seen[key].line}.", code="twice")
                continue
            seen[key] = key_place
            value = self.entry(value_node, depth + 1)
            if value is not None:
                pairs.append((key, key_place, value))
        return Entry("map", place, pairs=tuple(pairs))


def _syntax_problem(error, file: str, text: str) -> Problem:
    """What the YAML reader could not take, with the line as typed."""
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    message = getattr(error, "problem", None) or "it is not YAML"
    if mark is None:
        return Problem(Place(file), f"YAML cannot be read: {message}.", code="yaml")
    lines = text.splitlines()
    source = lines[mark.line] if mark.line < len(lines) else ""
    return Problem(
        Place(file, mark.line + 1, mark.column + 1),
        f"YAML cannot be read: {message}.",
        expected="values with `: `, ` #`, `{`, `[` or a leading `-`, `>`, `*`, `~`, `@` in double quotes",
        source=source,
        code="yaml",
    )
