"""Look-alikes that differ in one step, each with the circuit on either side of it.

A trap is what is seen, a circuit with the patterns that it must and must not be read as, and the step to its
look-alike: lines that take the place of others (by designator, "" to leave a part out), with the same for that.
"""

from __future__ import annotations

from typing import NamedTuple


class Trap(NamedTuple):
    seen: str
    netlist: str
    read_as: str
    not_as: str
    step: dict[str, str]
    then_as: str
    then_not_as: str = ""


def stepped(netlist: str, step: dict[str, str]) -> str:
    """The netlist with the lines of some parts exchanged, left out, or added."""
    left = dict(step)
    lines = []
    for line in filter(None, (line.strip() for line in netlist.splitlines())):
        ref = line.split()[0]
        new = left.pop(ref, None) if line.split()[0] not in ("supply", "input", "output", "signal") else None
        lines.append(line if new is None else f"{ref} {new}" if new else f"# {ref} left out")
    return "\n".join([*lines, *(f"{ref} {line}" for ref, line in left.items() if line)])


DRIVER = """
    supply vcc 12V
    input in
    signal 200Hz to 10kHz
    C1 10u : in base
    R1 12k : mid base
    R2 3k3 : base gnd
    Q1 npn : b=base c=drive e=emit
    R4 47 : emit gnd
    R3 470 : joint drive
    R6 220 : vcc joint
    C3 100u : joint mid
    Q2 npn : b=drive c=vcc e=mid
    Q3 pnp : b=drive c=gnd e=mid
    C2 470u : mid spk
    LS1 speaker 16 : spk gnd
"""
PAIR = """
    supply vcc 9V
    input a
    output spk
    T1 transformer 1:1+1 primary=2H : a gnd | s1 tap s2
    R1 1k : vcc tap
    D1 diode : tap gnd
    C1 100u : tap gnd
    Q1 npn : b=s1 c=p1 e=gnd
    Q2 npn : b=s2 c=p2 e=gnd
    T2 transformer 5+5:1 primary=1H : p1 vcc p2 | spk gnd
    LS1 speaker 8 : spk gnd
"""
TWO_STAGES = """
    supply vcc 12V
    input in
    output out
    signal 100Hz to 10kHz
    R1 100k : vcc base
    R2 22k : base gnd
    C1 470n : in base
    Q1 npn : b=base c=inner e=foot
    Q2 pnp : b=inner c=col e=vcc
    R5 3k3 : inner vcc
    R3 4k7 : col foot
    R8 1k : foot gnd
    C2 10u : col out
    R4 10k : out gnd
"""
LONG_TAIL = """
    supply vcc 12V
    supply vee -12V
    input in
    output out
    signal 100Hz to 10kHz
    C1 1u : in b1
    R1 47k : b1 gnd
    Q1 npn : b=b1 c=vcc e=joint
    Q2 npn : b=gnd c=col e=joint
    R4 5k6 : vcc col
    C3 1u : col out
    R5 47k : out gnd
    R3 5k6 : joint vee
"""
COMMON_EMITTER = """
    supply vcc 12V
    input in
    output out
    signal 100Hz to 10kHz
    R1 56k : vcc base
    R2 12k : base gnd
    C1 4u7 : in base
    Q1 npn : b=base c=col e=emit
    R3 3k3 : vcc col
    R4 1k : emit gnd
    C2 220u : emit gnd
    C3 4u7 : col out
    R5 22k : out gnd
"""
SPLIT_SUPPLY = """
    supply vp 20V
    supply vn -20V
    input a
    output spk
    C1 10u : a mid
    R1 4k7 : vp b1
    D1 diode : b1 d1
    D2 diode : d1 mid
    D3 diode : mid d2
    D4 diode : d2 b2
    R2 4k7 : b2 vn
    Q1 npn : b=b1 c=vp e=x1
    Q3 npn : b=x1 c=vp e=e1
    R3 220 : x1 spk
    R5 0R33 : e1 spk
    Q2 pnp : b=b2 c=vn e=x2
    Q4 pnp : b=x2 c=vn e=e2
    R4 220 : x2 spk
    R6 0R33 : e2 spk
    LS1 speaker 8 : spk gnd
"""
SIMPLE_OUTPUT = """
    supply vp 12V
    supply vn -12V
    input a
    output spk
    C1 10u : a m
    R1 3k9 : vp b1
    D1 diode : b1 m
    D2 diode : m b2
    R2 3k9 : b2 vn
    Q1 npn : b=b1 c=vp e=spk
    Q2 pnp : b=b2 c=vn e=spk
    LS1 speaker 8 : spk gnd
"""

AUDIO = {
    1: Trap(
        "two resistors from the rail to a collector, a capacitor at their joint",
        DRIVER,
        "bootstrap",
        "supply-decoupling",
        {"C3": "100u : joint gnd"},
        "supply-decoupling",
        "bootstrap",
    ),
    2: Trap(
        "a transistor joined as a diode, its base line to a second transistor",
        """
        supply vcc 12V
        output out
        input in
        signal 100Hz to 10kHz
        R1 10k : vcc ref
        Q1 npn : b=ref c=ref e=gnd
        Q2 npn : b=ref c=col e=gnd
        Q3 npn : b=in2 c=out e=col
        C1 1u : in in2
        R2 47k : vcc in2
        R4 33k : in2 gnd
        R3 4k7 : vcc out
        """,
        "current-mirror",
        "diode-connected-transistor-bias",
        {
            "Q2": "npn : b=s1 c=p1 e=gnd",
            "Q3": "npn : b=s2 c=p2 e=gnd",
            "T1": "transformer 1:1+1 primary=2H : in gnd | s1 ref s2",
            "T2": "transformer 5+5:1 primary=1H : p1 vcc p2 | out gnd",
            "R2": "",
            "R4": "",
            "R1": "1k : vcc ref",
            "R3": "8 : out gnd",
            "C1": "100u : ref gnd",
        },
        "diode-connected-transistor-bias",
        "current-mirror",
    ),
    3: Trap(
        "the collector of an n-p-n on the base of a p-n-p, whose collector comes back to the first emitter",
        TWO_STAGES,
        "direct-coupled-feedback-pair",
        "complementary-feedback-pair",
        {"R3": "0.001 : col foot", "C2": "10u : foot out"},
        "complementary-feedback-pair",
        "direct-coupled-feedback-pair",
    ),
    4: Trap(
        "a small transistor with its base and emitter across a resistor",
        LONG_TAIL.replace("R3 5k6 : joint vee", "Q3 npn : b=ref c=joint e=x\nR3 330 : x vee")
        + "Q4 npn : b=x c=ref e=vee\nR6 22k : vcc ref\n",
        "constant-current-source",
        "current-limiter",
        {
            "R3": "1k8 : y vee",
            "R7": "10 : x y",
            "Q4": "npn : b=x c=ref e=y",
            "R6": "22k : vcc ref",
            "R8": "4k7 : ref vee",
        },
        "current-limiter",
    ),
    5: Trap(
        "one resistor from collector to base, one from base to emitter",
        SIMPLE_OUTPUT.replace("D1 diode : b1 m\n", "").replace("D2 diode : m b2", "Q3 npn : b=s c=b1 e=b2")
        + "R3 2k2 : b1 s\nR4 1k5 : s b2\nC2 10u : b1 b2\nC3 47u : m b2\n",
        "vbe-multiplier",
        "common-emitter",
        {
            "Q1": "",
            "Q2": "",
            "R1": "3k9 : vp b1",
            "R2": "0.001 : b2 vn",
            "R3": "100k : b1 s",
            "R4": "15k : s b2",
            "C1": "10u : a s",
            "C2": "10u : b1 spk",
            "C3": "",
            "LS1": "headphones 2k : spk gnd",
        },
        "common-emitter collector-feedback-bias",
        "vbe-multiplier",
    ),
    6: Trap(
        "two like devices, the emitters joined, one resistor from there",
        LONG_TAIL,
        "long-tailed-pair",
        "transformer-push-pull",
        {
            "C1": "",
            "T1": "transformer 1:1+1 primary=2H : in gnd | b1 tap b2",
            "R6": "22k : vcc tap",
            "R7": "22k : tap vee",
            "C5": "100u : tap gnd",
            "Q1": "npn : b=b1 c=p1 e=joint",
            "Q2": "npn : b=b2 c=p2 e=joint",
            "R1": "",
            "R4": "",
            "R3": "270 : joint vee",
            "T2": "transformer 5+5:1 primary=2H : p1 vcc p2 | out gnd",
            "C3": "",
            "R5": "16 : out gnd",
        },
        "transformer-push-pull",
        "long-tailed-pair",
    ),
    9: Trap(
        "a collector on the emitter of a like device",
        """
        supply vcc 12V
        input in
        output out
        signal 100Hz to 10kHz
        R1 33k : vcc b2
        R2 15k : b2 b1
        R3 6k8 : b1 gnd
        C1 4u7 : in b1
        C4 47u : b2 gnd
        Q1 npn : b=b1 c=m e=e
        Q2 npn : b=b2 c=c2 e=m
        R4 680 : e gnd
        C2 220u : e gnd
        R5 2k2 : vcc c2
        C3 4u7 : c2 out
        R6 22k : out gnd
        """,
        "cascode",
        "series-regulator",
        {
            "R1": "2k2 : vcc b2",
            "D1": "zener 6V2 : gnd b2",
            "R2": "33k : b2 b1",
            "Q2": "npn : b=b2 c=vcc e=v2",
            "R5": "2k2 : v2 m",
            "C3": "4u7 : m out",
        },
        "series-regulator",
        "cascode",
    ),
    10: Trap(
        "a pair with tapped windings at bases and collectors",
        PAIR,
        "transformer-push-pull",
        "push-pull-inverter",
        {"T1": "", "T2": "transformer 5+5:1:1+1 primary=1H : p1 vcc p2 | spk gnd | s1 tap s2"},
        "push-pull-inverter",
        "transformer-push-pull",
    ),
    11: Trap(
        "an n-p-n and a p-n-p that meet at the output",
        SIMPLE_OUTPUT,
        "complementary-emitter-follower",
        "complementary-common-emitter-output",
        {
            "Q1": "pnp : b=b1 c=spk e=vp",
            "Q2": "npn : b=b2 c=spk e=vn",
            "R1": "680 : vp b1",
            "R2": "680 : b2 vn",
            "D1": "",
            "D2": "",
            "R3": "12k : b1 d",
            "R4": "12k : d b2",
            "C1": "",
            "U1": "opamp : in+=m in-=gnd out=d v+=vp v-=vn",
            "R5": "10k : a m",
            "R6": "47k : m spk",
            "LS1": "speaker 600 : spk gnd",
        },
        "complementary-common-emitter-output",
        "complementary-emitter-follower",
    ),
    12: Trap(
        "an output of four transistors",
        SPLIT_SUPPLY,
        "complementary-darlington-output",
        "quasi-complementary-output complementary-feedback-pair-output",
        {"Q2": "pnp : b=b2 c=x2 e=spk", "Q4": "npn : b=x2 c=spk e=e2", "R4": "220 : x2 vn", "R6": "0R33 : e2 vn"},
        "quasi-complementary-output",
        "complementary-darlington-output",
    ),
    17: Trap(
        "a resistor from the output to the first stage",
        TWO_STAGES.replace("R3 4k7 : col foot", "R3 47k : col base")
        .replace("R1 100k : vcc base\n", "")
        .replace("Q2 pnp : b=inner c=col e=vcc", "Q2 npn : b=inner c=vcc e=col")
        .replace("R5 3k3 : inner vcc", "R5 4k7 : vcc inner")
        .replace("R8 1k : foot gnd", "R8 100 : foot gnd")
        + "R9 2k2 : col gnd\nC4 1p : base gnd\n",
        "global-shunt-feedback",
        "global-series-shunt-feedback",
        {
            "R3": "4k7 : col foot",
            "R1": "100k : vcc base",
            "Q2": "pnp : b=inner c=col e=vcc",
            "R5": "3k3 : inner vcc",
            "R8": "1k : foot gnd",
            "R9": "",
            "C4": "",
        },
        "global-series-shunt-feedback",
        "global-shunt-feedback",
    ),
    18: Trap(
        "a capacitor from a collector to its base",
        COMMON_EMITTER + "C4 47p : col base\n",
        "dominant-pole-compensation",
        "collector-base-feedback",
        {"C4": "10u : x base", "R6": "100k : col x"},
        "collector-base-feedback",
        "dominant-pole-compensation",
    ),
    19: Trap(
        "a potentiometer with its wiper led to a base",
        COMMON_EMITTER.replace("C1 4u7 : in base", "VR1 10k at 50% : in w gnd\nC1 4u7 : w base"),
        "volume-control",
        "trimmer-and-emitter-follower-bias",
        {
            "VR1": "1k at 60% : top w gnd",
            "C1": "100u : w gnd",
            "R1": "1k : vcc top",
            "D1": "diode : top k",
            "D2": "diode : k gnd",
            "Q1": "npn : b=w c=vcc e=tap",
            "R2": "100 : tap gnd",
            "R3": "",
            "R4": "",
            "C2": "100u : tap gnd",
            "C3": "",
            "T1": "transformer 1:1+1 primary=2H : in gnd | s1 tap s2",
            "Q2": "npn : b=s1 c=p1 e=gnd",
            "Q3": "npn : b=s2 c=p2 e=gnd",
            "T2": "transformer 5+5:1 primary=1H : p1 vcc p2 | out gnd",
            "R5": "8 : out gnd",
        },
        "trimmer-and-emitter-follower-bias",
        "volume-control",
    ),
    22: Trap(
        "a resistor and a capacitor in series from the output to ground",
        SIMPLE_OUTPUT + "R3 10 : spk z\nC2 100n : z gnd\n",
        "output-damping-network",
        "winding-damping-network",
        {
            "Q1": "npn : b=b1 c=p1 e=gnd",
            "Q2": "npn : b=b2 c=p2 e=gnd",
            "C1": "",
            "R1": "",
            "R2": "1k : vp tap",
            "D1": "diode : tap gnd",
            "D2": "",
            "T1": "transformer 1:1+1 primary=2H : a gnd | b1 tap b2",
            "T2": "transformer 5+5:1 primary=1H : p1 vp p2 | spk gnd",
            "R3": "330 : p1 z",
            "C2": "22n : z p2",
        },
        "winding-damping-network",
        "output-damping-network",
    ),
    29: Trap(
        "a thermistor",
        PAIR.replace("D1 diode : tap gnd", "R2 120 : tap gnd\nTH1 ntc 300 : tap gnd"),
        "thermistor-bias",
        "resistor-divider-bias",
        {
            "TH1": "ntc 1 : vcc v2",
            "C4": "470u : v2 gnd",
            "R1": "1k : v2 tap",
            "R2": "82 : tap gnd",
            "T2": "transformer 5+5:1 primary=1H : p1 v2 p2 | spk gnd",
        },
        "resistor-divider-bias",
        "thermistor-bias",
    ),
}
