"""What is said of a netlist that is not understood: one table, message -> broken examples that must earn it."""

from __future__ import annotations

from topo.netlist.shapes import SHAPES, Message

# Errors of meaning.
_ERRORS: dict[str, Message] = {
    "not-understood": Message("this line is not understood.", "a statement, or REF what : where"),
    "control-character": Message(
        "a control character stands in this line.",
        "plain text (UTF-8)",
        examples=("R1 1k : a b\x07", "note bell \x1b[2J"),
    ),
    "line-too-long": Message(
        "this line has more than {most} characters.", "shorter lines; \\ at the end goes on in the next"
    ),
    "no-letters": Message(
        "`{ref}` does not say what kind of part it is.",
        "a kind, such as: {ref} resistor",
        examples=("X1 : a b", "1 4k7 : a b"),
    ),
    "kind-wanted": Message(
        "the letters of `{ref}` allow several kinds; say which.",
        "{choices}",
        examples=("Q1 : b=x c=y e=z", "V1 : a=x g=y k=z", "U1 : 1=x 2=y", "T1 : a b"),
    ),
    "unknown-word": Message(
        "`{word}` is not understood as a kind, a value, a device type or a rating.",
        "{expected}",
        "{near}",
        examples=(
            "R1 resistr 4k7 : a b",
            "C1 elektrolytic 4u7 : a b",
            "R1 4x7 : a b",
            "Q1 npn germaniun : b=x c=y e=z",
        ),
    ),
    "two-kinds": Message(
        "two kinds: `{first}` and `{second}`.",
        "one kind",
        examples=("Q1 npn pnp : b=x c=y e=z", "device D5 diode\nQ1 npn D5 : b=x c=y e=z"),
    ),
    "two-values": Message(
        "two values: `{first}` and `{second}`.",
        "one value",
        examples=("R1 4k7 10k : a b", "C1 4u7 10n : a b"),
    ),
    "two-types": Message(
        "two device types: `{first}` and `{second}`.",
        "one device type",
        examples=("Q1 npn TX1 TX2 : b=x c=y e=z",),
    ),
    "wrong-unit": Message(
        "{kind} has no value in {unit}.",
        "{expected}",
        examples=("R1 10H : a b", "C1 10ohm : a b", "L1 10F : a b"),
    ),
    "negative-value": Message(
        "a value below zero.",
        "a positive value, or ? if it is not known",
        examples=("R1 -4k7 : a b", "C1 -1u : a b"),
    ),
    "zero-value": Message(
        "{kind} of nothing.",
        "a positive value, or ? if it is not known",
        examples=("C1 0 : a b", "L1 0H : a b"),
    ),
    "bad-value": Message(
        "{message}.",
        "{expected}",
        examples=(
            "Q1 npn hFE=many : b=x c=y e=z",
            "J1 njfet VP=0 : g=x d=y s=z",
            "L1 1m rdc=12V : a b",
            "supply vcc nine",
            "temperature warm",
        ),
    ),
    "unknown-setting": Message(
        "{kind} has no setting `{name}`.",
        "{known}",
        "{near}",
        examples=("Q1 npn hFF=100 : b=x c=y e=z", "R1 1k rdc=2 : a b", "T1 transformer 1:1 primery=1H : a b | c d"),
    ),
    "setting-twice": Message(
        "`{name}` is set twice.",
        "one value for each setting",
        examples=("Q1 npn hFE=100 hfe=120 : b=x c=y e=z",),
    ),
    "at-what": Message(
        "`at` needs {expected_after}.",
        "{expected}",
        examples=(
            "VR1 10k at : a b c",
            "VR1 10k at 130% : a b c",
            "SW1 selector at two : a | b c",
            "K1 relay at noon : a b | c d e",
            "R1 10k at 30% : a b",
        ),
    ),
    "no-such-way": Message(
        "the selector is at {way}, and has {count} ways.",
        "a way from 1 to {count}",
        examples=("SW1 selector at 3 : a | b c",),
    ),
    "impedance-what": Message(
        "`impedance` needs one figure for each winding, joined by colons.",
        "impedance Z1:Z2, such as: impedance 500:8",
        examples=("T1 transformer impedance : a b | c d", "T1 transformer impedance 500 : a b | c d"),
    ),
    "ratio-shape": Message(
        "the ratio `{ratio}` does not fit the terminals: {why}.",
        "one figure for each section, joined by + inside a winding and by : between windings",
        "{mend}",
        examples=(
            "T1 transformer 3:1+1 : a b | c d",
            "T1 transformer 3:1:1 : a b | c d",
            "L1 200u 10+30 : a b",
            "T1 transformer impedance 500:8:8 : a b | c d",
        ),
    ),
    "ratio-twice": Message("the ratio is said twice.", "one ratio", examples=("T1 transformer 3:1 2:1 : a b | c d",)),
    "ratio-of-what": Message(
        "{kind} has no ratio.",
        "a ratio only where there are windings or taps",
        examples=("R1 3:1 : a b",),
    ),
    "ratio-zero": Message("a winding of no turns.", "figures above zero", examples=("T1 transformer 0:1 : a b | c d",)),
    "ratio-extreme": Message(
        "no windings have such turns.",
        "figures of which none is more than {most}, nor so many times another",
        examples=("T1 transformer 99999999:1 : a b | c d", "T1 transformer impedance 1G:1p : a b | c d"),
    ),
    "winding-short": Message(
        "a winding has a start and a finish at least.",
        "two nets or more in each winding",
        examples=("T1 transformer 1:1 : a b | c", "T1 transformer 1:1 : a b |"),
    ),
    "one-winding": Message(
        "a transformer has two windings at least.",
        "windings separated by a bar: {ref} ... : start finish | start finish",
        "A tapped winding alone is an inductor: L1 200u 10+30 : start tap finish",
        examples=("T1 transformer : a b", "T1 transformer 1+1 : a b c"),
    ),
    "bar-of-what": Message(
        "{kind} has no bar among its terminals.",
        "bars in transformers, relays and selectors alone",
        examples=("R1 1k : a | b", "Q1 npn : b=x | c=y e=z"),
    ),
    "names-wanted": Message(
        "the terminals of {kind} need names.",
        "",
        "{mend}",
        examples=(
            "Q1 npn : base1 drive emit1",
            "Q1 nmos : a b c",
            "V1 triode : a b c",
            "U1 opamp : a b c",
            "U1 ic : a b",
            "REG1 regulator 5V : a b c",
        ),
    ),
    "names-mixed": Message(
        "some terminals have names and some have none.",
        "names for all of them, or for none",
        examples=("R1 1k : 1=a b",),
    ),
    "names-unwanted": Message(
        "the terminals of {kind} go by their order.",
        "{expected}",
        examples=("T1 transformer 1:1 : w1=a b | c d",),
    ),
    "no-such-terminal": Message(
        "{kind} has no terminal `{name}`.",
        "{expected}",
        "{near}",
        examples=(
            "Q1 npn : b=x c=y f=z",
            "Q1 npn : b=x c=y e=z\nR1 1k : Q1.d gnd",
            "A1 stage : a=x z=y\nblock stage (a b)\nend",
        ),
    ),
    "terminal-twice": Message(
        "terminal `{name}` is given twice.",
        "each terminal once",
        examples=("Q1 npn : b=x b=y e=z", "C1 electrolytic 1u : +=a 1=b"),
    ),
    "terminal-missing": Message(
        "{missing} not connected.",
        "{expected}",
        "{mend}",
        examples=("Q1 npn : b=x c=y", "V1 pentode : a=x g1=y k=z", "U1 opamp : in+=x in-=y"),
    ),
    "terminal-count": Message(
        "{kind} has {wanted} terminals; {found} found.",
        "{expected}",
        "{mend}",
        examples=("R1 1k : a", "R1 1k : a b c", "VR1 1k : a b", "C1 1u : a b c", "K1 relay : a | b c d"),
    ),
    "contact-set": Message(
        "a contact set has three terminals; {found} found.",
        "c1 c2 | common rest worked, with - where nothing is connected",
        examples=("K1 relay : a b | c d", "K1 relay : a b"),
    ),
    "selector-shape": Message(
        "a selector has one pole, a bar, and its ways.",
        "pole | way1 way2 ...",
        examples=("SW1 selector at 1 : a b c", "SW1 selector : a b | c", "SW1 selector : a |"),
    ),
    "ref-twice": Message(
        "the designator `{ref}` is used twice; it is on line {line} too.",
        "a designator of its own for each part",
        "{mend}",
        examples=("R1 1k : a b\nR1 2k : b c", "R1 1k : a b\nr1 2k : b c"),
    ),
    "device-twice": Message(
        "the device `{name}` is there twice; it is on line {line} too.",
        "one line for each device",
        examples=("device TX1 npn\ndevice tx1 npn",),
    ),
    "device-kind": Message(
        "the device `{name}` has no kind.",
        "device NAME KIND ..., such as: device {name} npn hFE=120",
        examples=("device TX1 hFE=120", "device TX1"),
    ),
    "device-keyword": Message(
        "`{name}` is a word of the language and cannot name {what}.",
        "another name",
        examples=("device npn npn", "block diode (a b)\nend"),
    ),
    "block-twice": Message(
        "the block `{name}` is there twice; it is on line {line} too.",
        "one definition for each block",
        examples=("block s (a)\nend\nblock s (a)\nend",),
    ),
    "block-open": Message(
        "the block `{name}` has no `end`.",
        "end, on a line of its own",
        examples=("block s (a b)\nR1 1k : a b",),
    ),
    "end-alone": Message("`end` without a block.", "block NAME (NET ...) before it", examples=("end",)),
    "block-in-block": Message(
        "a block is not defined inside another; it may be used there.",
        "end, before the next block",
        examples=("block s (a)\nblock t (b)\nend\nend",),
    ),
    "block-nets": Message(
        "the net `{name}` stands twice in the block's list.",
        "each net once",
        examples=("block s (a A)\nend",),
    ),
    "block-statement": Message(
        "`{keyword}` has no place inside a block.",
        "{keyword}, before the block or after its end",
        examples=("block s (a)\nsection x\nend",),
    ),
    "block-recursion": Message(
        "the block `{name}` contains itself.",
        "blocks that end somewhere",
        examples=("block s (a)\nA1 s : a\nend\nA2 s : x",),
    ),
    "block-deep": Message("blocks are nested more than {most} deep.", "fewer levels"),
    "too-many-parts": Message("the circuit has more than {most} parts.", "a smaller circuit"),
    "too-many-terminals": Message("a part with more than {most} terminals.", "fewer terminals"),
    "block-count": Message(
        "the block `{name}` has {wanted} nets; {found} found.",
        "{expected}",
        examples=("block s (a b)\nend\nA1 s : x",),
    ),
    "unknown-block": Message(
        "there is no block `{name}`.",
        "the name of a block of this file",
        "{near}",
        examples=("A1 stage : x y",),
    ),
    "ground-twice": Message(
        "a second ground; line {line} has `{name}`.",
        "one ground; `join` makes two names one net",
        examples=("ground a\nground b",),
    ),
    "supply-twice": Message(
        "a second supply on `{net}`; line {line} has {volts}.",
        "one supply for each net",
        examples=("supply vcc 9V\nsupply vcc 12V",),
    ),
    "supply-voltage": Message(
        "a supply needs its voltage.",
        "a voltage such as 9V or -12V",
        examples=("supply vcc ?",),
    ),
    "band-order": Message(
        "the signal band runs downwards or is empty.",
        "the lower frequency first, both above zero",
        "{mend}",
        examples=("signal 3kHz to 300Hz", "signal 0Hz to 1kHz"),
    ),
    "band-twice": Message(
        "a second signal band {where}; the first is on line {line}.",
        "one band, and one more after each `section` line",
        examples=("signal 1kHz to 2kHz\nsignal 3kHz to 4kHz",),
    ),
    "temperature-range": Message(
        "{shown} is no temperature of a junction that works.",
        "-100 to 300 °C",
        examples=("temperature 3000", "temperature -300"),
    ),
    "bad-net": Message(
        "`-` stands for a terminal without a net's name, and names no net here.",
        "the name of a net",
        examples=("supply - 9V", "join a -", "input -"),
    ),
}

# Things that are understood and asked about.
_WARNINGS: dict[str, Message] = {
    "small-resistor": Message(
        "{shown}: `m` is milli. Was `M`, mega, meant?",
        mend="Write {mend} if so.",
        examples=("R1 4m7 : a b",),
    ),
    "large-capacitor": Message(
        "{shown}: a capacitor of more than 1 F. Was {other} meant?",
        examples=("C1 4M7 : a b", "C1 47 : a b"),
    ),
    "old-mark": Message(
        "`{text}` is an old mark: {question}",
        mend="Write {mend} if so; until then the value is not known.",
        examples=(
            "C1 8mfd : a b",
            "C1 47MMF : a b",
            "C1 100uuF : a b",
            "C1 .02 : a b",
            "R1 1meg : a b",
            "C1 100P : a b",
        ),
    ),
    "doubtful-mark": Message(
        "`{text}` is read as {shown}. {question}",
        mend="Write {mend} if that was meant.",
        examples=("C1 8mF : a b", "C1 n22 : a b"),
    ),
    "capital-kilo": Message(
        "`K` is read as kilo, as IEC 60062 has it{more}.",
        mend="Write {mend} to be sure.",
        examples=("R1 47K : a b", "R1 4K7 : a b"),
    ),
    "letters-doubtful": Message(
        "`{ref}` is taken for a {kind}, by its letters {code}.",
        mend="Say the kind if it is a {other}:  {ref} {other} ...",
        examples=("Rtail 1k : a b", "Lspare 8 : a b"),
    ),
    "type-of-other-kind": Message(
        "{name} is {own}, and this part is said to be {said}.",
        examples=("Q1 pnp 2N3904 : b=x c=y e=z", "Q1 npn AC128 : b=x c=y e=z"),
    ),
    "odd-form": Message(
        "`{text}` is {shown}, and typed as no other value of the file: {why}.",
        "",
        "Write {meant} if that was meant.",
        examples=(
            "R1 10k : a b\nC1 47u0 : a b",
            "R1 0k47 : a b",
            "R1 4k7 : a b\nR2 10k : a b\nR3 4700 : a b",
            "C1 1u : a b\nC2 4u7 : a b\nC3 1000n : a b",
        ),
    ),
    "not-preferred": Message(
        "{shown} is not a preferred value (E24 or E96). Was it {others}?",
        examples=("R1 74k : a b", "R1 4k4 : a b"),
    ),
}

MESSAGES: dict[str, Message] = {**SHAPES, **_ERRORS, **_WARNINGS}
