"""Sorts the lines of an element list, and of the files that it includes, into bodies."""

from __future__ import annotations

import re
from pathlib import Path

from topo.netlist.elements.bodies import Body, Listing, Model
from topo.netlist.elements.files import FileError, Files
from topo.netlist.elements.formulas import Function
from topo.netlist.elements.lines import Text, split_text
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.tokens import Row, assignments, row_of
from topo.netlist.lines import LONGEST_LINE, Line
from topo.netlist.spelling import did_you_mean
from topo.netlist.syntax import Word

MOST_ROWS = 400_000
DEEPEST_INCLUDE = 12
DEEPEST_BODY = 20
# Lines that ask for an analysis, a listing or a setting of the reckoning: no part of the circuit.
_ANALYSES = {
    *(".op", ".ac", ".dc", ".tran", ".tr", ".noise", ".four", ".fft", ".disto", ".sens", ".tf", ".pz", ".hb", ".step"),
    *(".mc", ".wcase", ".wc", ".stb", ".sp"),
}
_LISTINGS = {".print", ".plot", ".probe", ".save", ".meas", ".measure", ".watch", ".width", ".graph", ".out"}
_SETTINGS = {
    *(".option", ".options", ".ic", ".nodeset", ".nset", ".loadbias", ".savebias", ".saveop", ".distribution"),
    *(".alter", ".data", ".protect", ".unprotect", ".prot", ".unprot", ".backanno", ".machine", ".wave", ".stimulus"),
    *(
        ".opt",
        ".title",
        ".connect",
        ".control",
        ".endc",
        ".load",
        ".malias",
        ".alias",
        ".aliases",
        ".endalias",
        ".text",
    ),
}
_LINES = {
    ".model",
    ".subckt",
    ".ends",
    ".eom",
    ".macro",
    ".param",
    ".params",
    ".include",
    ".inc",
    ".incl",
    ".lib",
    ".endl",
}
_OTHERS = {".end", ".global", ".temp", ".func"}
# Longer titles are cut.
LONGEST_TITLE = 500
_SEEN = re.compile(r"\bv(?:db|p|m|r|i)?\s*\(\s*([^\s(),]+)\s*(?:,\s*([^\s(),]+)\s*)?\)", re.IGNORECASE)
# `f(a, b) = {a*b}`, the formula in braces or quotes or to the next white space; behind `.func` it goes to the end.
_FUNCTION = re.compile(r"""([A-Za-z_]\w*)\s*\(([\w\s,]*)\)\s*=(?!=)\s*(\{[^{}]*\}|'[^']*'|"[^"]*"|\S+)""")
_FUNC_LINE = re.compile(r"\S+\s+([A-Za-z_]\w*)\s*\(([\w\s,]*)\)\s*=?\s*(\S.*)")
_RANK = {".four": 0, ".noise": 1, ".tf": 1, ".fft": 1}


class Sorter:
    """Sorts one list."""

    def __init__(self, found: Findings, files: Files) -> None:
        self.found = found
        self.files = files
        self.listing = Listing()
        self.body = self.listing.body
        self._count = 0
        self._reading: list[str] = []
        self._ended = False
        self._script = False

    def sort(self, text: str, file: str) -> Listing:
        """The listing of a text; lines that cannot be understood are among the findings."""
        split = split_text(text, file, titled=True)
        self.listing.title = _plain(split.title.lstrip("*"))
        self._look_at_title(split.title, file)
        self._take_all(split, file, None)
        while self.body.outer is not None:
            assert self.body.line is not None
            self.found.error(
                "body-open",
                self.body.line,
                None,
                f"the sub-circuit {self.body.name} has no .ends.",
                ".ends below its parts",
            )
            self.body = self.body.outer
        return self.listing

    def _look_at_title(self, title: str, file: str) -> None:
        """Ask about a first line that looks like a part: by the form it is the title."""
        if not re.match(r"[RCLDQJMVIX]\w*\s+\S+\s+\S+\s+\S", title, re.IGNORECASE) or len(title) > LONGEST_LINE:
            return
        row = row_of(Line(title, ((0, 1, title),), file))
        last = (row.words or (row.head,))[-1].text
        if row.letter in "RCLVI" and not re.match(r"[\d.{'+-]|dc$|ac$", last, re.IGNORECASE):
            return
        if row.letter in "DQJMX" and not re.search(r"\d", row.head.text):
            return
        self.found.warn(
            "title-like-part",
            row.line,
            row.head,
            f"the first line of such a list is its title, so {row.head.text} is not read as a part.",
            mend="Put a title line above it if it is one.",
        )

    # -- lines -------------------------------------------------------------------------------------------------------

    def _take_all(self, text: Text, file: str, entry: Word | None, asked: Line | None = None) -> None:
        """Take the lines of a file; only those of one `.lib` entry where a line asks for one."""
        for line in text.stray:
            self.found.error("stray-continuation", line, None, "a line that goes on (+) stands before any other.")
        self.listing.kept += text.kept
        inside = entry is None
        met = inside
        for line in text.lines:
            if self._ended:
                return
            if not self._readable(line):
                continue
            row = row_of(line)
            head = row.head.text.casefold()
            if entry is not None and head == ".lib" and len(row.words) == 1:
                inside = _unquoted(row.words[0]) == _unquoted(entry)
                met = met or inside
            elif entry is not None and head == ".endl":
                inside = False
            elif inside:
                self._take(row, head, file)
        if not met and entry is not None and asked is not None:
            self.found.warn("lib-entry", asked, entry, f"there is no entry `{entry.text}` in {file}.")

    def _readable(self, line: Line) -> bool:
        """Whether a line is of a sane length and free of control characters."""
        self._count += 1
        if self._count == MOST_ROWS + 1:
            self.found.error("too-many-lines", line, None, f"there are more than {MOST_ROWS} lines.")
        if self._count > MOST_ROWS:
            return False
        if len(line.text) > LONGEST_LINE:
            self.found.error(
                "line-too-long", line, Word(line.text[:1], 0), f"this line has more than {LONGEST_LINE} characters."
            )
            return False
        if line.text.isprintable():
            return True
        for start, character in enumerate(line.text):
            if not character.isprintable() and not character.isspace():
                word = Word(character, start)
                self.found.error(
                    "control-character", line, word, "a control character stands in this line.", "plain text"
                )
                return False
        return True

    def _take(self, row: Row, head: str, file: str) -> None:
        if self._script:
            self._script = head != ".endc"
            return
        self.listing.lines.append(row.line)
        if not head.startswith("."):
            self._element(row)
        elif head in _LINES:
            self._structure(row, head, file)
        elif head in _ANALYSES or head in _LISTINGS:
            self._request(row, head)
        elif head in _SETTINGS:
            self._script = head == ".control"
            self.found.note("not-used", row.line, row.head, f"{row.head.text} says nothing of the circuit: not used.")
        elif head == ".end":
            self._ended = True
        elif head == ".global":
            self.listing.globals.update(word.text.casefold() for word in row.words)
        elif head == ".temp":
            self.listing.temperature, self.listing.temperature_line = (row.words or (None,))[0], row.line
        elif head == ".func":
            self._function(row)
        else:
            near = did_you_mean(head, sorted(_LINES | _ANALYSES | _LISTINGS | _SETTINGS | _OTHERS))
            self.found.warn(
                "unknown-line",
                row.line,
                row.head,
                f"`{row.head.text}` is not understood; the line is not used.",
                mend=near,
            )

    def _element(self, row: Row) -> None:
        if not row.letter.isalpha():
            self.found.error(
                "no-letter",
                row.line,
                row.head,
                f"`{row.head.text}` does not start with the letter of a kind of part.",
                "a letter such as R, C, L, D, Q, then a name; * starts a comment",
            )
            return
        self.body.rows.append(row)

    # -- what the list asks for --------------------------------------------------------------------------------------

    def _request(self, row: Row, head: str) -> None:
        """An analysis or a listing: not made, but the nets that it names are what its author wanted to see."""
        if head == ".ac" and len(row.words) >= 4:
            self.listing.sweep = row.words[2], row.words[3]
        for match in _SEEN.finditer(row.line.text):
            other = Word(match[2], match.start(2)) if match[2] else None
            self.listing.probes.append((_RANK.get(head, 2), Word(match[1], match.start(1)), other, row.line))
        what = "analyses are not made by the list" if head in _ANALYSES else "listings are not made by the list"
        self.found.note("not-used", row.line, row.head, f"{row.head.text}: {what}; not used.")

    # -- models, parameters, sub-circuits, files ---------------------------------------------------------------------

    def _structure(self, row: Row, head: str, file: str) -> None:
        if head == ".model":
            self._model(row)
        elif head in (".subckt", ".macro"):
            self._open(row)
        elif head in (".ends", ".eom"):
            self._close(row)
        elif head in (".param", ".params"):
            self._params(row)
        elif head in (".include", ".inc", ".incl"):
            self._include(row, file, None)
        elif head == ".lib" and row.words:
            self._include(row, file, row.words[1] if len(row.words) > 1 else None)

    def _model(self, row: Row) -> None:
        if not row.words or (len(row.words) < 2):
            self.found.error(
                "bad-model", row.line, row.head, "a model needs a name and a type.", ".model NAME NPN(IS=1e-14 BF=100)"
            )
            return
        name, kind, *flags = row.words
        base = ""
        if kind.text.casefold().startswith("ako:"):
            base = kind.text[4:]
            if not base and flags:
                base = flags.pop(0).text
            kind = flags.pop(0) if flags else Word("", kind.start)
        folded = name.text.casefold()
        before = self.body.models.get(folded)
        if before is not None:
            self.found.warn(
                "model-twice",
                row.line,
                name,
                f"the model {name.text} stands twice; that of line {before.line.number} is used.",
            )
            return
        flag_words = frozenset(word.text.casefold() for word in flags)
        self.body.models[folded] = Model(name.text, kind.text.upper(), row.settings, flag_words, base, row.line)

    def _open(self, row: Row) -> None:
        if not row.words:
            self.found.error(
                "bad-body", row.line, row.head, "a sub-circuit needs a name.", ".subckt NAME node node ..."
            )
        name, *nodes = row.words or (Word("", row.head.start),)
        plain = [word for word in nodes if word.text.casefold().rstrip(":") not in ("params", "optional")]
        met: set[str] = set()
        for word in plain:
            if word.text.casefold() in met:
                message = f"the node {word.text} of the sub-circuit {name.text} is named twice."
                self.found.error("node-twice", row.line, word, message, "a name of its own for each node")
            met.add(word.text.casefold())
        body = Body(name.text, tuple(plain), row.line, self.body, dict(row.settings))
        depth, outer = 0, self.body
        while outer.outer is not None:
            depth, outer = depth + 1, outer.outer
        if depth >= DEEPEST_BODY:
            self.found.error(
                "too-deep", row.line, name, f"sub-circuits within sub-circuits more than {DEEPEST_BODY} deep."
            )
        folded = name.text.casefold()
        before = self.body.bodies.get(folded)
        if before is not None and before.line is not None:
            number = before.line.number
            self.found.warn(
                "body-twice",
                row.line,
                name,
                f"the sub-circuit {name.text} stands twice; that of line {number} is used.",
            )
        self.body.bodies.setdefault(folded, body)
        self.body = body

    def _close(self, row: Row) -> None:
        if self.body.outer is None:
            self.found.error("ends-alone", row.line, row.head, "there is no sub-circuit to end here.")
            return
        wanted = row.words[0].text.casefold() if row.words else self.body.name.casefold()
        while self.body.outer is not None and self.body.name.casefold() != wanted:
            if not any(name.casefold() == wanted for name in self._open_names()):
                message = f"the sub-circuit that is open is {self.body.name}."
                self.found.warn("ends-other", row.line, row.words[0], message)
                break
            self.body = self.body.outer
        if self.body.outer is not None:
            self.body = self.body.outer

    def _open_names(self) -> list[str]:
        names, body = [], self.body
        while body.outer is not None:
            names.append(body.name)
            body = body.outer
        return names

    def _params(self, row: Row) -> None:
        if not row.settings and not _FUNCTION.search(row.line.text):
            self.found.warn("bad-param", row.line, row.head, "no `name=value` stands here.", ".param NAME=VALUE")
        for match in _FUNCTION.finditer(row.line.text):
            self._own_function(match)
        for name, word in assignments(row.line.text).items():
            self.body.params.setdefault(name, (word, row.line))

    def _function(self, row: Row) -> None:
        """A function of the list's own: `.func half(x) {x/2}`."""
        match = _FUNC_LINE.fullmatch(row.line.text.strip())
        if match is None:
            expected = ".func NAME(A, B) {FORMULA}"
            self.found.warn("bad-function", row.line, row.head, "this is no function; the line is not used.", expected)
        else:
            self._own_function(match)

    def _own_function(self, match: re.Match[str]) -> None:
        given = tuple(name.strip().casefold() for name in match[2].split(",") if name.strip())
        self.body.functions.setdefault(match[1].casefold(), Function(given, match[3]))

    def _include(self, row: Row, file: str, entry: Word | None) -> None:
        """Take the lines of another file in this one's place."""
        if not row.words:
            self.found.warn("no-file", row.line, row.head, "no file is named.")
            return
        name = row.words[0].text.strip("\"'")
        if len(row.words) > 1 and not row.words[0].text.startswith(("'", '"')) and entry is None:
            name = row.line.text[row.words[0].start :].strip()
        try:
            if len(self._reading) >= DEEPEST_INCLUDE:
                raise FileError(f"files include one another more than {DEEPEST_INCLUDE} deep")
            text, shown = self.files.read(name, file)
            path = str(Path(file).parent / shown) if not self._reading else str(Path(self._reading[0]).parent / shown)
        except FileError as error:
            self.found.warn(
                "file-missing",
                row.line,
                row.words[0],
                f"{name} is not read: {error}.",
                mend="What it holds is missing from the circuit.",
            )
            return
        self._reading.append(self._reading[0] if self._reading else file)
        ended, self._ended = self._ended, False
        self._take_all(split_text(text, path, titled=False), path, entry, row.line)
        self._ended = ended
        self._reading.pop()


def _plain(title: str) -> str:
    """A title without what no title of the netlist language can hold."""
    kept = (character if character.isprintable() and character not in "#\\" else " " for character in title)
    return " ".join("".join(kept)[:LONGEST_TITLE].split())


def _unquoted(word: Word) -> str:
    return word.text.strip("\"'").casefold()
