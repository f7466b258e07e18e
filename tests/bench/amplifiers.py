"""Amplifiers by the thousand on common rails, as netlist text: for measuring, and for tests of large circuits.

Each channel is a circuit of our own design: three common-emitter stages, a driver with a transformer, and a push-pull
pair with resistor-and-diode bias and a centre-tapped output transformer, 58 parts with 128 terminals. All channels
hang on one supply and one ground. Alike channels differ by their names alone; varied ones also by their values, and by
what is in them.
"""

from __future__ import annotations

import random

PARTS_A_CHANNEL = 58
# Preferred values (IEC 60063, E24) and how far from its own a value may lie in a varied channel, in places of the row.
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
SPREAD = (-1, 0, 0, 1)

STAGES = (("i1", "o1"), ("i2", "o2"), ("i3", "o3"))


def text(channels: int, varied: bool = False, seed: int = 1) -> str:
    """The netlist of some channels. Varied: each value from a spread, and some parts left out of some channels."""
    dice = random.Random(seed)
    lines = ["circuit  Channels on common rails", "supply   vcc 12V", "signal   300Hz to 3.4kHz"]
    for number in range(1, channels + 1):
        lines.extend(_channel(f"{number}", dice if varied else None))
    return "\n".join(lines) + "\n"


def _channel(mark: str, dice: random.Random | None) -> list[str]:
    """The lines of one channel; `mark` ends each of its names."""

    def value(typed: str) -> str:
        return _near(typed, dice.choice(SPREAD)) if dice else typed

    count: dict[str, int] = {}
    lines: list[str] = []

    def put(letter: str, what: str, where: str) -> None:
        count[letter] = count.get(letter, 0) + 1
        nets = " ".join(_net(word, mark) for word in where.split())
        lines.append(f"{letter}{count[letter]}_{mark} {what} : {nets}")

    def left_out(share: float) -> bool:
        return dice is not None and dice.random() < share

    lines.append(f"input    in_{mark}")
    lines.append(f"output   spk_{mark}")
    put("R", value("100k"), "in gnd")
    put("R", value("100"), "vcc v1")
    put("C", value("220u") + " electrolytic", "v1 gnd")
    if not left_out(0.3):
        put("C", value("1n"), "in gnd")
    before = "in"
    for entry, exit_ in STAGES:
        plus, minus = (entry, before) if before == "in" else (before, entry)
        put("C", value("10u") + " electrolytic", f"{plus} {minus}")
        put("R", value("82k"), f"v1 {entry}")
        put("R", value("18k"), f"{entry} gnd")
        put("Q", "npn hFE=200", f"b={entry} c={exit_} e=e{entry}")
        put("R", value("3.9k"), f"v1 {exit_}")
        if left_out(0.2):
            put("R", value("820"), f"e{entry} gnd")
        else:
            put("R", value("100"), f"e{entry} f{entry}")
            put("R", value("820"), f"f{entry} gnd")
            put("C", value("100u") + " electrolytic", f"f{entry} gnd")
        if not left_out(0.3):
            put("C", value("100p"), f"{exit_} {entry}")
        before = exit_
    _power(put, value, left_out, before)
    return lines


def _power(put, value, left_out, before: str) -> None:
    """The driver and the pair of a channel."""
    put("C", value("10u") + " electrolytic", f"{before} bd")
    put("R", value("10k"), "vcc bd")
    put("R", value("2.7k"), "bd gnd")
    put("Q", "npn hFE=150", "b=bd c=cd e=ed")
    put("R", value("100"), "ed gnd")
    put("C", value("220u") + " electrolytic", "ed gnd")
    put("R", value("47"), "vcc vd")
    put("C", value("220u") + " electrolytic", "vd gnd")
    put("T", "transformer 2:1+1", "vd cd | s1 ct s2")
    put("R", value("1.5k"), "vcc ct")
    put("D", "diode", "ct gnd")
    put("C", value("47u") + " electrolytic", "ct gnd")
    put("R", value("10"), "s1 b1")
    put("R", value("10"), "s2 b2")
    put("Q", "npn hFE=100 IS=100f", "b=b1 c=c1 e=e1")
    put("Q", "npn hFE=100 IS=100f", "b=b2 c=c2 e=e2")
    put("R", value("1"), "e1 gnd")
    put("R", value("1"), "e2 gnd")
    if not left_out(0.4):
        put("C", value("4.7n"), "c1 b1")
        put("C", value("4.7n"), "c2 b2")
    put("T", "transformer 3+3:1", "c1 vcc c2 | spk gnd")
    if not left_out(0.5):
        put("R", value("10"), "spk z1")
        put("C", value("100n"), "z1 gnd")
    put("LS", "speaker 8", "spk gnd")
    put("C", value("100n"), "vcc gnd")
    put("R", value("22k"), "spk fb")
    put("C", value("4.7u") + " electrolytic", "fb ei1")


def _near(typed: str, steps: int) -> str:
    """The value some steps on in the E24 row: 3.9k and 1 make 4.3k."""
    digits, prefix = (typed[:-1], typed[-1]) if typed[-1].isalpha() else (typed, "")
    amount = float(digits)
    place = 0
    while amount >= 100:
        amount, place = amount / 10, place + 1
    while amount < 10:
        amount, place = amount * 10, place - 1
    row = min(range(len(E24)), key=lambda i: abs(E24[i] - amount)) + steps
    place += row // len(E24)
    return f"{E24[row % len(E24)] * 10.0**place:.4g}{prefix}"


def _net(word: str, mark: str) -> str:
    """A net's name in a channel; rails are common, `b=net` names a terminal."""
    terminal, _, net = word.rpartition("=")
    if net in ("vcc", "gnd", "|"):
        return word
    return f"{terminal}={net}_{mark}" if terminal else f"{net}_{mark}"
