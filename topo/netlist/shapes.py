"""What is said of a line whose shape is not that of the language: message -> broken examples that must earn it."""

from __future__ import annotations

from typing import NamedTuple


class Message(NamedTuple):
    """A message's text, what is expected, a mend, and netlists that must draw it. `{...}` are filled in."""

    text: str
    expected: str = ""
    mend: str = ""
    examples: tuple[str, ...] = ()


# Errors of the shape of a line, told apart by where in the grammar each example stops.
SHAPES: dict[str, Message] = {
    "no-colon": Message(
        "there is no colon between what the part is and where it goes.",
        "REF what : where, with white space after the colon",
        examples=("R1 47k vcc gnd", "R1", "R1 47k a=b gnd", "T1 transformer 3:1 a b | c d", "supplly vcc 9V"),
    ),
    "nothing-after-colon": Message(
        "nothing stands after the colon.",
        "the nets of the part's terminals",
        examples=("R1 47k :", "R1 :"),
    ),
    "second-colon": Message(
        "a second colon.",
        "one colon, between what the part is and where it goes",
        examples=("R1 47k : vcc : gnd", "R1 47k : vcc base : gnd", "Q1 npn : b=x : y"),
    ),
    "nothing-before-colon": Message(
        "the line starts with a colon.",
        "a reference designator such as R1",
        examples=(": vcc gnd",),
    ),
    "bar-before-colon": Message(
        "a bar stands before the colon.",
        "bars between windings or contact sets, after the colon",
        examples=("T1 transformer | : a b", "T1 | : a", "T1 transformer 3:1 | : a b"),
    ),
    "bar-first": Message(
        "a bar with no terminal before it.",
        "the nets of the first winding, then a bar",
        examples=("T1 transformer 1:1 : | a b",),
    ),
    "lost-equals": Message(
        "an equals sign with no name before it.",
        "name=value, or terminal=net",
        examples=("R1 =4 : a b", "R1 4k7 : = a", "= 3", "T1 : a | = b"),
    ),
    "lost-value": Message(
        "an equals sign with nothing after it.",
        "name=value",
        examples=("Q1 npn hFE= : b=x c=y e=z", "Q1 npn hFE=", "Q1 npn hFE==", "Q1 npn hFE= VA=9 : b=x c=y e=z"),
    ),
    "lost-net": Message(
        "a terminal's name with no net after the equals sign.",
        "terminal=net, or terminal=- if the net has no name of its own",
        examples=("Q1 npn : b= c=y e=z", "Q1 npn : b=", "T1 : a= | b"),
    ),
    "comma": Message(
        "a comma has no meaning here.",
        "white space between words; a point, or a letter for it, in a value: 4.7k or 4k7",
        examples=(
            "R1 4,7k : a b",
            "R1 4k7 : a, b",
            "join a, b",
            "supply vcc 9,5V",
            "Q1 npn : b=x, c=y",
            "block s (a, b)",
        ),
    ),
    "stray-sign": Message(
        "this sign has no meaning here.",
        'names have no white space and none of : | = # , ( ) "',
        examples=('R1 "4k7" : a b', "R1 4k7 : a (b)", "join a (b)", "R1 (4k7) : a b", 'R1 4k7 : "a" b'),
    ),
    "supply-shape": Message(
        "a supply needs a net and a voltage, no more than a resistance after them.",
        "supply NET VOLTAGE [RESISTANCE], such as: supply vcc 9V",
        examples=("supply", "supply vcc", "supply vcc 9V 1 2", "supply vcc : 9V", "supply vcc = 9V"),
    ),
    "ground-shape": Message(
        "`ground` needs one net.",
        "ground NET, such as: ground chassis",
        examples=("ground", "ground a b"),
    ),
    "input-shape": Message(
        "`input` needs one net, or two where neither side is ground.",
        "input NET [NET]",
        examples=("input", "input a b c"),
    ),
    "output-shape": Message(
        "`output` needs one net, or two where neither side is ground.",
        "output NET [NET]",
        examples=("output", "output a b c"),
    ),
    "signal-shape": Message(
        "a signal band needs two frequencies.",
        "signal F1 to F2, such as: signal 300Hz to 3.4kHz",
        examples=("signal", "signal 300Hz", "signal 300Hz to", "signal 300Hz 3kHz", "signal 1Hz to 2Hz to"),
    ),
    "join-shape": Message(
        "`join` needs two names at least.",
        "join NET NET ...",
        examples=("join", "join a"),
    ),
    "temperature-shape": Message(
        "`temperature` needs one figure.",
        "temperature T, in °C, such as: temperature 40",
        examples=("temperature", "temperature 40 50"),
    ),
    "device-shape": Message(
        "a device needs a name.",
        "device NAME KIND param=value ..., such as: device TX1 npn hFE=120",
        examples=("device", "device = 3"),
    ),
    "block-shape": Message(
        "a block needs a name and its nets in brackets.",
        "block NAME (NET NET ...)",
        examples=("block", "block stage", "block stage in out", "block stage (in", "block stage (in out) x"),
    ),
    "end-shape": Message("`end` stands alone.", "end", examples=("end stage",)),
    "note-shape": Message("`note` needs a text.", "note TEXT", examples=("note",)),
    "section-shape": Message("`section` needs a name.", "section NAME", examples=("section",)),
}

# For the parser: code -> broken examples.
SYNTAX: dict[str, tuple[str, ...]] = {code: message.examples for code, message in SHAPES.items()}
