"""Functions of a list's own, sub-circuits several times in parallel, sources whose formula is a constant."""

import pytest

import topo


def read(*rows):
    return topo.loads("\n".join(("t", "V1 vcc 0 9", *rows, ".end")), "list.cir")


@pytest.mark.parametrize(
    "line",
    [
        ".func par(a,b) {a*b/(a+b)}",
        ".FUNC par(a, b) = 'a*b/(a+b)'",
        ".param par(a,b)={a*b/(a+b)}",
        ".func par(x,y) {over(x*y, x+y)}\n.func over(x,y) {x/y}",
    ],
)
def test_a_function_of_the_list_s_own_is_worked_out(line):
    assert read(line, "R1 vcc 0 {par(1k, 3k)}").part("R1").value == pytest.approx(750)


def test_a_function_sees_what_it_is_given_before_the_list_s_parameters():
    circuit = read(".param x=5 y=2", ".func f(x) {x*y}", "R1 vcc 0 {f(100)}")

    assert circuit.part("R1").value == 200


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ((".func f(x) {f(x)}",), "too many functions within one another"),
        (
            (
                *(f".func f{n}(x) {{f{n + 1}(x)+f{n + 1}(x)}}" for n in range(15)),
                ".func f15(x) {x}",
                ".func f(x) {f0(x)}",
            ),
            "too many functions",
        ),
        ((".func f(x,y) {x}",), "`f` takes 2 values"),
        ((".func f {x}",), "`f` is not known"),
    ],
)
def test_a_function_that_has_no_value_is_told_where_it_is_used(lines, said):
    circuit = read(*lines, "R1 vcc 0 {f(1)}")

    assert circuit.part("R1").value is None
    assert any(said in problem.message for problem in circuit.warnings)


def test_a_line_that_is_no_function_is_told():
    assert any(problem.code == "bad-function" for problem in read(".func f {x}", "R1 vcc 0 1k").warnings)


BODY = (".subckt stage in out r=1k", "R1 out in {r}", ".ends")


def test_a_sub_circuit_twice_in_parallel_is_there_twice():
    circuit = read(*BODY, "X1 vcc 0 stage M=2")

    assert [part.ref for part in circuit.parts] == ["X1.R1", "X1_2.R1"]
    assert {tuple(terminal.net for terminal in part.terminals) for part in circuit.parts} == {("gnd", "vcc")}


def test_a_sub_circuit_whose_own_parameter_is_m_is_there_once():
    circuit = read(".subckt stage in out m=1", "R1 out in {m*1k}", ".ends", "X1 vcc 0 stage m=2")

    assert [(part.ref, part.value) for part in circuit.parts] == [("X1.R1", 2000.0)]


@pytest.mark.parametrize("times", ["0.5", "0", "-1", "1e9", "{none}"])
def test_a_sub_circuit_an_odd_number_of_times_is_taken_once_and_told(times):
    circuit = read(*BODY, f"X1 vcc 0 stage m={times}")

    assert [part.ref for part in circuit.parts] == ["X1.R1"]
    assert any("taken once" in problem.message for problem in circuit.warnings)


@pytest.mark.parametrize(
    ("line", "kind", "value"),
    [
        ("B1 a 0 V={vs/2}", "source", 4.5),
        ("B1 a 0 I=2m*2", "current", 4e-3),
        ("E1 a vcc VALUE={2}", "source", 2.0),
        ("G1 a 0 VALUE {1m}", "current", 1e-3),
    ],
)
def test_a_source_whose_formula_is_a_constant_is_a_plain_one(line, kind, value):
    circuit = read(".param vs=9", line, "R1 a b 1k", "R2 b 0 1k")
    found = next((part for part in circuit.parts if part.kind == kind), None)
    volts = {supply.net: supply.volts for supply in circuit.supplies}

    assert volts.get("a") == value if found is None else found.value == pytest.approx(value)
    assert any(problem.code == "constant-source" for problem in circuit.warnings)


def test_a_source_whose_formula_depends_on_the_circuit_stays_unknown():
    circuit = read("B1 a 0 V={2*V(vcc)}", "R1 a 0 1k")

    assert circuit.part("B1").kind == "other"
