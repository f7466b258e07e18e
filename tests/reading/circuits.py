"""Circuits that several tests of the reading use, typed as a person types them."""

TWO_TRANSFORMERS = """
    supply vcc 9V
    input  in
    output spk
    R1 56k : vcc b1
    R2 12k : b1 gnd
    C1 10u electrolytic : b1 in
    Q1 npn : b=b1 c=c1 e=e1
    R3 470 : e1 gnd
    C2 100u electrolytic : e1 gnd
    T1 transformer 2:1+1 : c1 vcc | s1 tap s2
    R5 1k : vcc tap
    D1 diode : tap gnd
    Q2 npn : b=s1 c=p1 e=e2
    Q3 npn : b=s2 c=p2 e=e3
    R6 2R2 : e2 gnd
    R7 2R2 : e3 gnd
    T2 transformer 4+4:1 : p1 vcc p2 | spk gnd
    LS1 speaker 8 : spk gnd
"""

COMPLEMENTARY = """
    supply vcc 12V
    input  in
    output spk
    signal 300Hz to 3.4kHz
    C1 10u electrolytic : b1 in
    R1 22k : mid b1
    R2 3k9 : b1 gnd
    Q1 npn : b=b1 c=low e=gnd
    R3 1k : vcc high
    D1 diode : high between
    D2 diode : between low
    Q2 npn : b=high c=vcc e=e2
    Q3 pnp : b=low c=gnd e=e3
    R4 0R47 : e2 mid
    R5 0R47 : e3 mid
    C2 470u electrolytic : mid spk
    LS1 speaker 8 : spk gnd
"""

BOOTSTRAPPED = """
    supply vcc 9V
    input  in
    output sp
    C1 4u7 electrolytic : b1 in
    R1 33k : mid b1
    R2 6k8 : b1 gnd
    Q1 npn hFE=200 : b=b1 c=lo e=gnd
    R3 470 : sp hi
    D1 diode : hi x
    D2 diode : x lo
    Q2 npn : b=hi c=vcc e=e2
    Q3 pnp : b=lo c=gnd e=e3
    R4 0R5 : e2 mid
    R5 0R5 : e3 mid
    C2 470u electrolytic : mid sp
    LS1 speaker 8 : vcc sp
"""

PREAMPLIFIER = """
    supply vcc 18V
    input  in
    output out
    signal 30Hz to 15kHz
    C1 1u : in b1
    R1 220k : vcc b1
    R2 47k : b1 gnd
    Q1 npn hFE=300 : b=b1 c=c1 e=e1
    R3 10k : vcc c1
    R4 2k2 : e1 gnd
    C2 100u electrolytic : e1 gnd
    C4 2u2 electrolytic : c1 b2
    R7 150k : vcc b2
    R8 33k : b2 gnd
    Q2 npn hFE=300 : b=b2 c=c2 e=e2
    R9 6k8 : vcc c2
    R10 1k5 : e2 gnd
    C6 47u electrolytic : e2 gnd
    Q3 npn hFE=300 : b=c2 c=vcc e=e3
    R11 4k7 : e3 gnd
    C7 10u electrolytic : e3 out
    R12 47k : out gnd
"""

RADIO_STAGE = """
    supply vcc 12V
    input  in
    output aer
    signal 26MHz to 28MHz
    C1 10n : in b
    L1 choke 4u7 : b gnd
    Q1 npn IS=100f hFE=50 : b=b c=c e=gnd
    L2 choke 4u7 : vcc c
    C2 10n : vcc gnd
    C3 10n : c aer
    AE1 antenna 50 : aer gnd
"""

RECTIFIER_SUPPLY = """
    supply raw 15V
    T1 transformer 10:1+1 : l n | a gnd b
    D1 rectifier : a raw
    D2 rectifier : b raw
    C1 1000u electrolytic : raw gnd
    R1 100 : raw vout
    C2 1000u electrolytic : vout gnd
    R2 1k : vout gnd
"""

MULTIVIBRATOR = """
    supply vcc 9V
    signal 1Hz to 10Hz
    R1 1k : vcc c1
    R2 47k : vcc b1
    R3 47k : vcc b2
    R4 1k : vcc c2
    C1 10u electrolytic : c1 b2
    C2 10u electrolytic : c2 b1
    Q1 npn : b=b1 c=c1 e=gnd
    Q2 npn : b=b2 c=c2 e=gnd
"""

BRIDGE_OF_SWITCHES = """
    supply vcc 12V
    signal 10Hz to 100Hz
    Q1 pnp : b=ba c=m1 e=vcc
    Q2 pnp : b=bb c=m2 e=vcc
    Q3 npn : b=bc c=m1 e=gnd
    Q4 npn : b=bd c=m2 e=gnd
    R1 1k : ba gnd
    R2 10k : bb vcc
    R3 10k : bc gnd
    R4 1k : bd vcc
    LP1 lamp 12V 50mA : m1 m2
"""

TWO_SINGLE_STAGES = """
    supply vcc 9V
    signal 300Hz to 3.4kHz
    C1 1u : in1 b1
    R1 100k : vcc b1
    R2 22k : b1 gnd
    Q1 npn : b=b1 c=c1 e=e1
    R3 4k7 : vcc c1
    R4 1k : e1 gnd
    C2 1u : c1 out1
    C3 1u : in2 b2
    R5 100k : vcc b2
    R6 22k : b2 gnd
    Q2 npn : b=b2 c=c2 e=e2
    R7 4k7 : vcc c2
    R8 1k : e2 gnd
    C4 1u : c2 out2
"""
