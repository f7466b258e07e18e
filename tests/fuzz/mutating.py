"""Turns a sound input into one that somebody might type, damage or mean harm with; the same for the same seed."""

from __future__ import annotations

import random
import re

NUMBERS = (
    "0 -1 -0 1e308 -1e308 1e-308 5e-324 nan inf -inf 1e999 1" + "0" * 60 + " 0.0 1e-15 999999999999 4k7k 1..2 0x10 ? "
    "1e 1e+ +-3 1/0 50% -50% 101% 1e9F 0R 1G 1f 1T 12e400V 0Hz -5V 1e20V 1e-30A ∞ ½ ٣ 1_000"
).split()
NAMES = (
    "<script>alert(1)</script>",
    "\"&'",
    "]]>",
    "%n%s%d",
    "{0}{__class__}",
    "${x}",
    "N" * 300,
    "n" * 25_000,
    "\u202egnd\u202c",
    "\u200bbase\u200d",
    "a\u0301\u0301\u0301",
    "\x1b[31mred",
    "\x07",
    "\x00",
    "../../etc/passwd",
    "-o",
    "--json",
    "CON",
    "gnd",
    "0",
    "vcc",
    "R1.1",
    "R1.R1.1",
    "Q1.c",
    "Q1.zz",
    "-",
    "_",
    "[x](y)",
    "|a|b|",
    "*x*",
    "`x`",
    "&lt;",
    "&amp;",
    "𝕏",
    "\ud7ff",
    "\ufffe",
    "ß",
    "İ",
    "ﬁ",
    "\\",
    '"',
    "'",
    "{",
    "}",
    "[",
    "]",
    "(",
    ")",
    "#",
    ":",
    "|",
    "=",
    ",",
    ";",
    "*",
    "+",
    "$",
    "~",
    "!",
    "&a",
    "*a",
    "!!python/object/apply:os.system",
    "\u2028",
    "\x0b",
    "\x0c",
    "\x85",
    "\t",
)
WORDS = [
    "circuit",
    "supply",
    "ground",
    "input",
    "output",
    "signal",
    "section",
    "join",
    "device",
    "block",
    "end",
    "temperature",
    "note",
    "resistor",
    "potentiometer",
    "capacitor",
    "electrolytic",
    "inductor",
    "choke",
    "bead",
    "transformer",
    "diode",
    "zener",
    "led",
    "npn",
    "pnp",
    "njfet",
    "pjfet",
    "nmos",
    "pmos",
    "triode",
    "tetrode",
    "pentode",
    "opamp",
    "regulator",
    "battery",
    "source",
    "current",
    "speaker",
    "headphones",
    "microphone",
    "antenna",
    "meter",
    "lamp",
    "fuse",
    "crystal",
    "switch",
    "open",
    "closed",
    "selector",
    "relay",
    "jack",
    "ic",
    "other",
    "germanium",
    "at",
    "to",
    "rdc=0",
    "k=0",
    "k=1",
    "k=2",
    "primary=0",
    "primary=1p",
    "count=0",
    "hFE=0",
    "hFE=-1",
    "IS=0",
    "IS=1",
    "N=0",
    "VA=0",
    "VA=-1",
    "VP=0",
    "IDSS=0",
    "VTH=0",
    "K=0",
    "MU=0",
    "EX=0",
    "KG1=0",
    "KP=0",
    "KVB=-1",
    "GAIN=0",
    "VMAX=0",
    "impedance",
    "ratio",
    "0:0",
    "1:0",
    "3:1+1",
    "1+1+1:1",
    ".model",
    ".subckt",
    ".ends",
    ".param",
    ".include",
    ".lib",
    ".end",
    ".global",
    ".ac",
    ".op",
    ".temp",
    ".func",
    ".options",
    "params:",
    "value=",
    "ic=",
    "off",
    "m=0",
    "{1/0}",
    "{x}",
    "{{{{1}}}}",
    "'a'",
    "poly(2)",
    "table",
    "laplace",
    "null",
    "true",
    "false",
    "roles",
    "joins",
    "nets",
    "where",
    "not",
    "figures",
    "reading",
    "claim",
    "rank",
    "examples",
    "match",
    "netlist",
    "when",
    "is",
    "kind",
    "many",
]
_TOKEN = re.compile(r"[^\s:|=#,()\"{}\[\]]+")
_NUMBER = re.compile(r"(?<![\w.])[-+]?\d[\w.]*")
_ODD_BYTES = (b"\x00", b"\xff", b"\xfe\xff", b"\xc3", b"\xe2\x80", b"\xed\xa0\x80", b"\xef\xbb\xbf", b"\r", b"\x1a")


class Mutator:
    """Makes mutated copies; every choice comes from one source of random numbers."""

    def __init__(self, source: random.Random, others: tuple[str, ...]) -> None:
        self.random = source
        self.others = others

    def mutate(self, text: str) -> bytes:
        """The text after one to a few mutations; mostly mild, so that many of them still are circuits."""
        steps = self.random.choice((1, 1, 1, 1, 1, 2, 2, 3, 8))
        for _ in range(steps):
            text = self.random.choices(_MILD, _WEIGHTS)[0](self, text)
            text = text[:400_000]
        raw = text.encode("utf-8", errors="surrogatepass")
        if self.random.random() < 0.08:
            raw = self._bytes(raw)
        if self.random.random() < 0.01:
            raw = text.encode(self.random.choice(("utf-16", "utf-16-le", "utf-32", "utf-7")), errors="replace")
        return raw

    def _bytes(self, raw: bytes) -> bytes:
        """Bytes flipped, put in, cut off."""
        data = bytearray(raw)
        for _ in range(self.random.randint(1, 8)):
            at = self.random.randrange(len(data) + 1)
            match self.random.randrange(4):
                case 0 if at < len(data):
                    data[at] ^= 1 << self.random.randrange(8)
                case 1:
                    data[at:at] = self.random.choice(_ODD_BYTES)
                case 2:
                    del data[at : at + self.random.randint(1, 40)]
                case 3 if self.random.random() < 0.2:
                    del data[at:]
        return bytes(data)

    def word(self) -> str:
        """A word to put in: a name, a number or a keyword."""
        return self.random.choice(self.random.choice((NUMBERS, NAMES, WORDS, WORDS)))

    def _replaced(self, text: str, pattern: re.Pattern[str], words) -> str:
        found = list(pattern.finditer(text))
        if not found:
            return text
        match = self.random.choice(found)
        word = words() if callable(words) else self.random.choice(words)
        if self.random.random() < 0.25:
            return re.sub(rf"(?<!\w){re.escape(match[0])}(?!\w)", lambda _: word, text)
        return text[: match.start()] + word + text[match.end() :]

    def number(self, text: str) -> str:
        """A number becomes an extreme one, or another figure of the same text."""
        if self.random.random() < 0.3:
            return self._replaced(text, _NUMBER, _NUMBER.findall(text) or NUMBERS)
        return self._replaced(text, _NUMBER, NUMBERS)

    def name(self, text: str) -> str:
        """A token becomes markup, a very long or an odd name."""
        return self._replaced(text, _TOKEN, NAMES)

    def token(self, text: str) -> str:
        """A token becomes a keyword, or another token of the text."""
        return self._replaced(text, _TOKEN, self.word if self.random.random() < 0.4 else _TOKEN.findall(text) or WORDS)

    def exchange(self, text: str) -> str:
        """Two tokens of a line change places."""
        lines = text.split("\n")
        at = self.random.randrange(len(lines))
        found = list(_TOKEN.finditer(lines[at]))
        if len(found) < 2:
            return text
        one, other = sorted(self.random.sample(found, 2), key=lambda match: match.start())
        line = lines[at]
        lines[at] = line[: one.start()] + other[0] + line[one.end() : other.start()] + one[0] + line[other.end() :]
        return "\n".join(lines)

    def lines(self, text: str) -> str:
        """A line is dropped, doubled, moved, joined with the next, or comes from another input."""
        rows = text.split("\n")
        at = self.random.randrange(len(rows))
        match self.random.randrange(7):
            case 0 | 1:
                del rows[at]
            case 2:
                rows.insert(self.random.randrange(len(rows) + 1), rows[at])
            case 3:
                rows.insert(self.random.randrange(len(rows)), rows.pop(at))
            case 4 if at + 1 < len(rows):
                rows[at : at + 2] = [rows[at] + self.random.choice(("", " ", "\\\n", " \\\n+ ")) + rows[at + 1]]
            case 5:
                rows.insert(at, self.random.choice(self.random.choice(self.others).split("\n")))
            case 6:
                rows.insert(at, " ".join(self.word() for _ in range(self.random.randint(1, 9))))
        return "\n".join(rows)

    def cut(self, text: str) -> str:
        """A stretch is left out, doubled, or the rest of another input follows."""
        at = self.random.randrange(len(text) + 1)
        match self.random.randrange(4):
            case 0:
                return text[:at] + text[at + self.random.randint(1, 12) :]
            case 1:
                return text[:at] + text[at : at + 60] + text[at:]
            case 2:
                other = self.random.choice(self.others)
                return text[:at] + other[self.random.randrange(len(other) + 1) :]
        return text[:at]

    def grow(self, text: str) -> str:
        """Something stands very often, or very deep."""
        sign = self.random.choice(
            ("(", "[", "{", "- ", "-", "a=", "(1+", "{'", "&a [*a,", "x(", "\\\n", "+", "1,", "  ")
        )
        many = self.random.choice((3, 50, 1_000, 30_000))
        at = self.random.choice([0, len(text), *(match.end() for match in _TOKEN.finditer(text))])
        if self.random.random() < 0.3:
            rows = text.split("\n")
            row = self.random.choice(rows)
            return "\n".join([*rows, *[row] * min(many, 2_000)])
        return text[:at] + " " + sign * many + text[at:]

    def nest(self, text: str) -> str:
        """The whole becomes a block, or a block that uses itself."""
        inner = self.random.choice(("A", "B", "X1"))
        match self.random.randrange(3):
            case 0:
                return f"block {inner} (p q)\n{text}\nend\nA1 {inner} : p q\n"
            case 1:
                return f"block {inner} (p q)\nA1 {inner} : p q\n{text}\nend\nA1 {inner} : p q\n"
            case _:
                return f"t\n.subckt {inner} p q\nX1 p q {inner}\n{text}\n.ends\nX1 a b {inner}\n"


_MILD = [
    Mutator.number,
    Mutator.name,
    Mutator.token,
    Mutator.exchange,
    Mutator.lines,
    Mutator.cut,
    Mutator.grow,
    Mutator.nest,
]
_WEIGHTS = (34, 8, 14, 16, 22, 4, 2, 1)
