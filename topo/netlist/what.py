"""What a part is: its kind, value, type, settings and ratings, from the words left of the colon."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from topo.netlist.device_types import DeviceType, device_type, is_germanium
from topo.netlist.kinds import GROUPS, KIND_OF_WORD, LETTERS, Kind, implied_kinds, kind_word, letters_of
from topo.netlist.lines import Line
from topo.netlist.marks import Marks
from topo.netlist.problems import Problems
from topo.netlist.spelling import did_you_mean
from topo.netlist.syntax import Setting, What, Word
from topo.netlist.words import MOST_TURNS, RATIO, are_turns, is_figure, is_free_word, may_be
from topo.quantities import QuantityError, parse, split, with_unit

TYPED = GROUPS["amplifying"] | GROUPS["junction"] | GROUPS["opaque"] | frozenset(("opamp", "regulator"))
_MADE_OF = GROUPS["amplifying"] - GROUPS["valve"] | GROUPS["junction"]
_RATED = frozenset(("V", "A", "W", "%", "Hz", "°C", "s"))
_UNIT_WORDS = {"V": "volts", "A": "amperes", "W": "watts", "Hz": "hertz", "F": "farads", "H": "henries", "ohm": "ohms"}
_PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")
_HAS_DIGIT = re.compile(r"\d")
_STATES = {"switch": ("open", "closed"), "relay": ("rest", "worked")}
_WORD_SETTINGS = {
    "ntc": ("coefficient", "negative"),
    "ptc": ("coefficient", "positive"),
    "electrolytic": ("polarised", True),
}
VALUE_LIKE = {
    "ohm": "a value such as 4k7, 220 or 2R2",
    "F": "a value such as 100n, 4u7 or 47p",
    "H": "a value such as 200u or 10mH",
    "V": "a value such as 9V or 5V6",
    "A": "a value such as 2mA",
    "Hz": "a value such as 9MHz",
}


@dataclass(frozen=True)
class Nature:
    """What a part is, before its terminals: `ratio` has the figures of each section of each winding."""

    kind: Kind
    value: float | None = None
    value_text: str = ""
    type_name: str | None = None
    params: Mapping[str, float] = field(default_factory=dict)
    settings: Mapping[str, object] = field(default_factory=dict)
    ratings: Mapping[str, float] = field(default_factory=dict)
    ratio: tuple[tuple[float, ...], ...] = ()
    ratio_word: Word | None = None
    by_impedance: bool = False


class Reader:
    """Reads one *what*; `failed` says that it could not be understood, `looked` what `marks` was asked of its value."""

    def __init__(self, line: Line, problems: Problems, types: Mapping[str, tuple[str, Nature]], marks: Marks) -> None:
        self.line = line
        self.problems = problems
        self.types = types
        self.marks = marks
        self.failed = False
        self.looked: tuple[Kind, float, Word, bool] | None = None

    def error(self, code: str, under: Word, /, **words: object) -> None:
        """Note an error under a word."""
        self.failed = True
        self.problems.error(code, self.line, under.start, len(under.text), **words)

    def read(self, what: What, ref: Word, barred: bool = False, named_by: str = "") -> Nature | None:
        """The nature of a part; `barred` says that its terminals have bars, `named_by` that this is a device's line."""
        kinds = [word for word in what.words if word.text.casefold() in KIND_OF_WORD]
        typed = [word for word in what.words if word not in kinds and self._is_type(word, kinds, ref)]
        known = () if typed or named_by else self._known_types(ref, what.words, kinds)
        if known and not kinds:
            kind: Kind | None = KIND_OF_WORD[known[0].kind]
        else:
            kind = self._kind(ref, what.words, kinds, typed, barred, named_by)
        if kind is None:
            return None
        base = Nature(kind)
        if typed:
            name, given = self.types[typed[0].text.casefold()]
            base = replace(given, type_name=name)
        rest = [word for word in what.words if word not in kinds and word not in typed]
        nature = self._words(base, kinds, rest, ref)
        nature = self._settings(nature, what.settings)
        return None if self.failed else _of_type(nature)

    def _is_type(self, word: Word, kinds: list[Word], ref: Word) -> bool:
        """Whether a word is a type of the file; one that could be a value, on a part of another kind, is that."""
        entry = self.types.get(word.text.casefold())
        if entry is None:
            return False
        meant = tuple(KIND_OF_WORD[kind.text.casefold()].name for kind in kinds) or implied_kinds(ref.text)
        return not meant or entry[1].kind.name in meant or not is_figure(word.text)

    def _known_types(self, ref: Word, words: tuple[Word, ...], kinds: list[Word]) -> tuple[DeviceType, ...]:
        """The standardised types among the words, where what is said or the letters leave room for a device."""
        said = KIND_OF_WORD[kinds[0].text.casefold()].name if kinds else None
        implied = () if said else implied_kinds(ref.text)
        if (said and said not in TYPED) or (implied and not any(name in TYPED for name in implied)):
            return ()
        found = []
        for word in words:
            known = device_type(word.text) if word not in kinds and _HAS_DIGIT.search(word.text) else None
            if known is not None and said and not known.suits(said):
                own, other = kind_word(known.kind), kind_word(said)
                words_for = {"name": known.name, "own": f"{article(own)} {own}", "said": f"{article(other)} {other}"}
                self.problems.warn("type-of-other-kind", self.line, word.start, len(word.text), **words_for)
            elif known is not None and (said or known.allowed_by(implied)):
                found.append(known)
        return tuple(found)

    def _kind(
        self, ref: Word, words: tuple[Word, ...], kinds: list[Word], typed: list[Word], barred: bool, named_by: str
    ) -> Kind | None:
        """The kind: said, or of the device type, or implied by the letters."""
        said = {KIND_OF_WORD[word.text.casefold()].name: word for word in kinds}
        for word in typed:
            said.setdefault(self.types[word.text.casefold()][1].kind.name, word)
        if len(typed) > 1:
            self.error("two-types", typed[1], first=typed[0].text, second=typed[1].text)
            return None
        if len(said) > 1:
            first, second = list(said.values())[:2]
            self.error("two-kinds", second, first=first.text, second=second.text)
            return None
        if said:
            return KIND_OF_WORD[next(iter(said))]
        if named_by:
            self.error("device-kind", ref, name=ref.text)
            return None
        implied = implied_kinds(ref.text)
        if len(implied) == 1:
            self._look_at_letters(ref)
            return KIND_OF_WORD[implied[0]]
        wound = barred or any(RATIO.fullmatch(word.text) or word.text.casefold() == "impedance" for word in words)
        if wound and "transformer" in implied:
            return KIND_OF_WORD["transformer"]
        self._ask_kind(ref, implied, words)
        return None

    def _look_at_letters(self, ref: Word) -> None:
        """Ask about letters that begin with two codes: RTAIL is a thermistor (RT) by the rule; it may be a resistor."""
        letters = letters_of(ref.text)
        code = next(letters[:end] for end in range(len(letters), 0, -1) if letters[:end] in LETTERS)
        short = next((LETTERS[code[:end]] for end in range(1, len(code)) if LETTERS.get(code[:end])), None)
        if code != letters and short is not None and short != LETTERS[code]:
            words = {"ref": ref.text, "kind": LETTERS[code], "code": code, "other": short}
            self.problems.warn("letters-doubtful", self.line, ref.start, len(ref.text), **words)

    def _ask_kind(self, ref: Word, implied: tuple[str, ...], words: tuple[Word, ...]) -> None:
        """Ask for a kind that neither words nor letters tell, under the word that may have been meant for one."""
        for word in words:
            near = did_you_mean(word.text, implied or KIND_OF_WORD)
            if near:
                expected = f"a kind: {', '.join(implied)}" if implied else "a kind"
                self.error("unknown-word", word, word=word.text, expected=expected, near=near)
                return
        if implied:
            self.error("kind-wanted", ref, ref=ref.text, choices=", ".join(implied))
        else:
            self.error("no-letters", ref, ref=ref.text)

    def _words(self, nature: Nature, kinds: list[Word], rest: list[Word], ref: Word) -> Nature:
        """The nature with every other word taken in."""
        settings = dict(nature.settings)
        for word in kinds:
            if word.text.casefold() in _WORD_SETTINGS:
                name, state = _WORD_SETTINGS[word.text.casefold()]
                settings[name] = state
        nature = replace(nature, settings=settings, ratings=dict(nature.ratings), params=dict(nature.params))
        value_word: Word | None = None
        words = iter(rest)
        for word in words:
            low = word.text.casefold()
            if low == "at":
                self._at(nature, word, next(words, None))
            elif low == "impedance":
                nature = self._impedance(nature, word, next(words, None))
            elif low in ("germanium", "silicon") and nature.kind.name in _MADE_OF:
                settings[low] = True
            elif low in _STATES.get(nature.kind.name, ()):
                settings["state"] = low
            elif RATIO.fullmatch(word.text):
                nature = self._ratio(nature, word)
            else:
                nature, value_word = self._value(nature, word, value_word, ref)
        return self._lamp(nature)

    def _value(self, nature: Nature, word: Word, before: Word | None, ref: Word) -> tuple[Nature, Word | None]:
        """The nature with a value, a rating or a type."""
        kind, text = nature.kind, word.text
        if text == "?":
            return replace(nature, value=None, value_text="?"), word
        asked = self.marks.old(kind, word, self.line)
        if asked is not None:
            return replace(nature, value=None, value_text=text), word
        try:
            value, unit = split(text)
        except QuantityError:
            return self._type(nature, word), before
        if (
            kind.name in TYPED
            and not _PLAIN.fullmatch(text)
            and (not unit or (unit != kind.unit and _letter_in_middle(text)))
        ):
            return self._type(nature, word), before
        if not unit:
            if kind.bare is None:
                return self._type(nature, word), before
            unit = kind.bare
        if unit == kind.unit:
            if before is not None:
                self.error("two-values", word, first=before.text, second=text)
            elif self._fits(kind, value, word):
                self.looked = kind, value, word, bool(nature.settings.get("polarised"))
                self.marks.look(kind, value, word, self.line, self.looked[3])
            return replace(nature, value=value, value_text=text), word
        if unit == "ohm" and kind.name == "crystal":
            if not may_be("RS", value):
                self.error("bad-value", word, message=f"`{text}` is no RS", expected="a number in ohm")
            nature.params["RS"] = value  # type: ignore[index]
        elif unit in _RATED:
            nature.ratings[unit] = value  # type: ignore[index]
        else:
            name = kind_word(kind.name)
            expected = VALUE_LIKE.get(kind.unit, "no value, or ratings such as 16V, 0.5W")
            self.error("wrong-unit", word, kind=f"{article(name)} {name}", unit=_UNIT_WORDS[unit], expected=expected)
        return nature, before

    def _fits(self, kind: Kind, value: float, word: Word) -> bool:
        """Whether a value can be one of its kind."""
        if value < 0 and kind.unit not in ("V", "A"):
            self.error("negative-value", word)
        elif value == 0 and kind.unit in ("F", "H"):
            name = kind_word(kind.name)
            self.error("zero-value", word, kind=f"{article(name)} {name}")
        else:
            return True
        return False

    def _type(self, nature: Nature, word: Word) -> Nature:
        """The nature with a device type that no `device` line declares."""
        kind = nature.kind
        if kind.name in TYPED and _HAS_DIGIT.search(word.text) and len(word.text) > 2:
            if nature.type_name is not None:
                self.error("two-types", word, first=nature.type_name, second=word.text)
            return replace(nature, type_name=word.text)
        if kind.name in GROUPS["opaque"] and not nature.value_text and is_free_word(word.text):
            return replace(nature, value_text=word.text)
        known = [*KIND_OF_WORD, "germanium", *_STATES.get(kind.name, ()), *(name for name, _ in self.types.values())]
        expected = VALUE_LIKE.get(kind.unit, "")
        if not expected:
            expected = (
                "a device type of this file, or ratings such as 60V" if kind.name in TYPED else "a kind or a rating"
            )
        self.error("unknown-word", word, word=word.text, expected=expected, near=did_you_mean(word.text, known))
        return nature

    def _at(self, nature: Nature, at: Word, after: Word | None) -> None:
        """Take `at 30%`, `at 2`, `at rest`."""
        name, settings = nature.kind.name, nature.settings
        wanted = {"potentiometer": ("a setting", "at 30%, from the first end"), "selector": ("a way", "at 2")}
        wanted["relay"] = ("`rest` or `worked`", "at rest, or at worked")
        if name not in wanted:
            kind = kind_word(name)
            about = ("a part with positions", f"nothing: {article(kind)} {kind} has none")
            self.error("at-what", at, expected_after=about[0], expected=about[1])
            return
        text = after.text if after else ""
        if name == "potentiometer" and (setting := _fraction(text)) is not None:
            settings["at"] = setting  # type: ignore[index]
        elif name == "selector" and text.isascii() and text.isdigit() and int(text[:6]) > 0:
            settings["way"] = int(text[:6])  # type: ignore[index]
        elif name == "relay" and text.casefold() in _STATES["relay"]:
            settings["state"] = text.casefold()  # type: ignore[index]
        else:
            self.error("at-what", after or at, expected_after=wanted[name][0], expected=wanted[name][1])

    def _ratio(self, nature: Nature, word: Word) -> Nature:
        """Take a ratio such as 3:1+1."""
        ratio = tuple(tuple(float(figure) for figure in part.split("+")) for part in word.text.split(":"))
        if nature.kind.name != "transformer" and nature.kind.name not in GROUPS["coil"]:
            name = kind_word(nature.kind.name)
            self.error("ratio-of-what", word, kind=f"{article(name)} {name}")
        elif nature.ratio_word is not None:
            self.error("ratio-twice", word)
        elif any(figure <= 0 for part in ratio for figure in part):
            self.error("ratio-zero", word)
        elif not are_turns(ratio):
            self.error("ratio-extreme", word, most=f"{MOST_TURNS:,.0f}")
        return replace(nature, ratio=ratio, ratio_word=word)

    def _impedance(self, nature: Nature, word: Word, after: Word | None) -> Nature:
        """Take `impedance 500:8`."""
        try:
            figures = [parse(text, "ohm") for text in (after.text if after else "").split(":")]
        except QuantityError:
            figures = []
        if len(figures) < 2 or min(figures) <= 0 or nature.kind.name != "transformer":
            self.error("impedance-what", after or word)
            return nature
        if nature.ratio_word is not None:
            self.error("ratio-twice", word)
        ratio = tuple((figure**0.5,) for figure in figures)
        if not are_turns(ratio):
            self.error("ratio-extreme", after or word, most=f"{MOST_TURNS:,.0f}")
        return replace(nature, ratio=ratio, ratio_word=after, by_impedance=True)

    def _settings(self, nature: Nature, settings: tuple[Setting, ...]) -> Nature:
        """The nature with its `name=value` settings, over those of its type."""
        params = dict(nature.params)
        units = {name.casefold(): (name, unit) for name, unit in nature.kind.params}
        seen: set[str] = set()
        for name, value in settings:
            found = units.get(name.text.casefold())
            if found is None:
                self._unknown_setting(nature.kind, name)
                continue
            shown, unit = found
            if shown in seen:
                self.error("setting-twice", name, name=shown)
            seen.add(shown)
            try:
                params[shown] = parse(value.text, unit)
                if not may_be(shown, params[shown]):
                    raise QuantityError(f"`{value.text}` is no {'number of devices' if shown == 'count' else shown}")
            except QuantityError as error:
                expected = f"a number in {unit}" if unit else "a number"
                self.error("bad-value", value, message=str(error), expected=expected)
        return replace(nature, params=params)

    def _unknown_setting(self, kind: Kind, name: Word) -> None:
        known = [param for param, _ in kind.params]
        word = kind_word(kind.name)
        said = f"one of {', '.join(known)}" if known else "no settings"
        near = did_you_mean(name.text, known)
        self.error("unknown-setting", name, kind=f"{article(word)} {word}", name=name.text, known=said, near=near)

    def _lamp(self, nature: Nature) -> Nature:
        """A lamp of so many volts and amperes has its hot resistance for a value."""
        volts, amperes = nature.ratings.get("V"), nature.ratings.get("A")
        if nature.kind.name == "lamp" and nature.value is None and not nature.value_text and volts and amperes:
            return replace(nature, value=volts / amperes)
        return nature


def _of_type(nature: Nature) -> Nature:
    """The nature with what its type number says of a standardised type: germanium, a zener's voltage."""
    if nature.type_name is None:
        return nature
    known, settings = device_type(nature.type_name), dict(nature.settings)
    junctions = nature.kind.name in GROUPS["bipolar"] | GROUPS["junction"]
    suited = junctions if known is None else known.suits(nature.kind.name)
    if suited and is_germanium(nature.type_name) and not ("silicon" in settings or "germanium" in settings):
        settings["germanium"] = True
    if known is None or known.volts is None or not suited or nature.value is not None or nature.value_text:
        return replace(nature, settings=settings)
    return replace(nature, settings=settings, value=known.volts, value_text=with_unit(known.volts, "V"))


def _fraction(text: str) -> float | None:
    """`30%` or `0.3` as 0.3; None if it is no setting of a wiper."""
    try:
        value, unit = split(text)
    except QuantityError:
        return None
    setting = value / 100 if unit == "%" else value
    return setting if unit in ("", "%") and 0 <= setting <= 1 else None


def _letter_in_middle(text: str) -> bool:
    """Whether a value has its letter in place of the point, as 6V6 has."""
    return text[-1].isdigit() and not _PLAIN.fullmatch(text)


def article(name: str) -> str:
    """`a` or `an` before a kind's word."""
    return "an" if name[0] in "aeio" or name[:3] in ("npn", "n-c", "LED") else "a"
