"""Which terminals are one net, and what it is called."""

from __future__ import annotations

import pytest
from pytest import approx

import topo
from topo.errors import NetlistError


def test_a_name_means_one_net_whatever_its_case_and_shows_the_first_spelling():
    circuit = topo.loads("R1 1k : Vcc a\nR2 1k : VCC b\nsupply vcc 9V")

    assert circuit.part("R2").net("1") == "Vcc"
    assert circuit.supplies[0].net == "Vcc"
    assert circuit.aliases["vcc"] == "Vcc"


@pytest.mark.parametrize("name", ["gnd", "GND", "ground", "earth", "0"])
def test_the_four_names_of_ground_are_one_net(name):
    circuit = topo.loads(f"R1 1k : a {name}\nR2 1k : a Earth\nR3 1k : a 0")

    assert circuit.ground == name
    assert {item.net("2") for item in circuit.parts} == {name}


def test_a_ground_line_makes_the_four_names_ordinary():
    circuit = topo.loads("R1 1k : a chassis\nR2 1k : a gnd\nground CHASSIS")

    assert circuit.ground == "chassis"
    assert circuit.part("R2").net("2") == "gnd"
    assert "two-grounds" in [problem.code for problem in circuit.warnings]


@pytest.mark.parametrize("name", ["+9V", "B+", "-12V", "n12", "+3.3V", "a/b", "x'", "0.5"])
def test_odd_names_are_names(name):
    assert topo.loads(f"R1 1k : {name} gnd").part("R1").net("1") == name


def test_a_reference_is_the_net_of_that_terminal():
    circuit = topo.loads("R3 1k : vcc Q1.c\nQ1 npn : b=x c=out e=gnd")

    assert circuit.part("R3").net("2") == "out"


def test_a_net_of_references_alone_is_called_by_the_first():
    circuit = topo.loads("""
        C4 1u   : R3.2 x
        R3 1k   : vcc Q1.c
        Q1 npn  : b=x c=- e=gnd
        R4 1k   : q1.C gnd
    """)

    assert {circuit.part("C4").net("1"), circuit.part("R4").net("1"), circuit.part("Q1").net("c")} == {"R3.2"}


def test_a_typed_name_goes_before_a_reference():
    circuit = topo.loads("R3 1k : vcc Q1.c\nR4 1k : R3.2 gnd\nQ1 npn : b=x c=drive e=gnd")

    assert circuit.part("R4").net("1") == "drive"


def test_a_terminal_that_nothing_refers_to_is_called_by_itself():
    assert topo.loads("R1 1k : a -").part("R1").net("2") == "R1.2"


def test_a_terminal_may_refer_to_itself():
    assert topo.loads("R1 1k : a R1.2\nR2 1k : R1.2 b").part("R2").net("1") == "R1.2"


def test_references_in_a_ring_are_one_net():
    circuit = topo.loads("R1 1k : R2.1 a\nR2 1k : R3.1 b\nR3 1k : R1.1 c")

    assert len({item.net("1") for item in circuit.parts}) == 1


def test_a_dot_in_a_name_is_a_reference_only_after_a_designator():
    circuit = topo.loads("R1 1k : +3.3V R2.x3\nR3 1k : a b")

    assert circuit.part("R1").net("1") == "+3.3V"
    assert circuit.part("R1").net("2") == "R2.x3"


@pytest.mark.parametrize(
    ("reference", "line"),
    [
        ("X1.1", "X1 electrolytic 1u : here b"),
        ("X1.+", "X1 electrolytic 1u : here b"),
        ("X1.2", "X1 electrolytic 1u : b here"),
        ("X1.a", "X1 diode : here b"),
        ("X1.1", "X1 diode : here b"),
        ("X1.-", "X1 diode : b here"),
        ("X1.w", "X1 pot 1k : a here b"),
        ("X1.w1.2", "X1 transformer : a here | b c"),
        ("X1.W2.1", "X1 transformer : a b | here c"),
        ("X1.3", "X1 inductor 1m : a b here"),
        ("X1.coil.2", "X1 relay : a here | b c d"),
        ("X1.1.worked", "X1 relay : a b | c d here"),
        ("X1.way2", "X1 selector at 1 : a | b here"),
        ("X1.in+", "X1 opamp : in+=here in-=a out=b"),
        ("X1.RF", "X1 ic : 1=a rf=here"),
        ("X1.tip", "X1 jack : tip=here sleeve=a"),
    ],
)
def test_every_kind_of_terminal_can_be_referred_to(reference, line):
    assert topo.loads(f"R9 1k : {reference} gnd\n{line}").part("R9").net("1") == "here"


def test_join_makes_names_one_net():
    circuit = topo.loads("R1 1k : a b\nR2 1k : c d\njoin B c x")

    assert circuit.part("R2").net("1") == "b"
    assert circuit.aliases["x"] == "b"


def test_join_may_come_first_and_may_name_a_terminal():
    circuit = topo.loads("join bus R1.2\nR1 1k : a -\nR2 1k : bus gnd")

    assert circuit.part("R1").net("2") == "bus"


def test_ports_and_supplies_may_be_references():
    circuit = topo.loads("supply R1.1 9V\nR1 1k : - b\ninput C1.1\nC1 1u : - b\noutput R1.2 C1.1")

    assert circuit.supplies[0].net == circuit.part("R1").net("1") == "R1.1"
    assert circuit.inputs[0].net == circuit.part("C1").net("1")
    assert circuit.outputs[0].reference == "C1.1"


def test_an_unknown_terminal_is_told_with_the_nearest():
    with pytest.raises(NetlistError, match=r"no terminal `in_`(?s:.*)Did you mean in[+-]\?"):
        topo.loads("U1 opamp : in+=a in-=b out=c\nR1 1k : U1.in_ gnd")


class TestBlocks:
    """Sub-circuits."""

    STAGE = """
        supply vcc 9V
        block stage (in out)
          R1 47k   : vcc in
          R2 1k    : vcc Q1.c
          Q1 npn   : b=in c=out e=-
          R3 100   : Q1.e foot
          R4 10    : foot gnd
        end
    """

    def test_parts_and_inner_nets_are_called_after_the_use(self):
        circuit = topo.loads(self.STAGE + "A1 stage : mic x\nA2 stage : x spk")

        assert [item.ref for item in circuit.parts][:3] == ["A1.R1", "A1.R2", "A1.Q1"]
        assert circuit.part("A1.Q1").net("b") == "mic"
        assert circuit.part("A1.R3").net("2") == "A1.foot"
        assert circuit.part("A2.R3").net("1") == "A2.R3.1" or circuit.part("A2.R3").net("1") == "A2.Q1.e"

    def test_ground_and_rails_are_the_same_inside(self):
        circuit = topo.loads(self.STAGE + "A1 stage : mic x")

        assert circuit.part("A1.R1").net("1") == "vcc"
        assert circuit.part("A1.R4").net("2") == "gnd"

    def test_a_port_of_the_name_of_a_rail_is_the_port(self):
        circuit = topo.loads("supply vcc 9V\nblock s (vcc)\nR1 1k : vcc gnd\nend\nA1 s : other")

        assert circuit.part("A1.R1").net("1") == "other"

    def test_what_is_inside_can_be_referred_to_from_outside(self):
        circuit = topo.loads(self.STAGE + "A1 stage : mic x\nR9 1k : A1.Q1.c A1.foot\nR8 1k : a1.in gnd")

        assert circuit.part("R9").net("1") == "x"
        assert circuit.part("R9").net("2") == "A1.foot"
        assert circuit.part("R8").net("1") == "mic"

    def test_a_block_may_use_a_block(self):
        circuit = topo.loads(
            self.STAGE + "block pair (in out)\nA1 stage : in mid\nA2 stage : mid out\nend\nA7 pair : mic spk"
        )

        assert circuit.part("A7.A2.Q1").net("c") == "spk"
        assert circuit.part("A7.A2.Q1").net("b") == circuit.part("A7.A1.Q1").net("c") == "A7.mid"

    def test_a_use_may_stand_before_the_block_and_may_name_its_nets(self):
        circuit = topo.loads("A1 s : b=x a=y\nblock s (a b)\nR1 1k : a b\nend")

        assert circuit.part("A1.R1").net("1") == "y"

    def test_each_use_is_its_own(self):
        circuit = topo.loads(self.STAGE + "A1 stage : mic x\nA2 stage : x spk")

        assert circuit.part("A1.R4").net("1") != circuit.part("A2.R4").net("1")

    def test_an_error_inside_is_told_once_however_often_the_block_is_used(self):
        with pytest.raises(NetlistError) as caught:
            topo.loads("block s (a)\nR1 1q : a gnd\nend\nA1 s : x\nA2 s : y")

        assert [problem.code for problem in caught.value.problems] == ["unknown-word"]

    def test_blocks_nested_too_deep_are_refused(self):
        text = "block b0 (a)\nR1 1k : a gnd\nend\n"
        text += "".join(f"block b{n} (a)\nA1 b{n - 1} : a\nend\n" for n in range(1, 30))

        with pytest.raises(NetlistError, match="more than 20 deep"):
            topo.loads(text + "A1 b29 : x")

    def test_blocks_that_multiply_are_refused_at_a_limit(self, monkeypatch):
        monkeypatch.setattr("topo.netlist.drafting.MOST_PARTS", 1000)
        text = "block b0 (a)\nend\n"
        text += "".join(f"block b{n} (a)\nA1 b{n - 1} : a\nA2 b{n - 1} : a\nend\n" for n in range(1, 18))

        with pytest.raises(NetlistError, match="more than 1000 parts"):
            topo.loads(text + "A1 b17 : x")

    def test_parts_of_a_block_belong_to_the_section_of_its_use(self):
        circuit = topo.loads(self.STAGE + "section front\nA1 stage : mic x")

        assert circuit.part("A1.Q1").section == "front"

    def test_values_inside_are_those_of_the_block(self):
        assert topo.loads(self.STAGE + "A1 stage : mic x").part("a1.r2").value == approx(1000)
