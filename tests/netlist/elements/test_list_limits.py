"""Element lists that mean harm: includes that never end, bodies that multiply, formulas that explode."""

import os

import pytest

import topo
from topo.errors import NetlistError
from topo.netlist.elements import expanding


@pytest.fixture
def folder(tmp_path):
    """A folder with a list's own folder in it."""
    (tmp_path / "own").mkdir()
    return tmp_path / "own"


def told_of(folder, include) -> str:
    """The warnings of a list that includes a file."""
    file = folder / "a.cir"
    file.write_text(f"title\n.include {include}\nV1 a 0 5\nR1 a 0 1k\n.end\n")
    return "\n".join(problem.message for problem in topo.load(file).warnings)


def test_an_included_device_file_is_not_read(folder):
    assert "/dev/zero is not read: only files beneath" in told_of(folder, "/dev/zero")


def test_an_include_that_climbs_out_of_the_folder_is_not_read(folder):
    (folder.parent / "secret.cir").write_text("R2 a 0 1k\n")

    assert "only files beneath" in told_of(folder, "../secret.cir")


@pytest.mark.parametrize("target", ["/dev/zero", "/etc/hostname", "../secret.cir"])
def test_a_link_that_leads_out_of_the_folder_is_not_read(folder, target):
    (folder.parent / "secret.cir").write_text("R2 a 0 1k\n")
    (folder / "part.lib").symlink_to(target)

    assert "only files beneath" in told_of(folder, "part.lib")


def test_an_included_named_pipe_or_folder_is_not_waited_for(folder):
    os.mkfifo(folder / "part.lib")
    (folder / "more").mkdir()

    assert "is not read" in told_of(folder, "part.lib")
    assert "is not read" in told_of(folder, "more")


def test_an_included_file_of_gigabytes_is_refused_by_its_size(folder):
    with (folder / "part.lib").open("wb") as stream:
        stream.truncate(3 << 30)

    assert "too large" in told_of(folder, "part.lib")


def test_a_list_that_includes_itself_is_told(folder):
    file = folder / "a.cir"
    file.write_text("title\n.include a.cir\nR1 a 0 1k\n")

    with pytest.raises(NetlistError):
        topo.load(file)


def test_sub_circuits_that_use_each_other_are_told():
    text = "t\n.subckt a p q\nX1 p q b\n.ends\n.subckt b p q\nX1 p q a\n.ends\nX1 x y a\n.end\n"

    with pytest.raises(NetlistError, match="uses itself"):
        topo.loads(text, "a.cir")


@pytest.mark.parametrize("inner", ["R1 a b 1k\n", ""])
def test_sub_circuits_that_multiply_are_stopped(inner, monkeypatch):
    monkeypatch.setattr(expanding, "MOST_PARTS", 2_000)
    text = f"t\n.subckt b0 a b\n{inner}.ends\n"
    for level in range(1, 7):
        text += f".subckt b{level} a b\n" + "".join(f"X{place} a b b{level - 1}\n" for place in range(10)) + ".ends\n"

    with pytest.raises(NetlistError, match="more than 2000 parts"):
        topo.loads(text + "X1 x y b6\nR1 x y 1k\n.end\n", "a.cir")


@pytest.mark.parametrize(
    "formula", ["(" * 5_000 + "1" + ")" * 5_000, "9**9**9**9", "pow(9,pow(9,9))", "-" * 3_000 + "1", "a+a", "1/0"]
)
def test_a_formula_without_end_or_bound_leaves_its_value_unknown(formula):
    circuit = topo.loads(f"t\n.param a={{b}}\n.param b={{a}}\nV1 x 0 5\nR1 x 0 {{{formula}}}\n.end\n", "a.cir")

    assert circuit.part("R1").value is None
    assert any("R1" in problem.message for problem in circuit.warnings)


def test_parameters_that_double_sixty_times_are_one_sum_each():
    rows = "".join(f".param a{n}={{a{n - 1}+a{n - 1}}}\n" for n in range(1, 60))

    circuit = topo.loads(f"t\n.param a0=1\n{rows}V1 x 0 5\nR1 x 0 {{a59/a58}}\n.end\n", "a.cir")

    assert circuit.part("R1").value == 2


@pytest.mark.parametrize("line", ["C1 a 0 0", "L1 a 0 0"])
def test_a_capacitor_or_coil_of_nothing_is_of_a_value_not_known(line):
    circuit = topo.loads(f"t\nV1 a 0 5\nR1 a 0 1k\n{line}\n.end\n", "a.cir")

    assert circuit.parts[-1].value is None
    assert topo.loads(topo.write(circuit)).parts[-1].value is None


def test_a_part_of_an_unknown_model_is_written_so_that_it_reads_back():
    circuit = topo.loads("t\nV1 c 0 5\nR1 b 0 1k\nR2 e 0 1k\nQ1 c b e MISSING\n.end\n", "a.cir")

    assert topo.loads(topo.write(circuit)).part("Q1").kind == "other"


def test_a_part_whose_name_is_a_statement_of_the_language_is_written_so_that_it_reads_back():
    circuit = topo.loads("t\nV1 a 0 5\nR1 a 0 1k\nend a 0 b thing\n.end\n", "a.cir")

    assert [part.ref for part in topo.loads(topo.write(circuit)).parts] == [part.ref for part in circuit.parts]


def test_a_title_with_signs_that_no_title_has_is_written_so_that_it_reads_back():
    circuit = topo.loads("A \x07 title # with \\ signs" + "x" * 30_000 + "\nV1 a 0 5\nR1 a 0 1k\n.end\n", "a.cir")

    assert topo.loads(topo.write(circuit)).title == circuit.title
    assert circuit.title.startswith("A title with signs")


def test_a_pinch_off_of_nothing_is_as_good_as_none_given():
    text = "t\nV1 d 0 5\nR1 g 0 1k\nR2 s 0 1k\nJ1 d g s JN\n.model JN NJF(VTO=0 BETA=0)\n.end\n"

    assert topo.loads(text, "a.cir").part("J1").params["VP"] == -2


def test_a_capacitor_of_millions_of_farads_is_written_so_that_it_reads_back():
    circuit = topo.loads("t\nV1 a 0 5\nR1 a 0 1k\nC1 a 0 10MEG\n.end\n", "a.cir")

    assert topo.loads(topo.write(circuit)).part("C1").value == 10e6


def test_a_large_fraction_of_a_farad_is_written_so_that_it_reads_back():
    circuit = topo.loads("t\nV1 a 0 5\nR1 a 0 1k\nC1 a 0 980m\n.end\n", "a.cir")

    assert topo.loads(topo.write(circuit)).part("C1").value == pytest.approx(0.98)


def test_a_node_that_begins_like_a_part_is_no_reference_however_many_dots_it_has():
    circuit = topo.loads("t\nV1 a 0 5\nR1 a R1.R1.1 1k\nR2 R1.R1.1 0 1k\n.end\n", "a.cir")

    assert [len(part.terminals) for part in topo.loads(topo.write(circuit)).parts] == [2, 2]


@pytest.mark.parametrize("sign", ["\u2028", "\x1c", "\x85", "\xa0", '"'])
def test_a_line_of_one_odd_sign_is_told_or_passed_over(sign):
    text = f"t\nV1 a 0 5\nR1 a 0 1k\n{sign}\n+{sign}\n"

    try:
        assert topo.loads(text, "a.cir").parts
    except NetlistError as error:
        assert "line 4" in str(error)


def test_an_included_name_that_is_too_long_for_a_file_is_told(folder):
    assert "is not read: file name too long" in told_of(folder, "n" * 400)


def test_a_signal_of_no_frequency_that_can_be_gives_no_band():
    circuit = topo.loads("t\nV1 a 0 SIN(0 1 5e-324)\nR1 a 0 1k\n.end\n", "a.cir")

    assert circuit.band is None


def test_a_kept_section_that_ends_in_a_backslash_does_not_swallow_the_next_part():
    circuit = topo.loads("t\n*topo section First \\\nV1 a 0 5\nR1 a 0 1k\nR2 a 0 2k\n.end\n", "a.cir")

    assert [part.ref for part in topo.loads(topo.write(circuit)).parts] == [part.ref for part in circuit.parts]


def test_a_part_with_thousands_of_nodes_is_refused():
    nodes = " ".join(f"n{number}" for number in range(13_000 // 7))
    with pytest.raises(NetlistError, match="more than 500 nodes"):
        topo.loads(f"t\nX1 {nodes} box\nR1 n1 0 1k\n.end\n", "list.cir")


def test_a_core_with_thousands_of_coils_is_refused():
    coils = [f"L{number}" for number in range(300)]
    text = "\n".join(("t", *(f"{name} a{name} 0 1m" for name in coils), f"K1 {' '.join(coils)} 1", ".end"))
    with pytest.raises(NetlistError, match="200 are the most"):
        topo.loads(text, "list.cir")


def test_coils_too_unlike_for_one_core_are_refused():
    with pytest.raises(NetlistError, match="too unlike for one core"):
        topo.loads("t\nL1 a 0 1\nL2 b 0 1e-300\nK1 L1 L2 1\nR1 a b 1k\n.end\n", "list.cir")


def test_a_resistor_a_thousandth_of_nothing_times_is_not_known():
    circuit = topo.loads("t\nV1 a 0 9\nR1 a b 1k M=1e-308\nR2 b 0 1k\n.end\n", "list.cir")

    assert circuit.part("R1").value is None
    assert any("boundless" in problem.message for problem in circuit.warnings)


def test_an_unknown_element_with_hundreds_of_nodes_is_refused():
    nodes = " ".join(f"n{number}" for number in range(600))
    with pytest.raises(NetlistError, match="more than 500 nodes"):
        topo.loads(f"t\nN1 {nodes} box\nR1 n1 0 1k\n.end\n", "list.cir")


def test_a_controlled_source_of_boundless_gain_is_no_amplifier():
    circuit = topo.loads("t\nV1 a 0 1\nR1 a 0 1k\nE1 o 0 a 0 1e308\nR2 o 0 1k\n.end\n", "list.cir")

    assert circuit.part("E1").kind == "other"
    assert topo.loads(topo.write(circuit)).part("E1").kind == "other"


def test_an_inductor_of_a_million_henries_reads_back():
    circuit = topo.loads("t\nV1 a 0 1\nR1 a b 1k\nL1 b 0 1MEG\n.end\n", "list.cir")

    assert topo.loads(topo.write(circuit)).part("L1").value == 1e6


def test_a_sub_circuit_that_names_a_node_twice_is_an_error_at_that_word():
    with pytest.raises(NetlistError) as caught:
        topo.loads(
            "title\nV1 v 0 9\n.subckt PAD a a b\nR1 a b 1k\n.ends\nX1 v x y PAD\nR2 x 0 1k\nR3 y 0 1k\n", file="a.cir"
        )

    assert [
        (problem.place.line, problem.place.column) for problem in caught.value.problems if problem.severity == "error"
    ] == [(3, 15)]


def test_a_section_that_comes_again_is_one_section_and_reads_back():
    kept = "*topo section Driver\n*topo signal 1MHz to 2MHz\nR1 a 0 1k\n*topo section Supply\nR2 a b 1k\n"
    circuit = topo.loads(f"title\nV1 b 0 9\n{kept}*topo section Driver\nR3 b 0 1k\n.end\n", file="a.cir")

    assert circuit.sections == ("Driver", "Supply")
    assert [part.section for part in topo.loads(topo.write(circuit)).parts] == [part.section for part in circuit.parts]
