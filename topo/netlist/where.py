"""Where a part's terminals go: their names, from the order or the names typed right of the colon; and its windings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from topo.netlist.circuit import Winding
from topo.netlist.kinds import ANY, GROUPS, WINDINGS, kind_word, terminal_word
from topo.netlist.problems import Problems
from topo.netlist.spelling import did_you_mean
from topo.netlist.syntax import Item, PartLine, Word
from topo.netlist.what import Nature, article

_POLARISED_NAMES = {"1": "+", "2": "-"}


class Joint(NamedTuple):
    """A terminal's name and the word of the net that it is on."""

    name: str
    net: Word


class Where(NamedTuple):
    """A part's terminals in canonical order, and its windings."""

    joints: tuple[Joint, ...]
    windings: tuple[Winding, ...] = ()


def terminals_of(nature: Nature) -> tuple[tuple[str, ...], dict[str, str]]:
    """The terminals of a kind in order, and its other names for them, case-folded."""
    kind = nature.kind
    if nature.settings.get("polarised"):
        return ("+", "-"), _POLARISED_NAMES
    return kind.terminals, dict(kind.other_names)


def named(nature: Nature) -> str:
    """The kind with its article, as messages say it."""
    word = kind_word(nature.kind.name)
    return f"{article(word)} {word}"


# No part on a diagram has more; a part that joins thousands of nets with one another would take long to follow.
MOST_TERMINALS = 500


class Connector:
    """Names the terminals of one part."""

    def __init__(self, line: PartLine, nature: Nature, problems: Problems) -> None:
        self.line = line
        self.nature = nature
        self.problems = problems
        self.failed = False

    def error(self, code: str, start: int, length: int, /, **words: object) -> None:
        """Note an error at a stretch of the line."""
        self.failed = True
        self.problems.error(code, self.line.line, start, length, **words)

    def error_at(self, code: str, items: Sequence[Item], /, **words: object) -> None:
        """Note an error under a run of terminals, or at the line's end if there are none."""
        if not items:
            end = len(self.line.line.text.rstrip())
            self.error(code, end, 1, **words)
        else:
            self.error(code, items[0].start, items[-1].net.end - items[0].start, **words)

    def connect(self) -> Where | None:
        """The terminals and windings; None if they cannot be understood."""
        kind, groups = self.nature.kind, self.line.groups
        if len(self.line.items) > MOST_TERMINALS:
            self.error("too-many-terminals", self.line.items[0].start, 1, most=MOST_TERMINALS)
            return None
        coil_taps = kind.name in GROUPS["coil"] and (len(groups[0]) > 2 or self.nature.ratio_word is not None)
        if kind.form == WINDINGS:
            found = self._transformer()
        elif kind.form == "relay":
            found = self._relay()
        elif kind.form == "selector":
            found = self._selector()
        elif len(groups) > 1:
            self.error_at("bar-of-what", groups[1], kind=named(self.nature))
            found = None
        elif kind.form == ANY:
            found = self._any_terminals(groups[0])
        elif coil_taps and not any(item.name for item in groups[0]):
            found = self._tapped_coil(groups[0])
        else:
            found = self._table_terminals(groups[0])
        return None if self.failed else found

    # -- kinds with a table of terminals -------------------------------------------------------------------------

    def _table_terminals(self, items: tuple[Item, ...]) -> Where | None:
        names = [item for item in items if item.name]
        if names and len(names) < len(items):
            self.error_at("names-mixed", [item for item in items if not item.name][:1])
            return None
        if names:
            return self._by_name(items)
        if self.nature.kind.names_required:
            self.error_at("names-wanted", items, kind=self._plain_kind(), mend=self._named_example(items))
            return None
        return self._by_order(items)

    def _plain_kind(self) -> str:
        """`a transistor` rather than `an npn transistor` where names are asked for."""
        return "a transistor" if self.nature.kind.name in GROUPS["bipolar"] else named(self.nature)

    def _named_example(self, items: tuple[Item, ...]) -> str:
        """The line rewritten with names, in the order in which the trade says them."""
        kind, head = self.nature.kind, self._head()
        order = kind.must_have if len(items) <= len(kind.must_have) else kind.terminals
        if kind.form == ANY:
            joined = " ".join(f"{number}={item.net.text}" for number, item in enumerate(items, 1))
            return f"Write  {head} : {joined}   if they are its pins 1 to {len(items)}."
        joined = " ".join(f"{name}={item.net.text}" for name, item in zip(order, items, strict=False))
        if len(items) < len(order):
            joined += "".join(f" {name}=..." for name in order[len(items) :])
        words = ", ".join(terminal_word(kind.name, name).removeprefix("terminal ") for name in order)
        return f"Write  {head} : {joined}   if the order was {words}."

    def _head(self) -> str:
        """What stands left of the colon, as typed."""
        text = self.line.line.text[: self.line.items[0].start] if self.line.items else self.line.line.text
        return text.rstrip().removesuffix(":").strip()

    def _by_order(self, items: tuple[Item, ...]) -> Where | None:
        names, _ = terminals_of(self.nature)
        if len(items) != len(names):
            mend = ""
            if self.nature.kind.name == "potentiometer" and len(items) == 2:
                first, second = (item.net.text for item in items)
                mend = f"Write  {self._head()} : {first} {second} {second}   if it is a variable resistor."
            expected = self._order_words(names)
            self._count_error(items, len(names), expected, mend)
            return None
        return Where(tuple(Joint(name, item.net) for name, item in zip(names, items, strict=True)))

    def _count_error(self, items: Sequence[Item], wanted: int, expected: str, mend: str = "") -> None:
        spare = items[wanted:] if len(items) > wanted else ()
        words = {"kind": named(self.nature), "wanted": _count(wanted), "found": len(items)}
        self.error_at("terminal-count", spare, **words, expected=expected, mend=mend)

    def _order_words(self, names: tuple[str, ...]) -> str:
        if self.nature.kind.name == "potentiometer":
            return "end wiper end"
        if names == ("a", "k"):
            return "anode cathode"
        return "two nets" if names == ("1", "2") else " ".join(names)

    def _by_name(self, items: tuple[Item, ...]) -> Where | None:
        names, others = terminals_of(self.nature)
        known = {name.casefold(): name for name in names} | {other.casefold(): name for other, name in others.items()}
        found: dict[str, Word] = {}
        for item in items:
            assert item.name is not None
            name = known.get(item.name.text.casefold())
            if name is None:
                words = {"kind": named(self.nature), "name": item.name.text, "expected": f"one of {' '.join(names)}"}
                near = did_you_mean(item.name.text, names)
                self.error("no-such-terminal", item.name.start, len(item.name.text), **words, near=near)
            elif name in found:
                self.error("terminal-twice", item.name.start, len(item.name.text), name=name)
            else:
                found[name] = item.net
        if not self.failed:
            self._missing(names, found, items)
        return Where(tuple(Joint(name, found[name]) for name in names if name in found))

    def _missing(self, names: tuple[str, ...], found: dict[str, Word], items: tuple[Item, ...]) -> None:
        """Say which terminals must be given and are not."""
        kind = self.nature.kind
        needed = kind.must_have if kind.names_required or kind.name == "potentiometer" else names
        missing = [name for name in needed if name not in found]
        if kind.name == "potentiometer" and not missing and len(found) < 2:
            missing = [name for name in names if name not in found][:1]
        if missing:
            words = [terminal_word(kind.name, name).removeprefix("terminal ") for name in missing]
            said = f"the {' and the '.join(words)} of {self.line.ref.text} {'is' if len(missing) == 1 else 'are'}"
            mend = "Add  " + " ".join(f"{name}=NET" for name in missing) + "  (or =- if nothing is connected)."
            self.error_at("terminal-missing", items, missing=said, expected=f"all of {' '.join(needed)}", mend=mend)

    def _any_terminals(self, items: tuple[Item, ...]) -> Where | None:
        """Any number of terminals, named, or (connectors) numbered by their order."""
        if all(item.name for item in items):
            seen: set[str] = set()
            for item in items:
                assert item.name is not None
                if item.name.text.casefold() in seen:
                    self.error("terminal-twice", item.name.start, len(item.name.text), name=item.name.text)
                seen.add(item.name.text.casefold())
            return Where(tuple(Joint(item.name.text, item.net) for item in items if item.name))
        if any(item.name for item in items):
            self.error_at("names-mixed", [item for item in items if not item.name][:1])
            return None
        if self.nature.kind.names_required:
            self.error_at("names-wanted", items, kind=named(self.nature), mend=self._named_example(items))
            return None
        return Where(tuple(Joint(str(number), item.net) for number, item in enumerate(items, 1)))

    # -- windings --------------------------------------------------------------------------------------------------

    def _no_names(self, expected: str) -> bool:
        """Whether no terminal has a name; where one has, say so."""
        said = [item for item in self.line.items if item.name]
        if said:
            self.error_at("names-unwanted", said[:1], kind=named(self.nature), expected=expected)
        return not said

    def _transformer(self) -> Where | None:
        groups = self.line.groups
        if not self._no_names("start tap ... finish | start ... finish, the dotted end first"):
            return None
        if len(groups) == 1:
            self.error_at("one-winding", groups[0], ref=self.line.ref.text)
            return None
        for group in groups:
            if len(group) < 2:
                self.error_at("winding-short", group)
        turns = None if self.failed else self._turns(groups)
        if turns is None:
            return None
        windings, joints = [], []
        for number, (group, figures) in enumerate(zip(groups, turns, strict=True), 1):
            names = tuple(f"w{number}.{count}" for count in range(1, len(group) + 1))
            assumed = self.nature.ratio_word is None
            windings.append(Winding(f"w{number}", names, figures, assumed))
            joints += [Joint(name, item.net) for name, item in zip(names, group, strict=True)]
        return Where(tuple(joints), tuple(windings))

    def _tapped_coil(self, items: tuple[Item, ...]) -> Where | None:
        turns = self._turns((items,))
        if turns is None:
            return None
        names = tuple(str(count) for count in range(1, len(items) + 1))
        winding = Winding("w1", names, turns[0], self.nature.ratio_word is None)
        return Where(tuple(Joint(name, item.net) for name, item in zip(names, items, strict=True)), (winding,))

    def _turns(self, groups: tuple[tuple[Item, ...], ...]) -> tuple[tuple[float, ...], ...] | None:
        """The turns of each section of each winding; 1 where no ratio is given."""
        ratio, word = self.nature.ratio, self.nature.ratio_word
        sections = [len(group) - 1 for group in groups]
        if word is None:
            return tuple((1.0,) * count for count in sections)
        why = ""
        if len(ratio) != len(groups):
            why = f"it has {_count(len(ratio))} windings, the terminals make {_count(len(groups))}"
        elif self.nature.by_impedance:
            return tuple((figures[0] / count,) * count for figures, count in zip(ratio, sections, strict=True))
        else:
            for number, (figures, count) in enumerate(zip(ratio, sections, strict=True), 1):
                if len(figures) != count:
                    have, want = _counted(len(figures), "figure"), _counted(count, "section")
                    why = f"winding {number} has {have} for {want}"
                    break
        if not why:
            return ratio
        mend = ""
        if len(ratio) == len(groups) and all(sections):
            pieces = zip(ratio, sections, strict=True)
            fitted = [
                figures if len(figures) == count else (sum(figures) / count,) * count for figures, count in pieces
            ]
            mend = "Write  " + ":".join("+".join(f"{figure:g}" for figure in figures) for figures in fitted)
            mend += "  if the sections of that winding are equal."
        self.error("ratio-shape", word.start, len(word.text), ratio=word.text, why=why, mend=mend)
        return None

    # -- relays and selectors --------------------------------------------------------------------------------------

    def _relay(self) -> Where | None:
        coil, *sets = self.line.groups
        expected = "c1 c2 | common rest worked"
        if not self._no_names(expected):
            return None
        if len(coil) != 2:
            self._count_error(coil, 2, f"two ends of the coil: {expected}")
        if not sets:
            self.error_at("contact-set", (), found=0)
        joints = [Joint(f"coil.{number}", item.net) for number, item in enumerate(coil, 1)]
        for number, group in enumerate(sets, 1):
            if len(group) != 3:
                self.error_at("contact-set", group, found=len(group))
            for name, item in zip(("common", "rest", "worked"), group, strict=False):
                joints.append(Joint(f"{number}.{name}", item.net))
        return Where(tuple(joints))

    def _selector(self) -> Where | None:
        groups = self.line.groups
        if not self._no_names("pole | way1 way2 ..."):
            return None
        if len(groups) != 2 or len(groups[0]) != 1 or not groups[1]:
            self.error_at("selector-shape", self.line.items)
            return None
        way = self.nature.settings.get("way")
        if isinstance(way, int) and way > len(groups[1]):
            self.error_at("no-such-way", groups[1], way=way, count=len(groups[1]))
        ways = [Joint(f"way{number}", item.net) for number, item in enumerate(groups[1], 1)]
        return Where((Joint("pole", groups[0][0].net), *ways))


def _counted(number: int, noun: str) -> str:
    """`one figure`, `two figures`."""
    return f"{_count(number)} {noun}{'' if number == 1 else 's'}"


def _count(number: int) -> str:
    """A small number as a word."""
    words = ("no", "one", "two", "three", "four", "five", "six")
    return words[number] if number < len(words) else str(number)
