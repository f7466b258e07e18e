"""Look-alikes of radio frequency, valves and supplies, as those of `traps`."""

from __future__ import annotations

from traps import PAIR, Trap

RF_PAIR = """
    supply vdd 28V
    input a
    output ant
    signal 3MHz to 30MHz
    R1 10k : vdd bias
    R2 1k : bias gnd
    C1 100n : bias gnd
    T1 transformer 1:1+1 : a gnd | g1 bias g2
    Q1 nmos VTH=2 K=1 : g=g1 d=d1 s=gnd
    Q2 nmos VTH=2 K=1 : g=g2 d=d2 s=gnd
    T2 transformer 1:1 : d1 vdd | vdd d2
    C6 100n : vdd gnd
    T3 transformer 1:2 : d1 d2 | ant gnd
    AE1 antenna 50 : ant gnd
"""
RF_STAGE = """
    supply vcc 12V
    input a
    output o1 o2
    signal 3MHz to 30MHz
    R1 33k : vcc b
    R2 6k8 : b gnd
    C1 10n : a b
    Q1 npn : b=b c=c e=e
    R3 100 : e gnd
    C2 10n : e gnd
    L1 choke 50u : vcc c
    C3 10n : c h
    T1 transformer 1:1 : h gnd | o1 o2
    AE1 antenna 50 : o1 o2
"""
VALVE_PAIR = """
    supply ht 300V
    input in
    signal 80Hz to 8kHz
    T1 transformer 1:1+1 primary=20H : in gnd | g1 gnd g2
    V1 EL84 : a=p1 g1=g1 g2=ht g3=k k=k
    V2 EL84 : a=p2 g1=g2 g2=ht g3=k k=k
    R1 130 : k gnd
    C1 100u : k gnd
    T2 transformer 57+43+43+57:9 primary=40H : p1 s1 ht s2 p2 | spk gnd
    LS1 speaker 8 : spk gnd
"""
VALVE_SPLITTER = """
    supply ht 300V
    input in
    signal 80Hz to 8kHz
    C1 22n : in g
    R1 1M : g kb
    V1 ECC83 : a=a1 g=g k=k1
    R2 820 : k1 kb
    R10 22k : kb gnd
    R3 100k : ht a1
    C3 47n : a1 o1
    R4 330k : o1 gnd
    R5 1M : s kb
    C7 100n : s gnd
    V2 ECC83 : a=a2 g=s k=k1
    R7 110k : ht a2
    C5 47n : a2 o2
    R8 330k : o2 gnd
    V3 EL84 : a=p1 g1=o1 g2=ht g3=k3 k=k3
    V4 EL84 : a=p2 g1=o2 g2=ht g3=k3 k=k3
    R9 130 : k3 gnd
    C6 100u : k3 gnd
    T1 transformer 22+22:1 primary=40H : p1 ht p2 | spk gnd
    LS1 speaker 8 : spk gnd
"""
NARROW = """
    supply vcc 9V
    input in
    output out
    signal 450kHz to 460kHz
    R1 33k : vcc b0
    R2 6k8 : b0 gnd
    C1 47n : b0 gnd
    T1 transformer 3:1 primary=400u : in gnd | b b0
    Q1 npn : b=b c=c e=e
    R3 1k : e gnd
    C2 47n : e gnd
    T2 transformer 2+1:1 primary=400u : c vcc n | out gnd
    C4 300p : c n
    C3 4p7 : n b
    C5 100n : vcc gnd
    R4 1k : out gnd
"""

OTHERS = {
    7: Trap(
        "two equal windings in series",
        RF_PAIR,
        "balanced-feed-choke",
        "line-transformer-4-1",
        {
            "Q2": "",
            "T1": "transformer 1:1 : a gnd | g1 bias",
            "L1": "choke 50u : vdd d1",
            "C7": "10n : d1 h",
            "T2": "transformer 1:1 : h ant | ant gnd",
            "T3": "",
        },
        "line-transformer-4-1",
        "balanced-feed-choke",
    ),
    8: Trap(
        "two windings of one to one",
        RF_STAGE,
        "broadband-transformer",
        "line-transformer-1-1",
        {"T1": "transformer 1:1 : h o1 | gnd o2"},
        "line-transformer-1-1",
        "broadband-transformer",
    ),
    13: Trap(
        "a follower with two small capacitors at its emitter",
        """
        supply vcc 9V
        output out
        signal 6MHz to 8MHz
        R1 47k : vcc b
        R2 47k : b gnd
        Q1 npn : b=b c=vcc e=e
        R3 1k : e gnd
        C1 220p : b e
        C2 220p : e gnd
        C4 1n : b t
        L1 4u7 : t gnd
        C3 47p : e out
        R4 10k : out gnd
        """,
        "colpitts-oscillator",
        "emitter-follower",
        {"L1": "", "C4": "", "C5": "10n : in b", "R5": "1k : in gnd", "R6": "10k : in inp"},
        "emitter-follower",
        "colpitts-oscillator",
    ),
    14: Trap(
        "a choke from the base to a net",
        """
        supply vcc 12V
        input in
        signal 7MHz to 7.2MHz
        C1 1n : in base
        L1 choke 10u : base gnd
        Q1 npn : b=base c=col e=gnd
        L2 choke 22u : vcc col
        C2 10n : col out
        AE1 antenna 50 : out gnd
        """,
        "zero-bias-stage",
        "resistor-and-diode-bias",
        {"L1": "choke 10u : base n", "R1": "470 : vcc n", "D1": "diode : n gnd", "C3": "100n : n gnd"},
        "resistor-and-diode-bias",
        "zero-bias-stage",
    ),
    15: Trap(
        "an emitter on a net, the base at a steady voltage",
        PAIR.replace("R1 1k : vcc tap", "R1 1k : vcc w").replace(
            "D1 diode : tap gnd", "VR1 1k at 60% : gnd w2 w\nD1 diode : w k\nD2 diode : k gnd\nC2 100u : w2 gnd"
        )
        + "Q3 npn : b=w2 c=vcc e=tap\nR4 100 : tap gnd\n",
        "trimmer-and-emitter-follower-bias",
        "series-regulator",
        {
            "R1": "1k : vcc w2",
            "VR1": "",
            "D1": "zener 6V2 : gnd w2",
            "D2": "",
            "Q3": "npn : b=w2 c=vcc e=line",
            "R4": "1k : line tap",
            "R6": "75 : tap gnd",
            "C3": "100u : line gnd",
            "T2": "transformer 5+5:1 primary=1H : p1 line p2 | spk gnd",
        },
        "series-regulator",
        "trimmer-and-emitter-follower-bias",
    ),
    16: Trap(
        "a diode from a net of the supply to ground",
        PAIR,
        "resistor-and-diode-bias",
        "protection-diode",
        {"D1": "diode : gnd vcc", "R2": "82 : tap gnd"},
        "protection-diode",
        "resistor-and-diode-bias",
    ),
    20: Trap(
        "a tapped winding, its ends to two like parts, its tap to a capacitor and a resistor",
        PAIR.replace("D1 diode : tap gnd", "R2 82 : tap gnd"),
        "centre-tapped-driver-transformer",
        "rectifier-and-reservoir",
        {
            "T1": "transformer 20:1+1 primary=2H : m1 m2 | s1 tap s2",
            "Q1": "rectifier : s1 vcc",
            "Q2": "rectifier : s2 vcc",
            "R2": "0.001 : tap gnd",
            "C1": "1000u : vcc gnd",
            "R1": "",
            "T2": "",
            "Q3": "npn : b=a2 c=spk e=gnd",
            "C3": "1u : a a2",
            "R5": "220k : spk a2",
            "LS1": "headphones 1k : vcc spk",
        },
        "rectifier-and-reservoir",
        "centre-tapped-driver-transformer",
    ),
    21: Trap(
        "two windings at one stage",
        NARROW,
        "neutralisation",
        "hartley-oscillator tickler-oscillator",
        {
            "T1": "",
            "R4": "1k : in gnd",
            "T2": "transformer 2+1:1 primary=400u k=0.98 : c vcc n | b0 b",
            "C6": "10p : c out",
        },
        "tickler-oscillator",
        "neutralisation",
    ),
    23: Trap(
        "a pair with two outputs",
        VALVE_SPLITTER,
        "long-tailed-pair-phase-splitter",
        "paraphase-splitter",
        {
            "R1": "1M : g gnd",
            "R2": "1k5 : k1 gnd",
            "R10": "",
            "R4": "330k : o1 s",
            "R5": "6k2 : s gnd",
            "C7": "25u : k1 gnd",
            "V2": "ECC83 : a=a2 g=s k=k2",
            "R11": "1k5 : k2 gnd",
            "C8": "25u : k2 gnd",
            "R7": "100k : ht a2",
        },
        "paraphase-splitter",
        "long-tailed-pair-phase-splitter",
    ),
    24: Trap(
        "a resistor in the cathode lead of a pair",
        VALVE_PAIR,
        "cathode-biased-push-pull",
        "fixed-biased-push-pull",
        {
            "R1": "1 : k gnd",
            "C1": "",
            "T1": "transformer 1:1+1 primary=20H : in gnd | g1 neg g2",
            "BT1": "battery 9V : gnd neg",
        },
        "fixed-biased-push-pull",
        "cathode-biased-push-pull",
    ),
    25: Trap(
        "a screen grid at a tap of the output winding",
        VALVE_PAIR.replace("a=p1 g1=g1 g2=ht", "a=p1 g1=g1 g2=s1").replace("a=p2 g1=g2 g2=ht", "a=p2 g1=g2 g2=s2"),
        "screen-taps",
        "",
        {"V1": "EL84 : a=p1 g1=g1 g2=s2 g3=k k=k", "V2": "EL84 : a=p2 g1=g2 g2=s1 g3=k k=k"},
        "transformer-push-pull",
        "screen-taps",
    ),
    27: Trap(
        "300 picofarad across a winding",
        NARROW,
        "tuned-coupling",
        "bypass-capacitor:C4 coupling-capacitor:C4",
        {"C4": "100n : c n"},
        "common-emitter",
        "tuned-coupling",
    ),
    28: Trap(
        "a ladder of capacitors and a coil",
        """
        supply vcc 12V
        input a
        output ant
        signal 3.5MHz to 3.6MHz
        C1 10n : a b
        L1 choke 10u : b gnd
        Q1 npn : b=b c=c e=gnd
        T1 transformer 1:2 : c vcc | o gnd
        C4 330p : o gnd
        L3 1u : o ant
        C3 330p : ant gnd
        AE1 antenna 50 : ant gnd
        """,
        "harmonic-filter",
        "matching-network smoothing-filter",
        {
            "T1": "",
            "L4": "choke 20u : vcc c",
            "C5": "100n : c o",
            "C4": "330p : o gnd",
            "C3": "1500p : ant gnd",
        },
        "matching-network",
        "harmonic-filter",
    ),
    26: Trap(
        "a load between two outputs",
        """
        supply vp 9V
        supply vn -9V
        input in
        output sa sb
        signal 100Hz to 10kHz
        T1 transformer 1:1+1 primary=2H : in gnd | d1 tap d2
        R1 0.001 : tap gnd
        Q1 npn germanium : b=d1 c=vp e=sa
        Q2 pnp germanium : b=d1 c=vn e=sa
        Q3 npn germanium : b=d2 c=vp e=sb
        Q4 pnp germanium : b=d2 c=vn e=sb
        LS1 speaker 16 : sa sb
        """,
        "bridge-output",
        "transformer-push-pull",
        {
            "Q1": "npn : b=d1 c=sa e=vn",
            "Q2": "",
            "Q3": "npn : b=d2 c=sb e=vn",
            "Q4": "",
            "R1": "8k2 : vp tap",
            "D1": "diode : tap vn",
            "C1": "100u : tap vn",
            "LS1": "speaker 8 : o gnd",
            "T2": "transformer 5+5:1 primary=1H : sa vp sb | o gnd",
        },
        "transformer-push-pull",
        "bridge-output",
    ),
    30: Trap(
        "the upper of two like devices above the output",
        """
        supply vcc 12V
        input a
        output spk
        T1 transformer 2:1:1 primary=2H : a gnd | b1 n1 | n2 b2
        R1 1k : vcc n1
        R2 130 : n1 m
        C1 100u : n1 m
        R3 1k : m n2
        R4 130 : n2 gnd
        C2 100u : n2 gnd
        Q1 npn : b=b1 c=vcc e=m
        Q2 npn : b=b2 c=m e=gnd
        C3 470u : m spk
        LS1 speaker 16 : spk gnd
        """,
        "series-push-pull",
        "quasi-complementary-output emitter-follower",
        {
            "T1": "",
            "R1": "820 : vcc hi",
            "D1": "diode : hi x",
            "D2": "diode : x y",
            "D3": "diode : y lo",
            "Q5": "npn : b=a2 c=lo e=gnd",
            "C1": "10u : a a2",
            "R2": "18k : m a2",
            "R3": "2k2 : a2 gnd",
            "R4": "220 : b2 gnd",
            "C2": "",
            "Q1": "npn : b=hi c=vcc e=b1",
            "Q3": "npn : b=b1 c=vcc e=m",
            "R5": "220 : b1 m",
            "Q2": "pnp : b=lo c=b2 e=m",
            "Q4": "npn : b=b2 c=m e=gnd",
        },
        "quasi-complementary-output",
        "series-push-pull",
    ),
}
