"""Inputs that are too large, too deep or no files are refused at once, with a word on why."""

import os

import pytest

import topo
from topo.errors import NetlistError, TopoError, UsageError
from topo.netlist import lines, loading


def refusal(path) -> str:
    with pytest.raises(TopoError) as caught:
        topo.load(path)
    return str(caught.value)


def test_a_file_of_gigabytes_is_refused_without_being_read(tmp_path):
    file = tmp_path / "a.net"
    with file.open("wb") as stream:
        stream.truncate(3 << 30)

    assert "more than 50000000 characters" in refusal(file)


def test_a_line_without_an_end_is_refused_by_its_length():
    with pytest.raises(NetlistError, match="more than 20000 characters"):
        topo.loads("R1 1k : a " + "b" * 1_000_000)


def test_a_text_of_very_many_lines_is_refused(monkeypatch):
    monkeypatch.setattr(loading, "MOST_LINES", 50)

    with pytest.raises(NetlistError, match="more than 50 lines"):
        topo.loads("#\n" * 60)


def test_lines_that_share_a_mistake_are_given_up_after_some_thousand():
    with pytest.raises(NetlistError) as caught:
        topo.loads("supply vcc 9V\n" + "R1 wat : a b\n" * 20_000)

    assert 5_000 <= len(caught.value.problems) < 6_000


def test_a_device_file_is_no_file_to_read():
    assert "device or a named pipe" in refusal("/dev/zero")


def test_a_named_pipe_is_refused_rather_than_waited_for(tmp_path):
    os.mkfifo(tmp_path / "a.net")

    assert "device or a named pipe" in refusal(tmp_path / "a.net")


def test_an_open_pipe_by_its_number_is_read():
    read, write = os.pipe()
    os.write(write, b"supply vcc 9V\nR1 1k : vcc gnd\n")
    os.close(write)
    try:
        assert [part.ref for part in topo.load(f"/dev/fd/{read}").parts] == ["R1"]
    finally:
        os.close(read)


def test_a_folder_is_no_file_to_read(tmp_path):
    assert "is a directory" in refusal(tmp_path)


def test_a_file_name_with_a_nul_is_refused():
    with pytest.raises(UsageError, match="no file's name"):
        topo.load("a\0b.net")


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_that_may_not_be_read_is_told(tmp_path):
    file = tmp_path / "a.net"
    file.write_text("R1 1k : a b\n")
    file.chmod(0)

    assert "permission denied" in refusal(file)


def test_a_nul_is_told_with_its_place(tmp_path):
    file = tmp_path / "a.net"
    file.write_bytes(b"R1 1k : a\0 b\n")

    assert "line 1, column 10: a control character" in refusal(file)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32", "latin-1"])
def test_a_text_in_another_encoding_is_told(tmp_path, encoding):
    file = tmp_path / "a.net"
    file.write_bytes("circuit Verstärker\nR1 1k : a b\n".encode(encoding))

    assert "not UTF-8" in refusal(file)


def test_a_block_that_uses_itself_by_way_of_another_is_told():
    text = "block a (p q)\nA1 b : p q\nend\nblock b (p q)\nA1 a : p q\nend\nA1 a : x y\n"

    with pytest.raises(NetlistError, match="contains itself"):
        topo.loads(text)


@pytest.mark.parametrize("inner", ["R1 1k : a b", ""])
def test_blocks_that_multiply_are_stopped(inner, monkeypatch):
    from topo.netlist import drafting

    monkeypatch.setattr(drafting, "MOST_PARTS", 2_000)
    rows = [f"block b0 (a b)\n{inner}\nend"]
    for level in range(1, 7):
        rows += [f"block b{level} (a b)", *(f"A{place} b{level - 1} : a b" for place in range(10)), "end"]

    with pytest.raises(NetlistError, match="more than 2000 parts"):
        topo.loads("\n".join([*rows, "A1 b6 : x y", "R1 1k : x y"]))


def test_the_limit_of_lines_leaves_room_for_as_many_parts_as_are_allowed():
    from topo.netlist.drafting import MOST_PARTS

    assert lines.MOST_LINES > 2 * MOST_PARTS


@pytest.mark.parametrize("said", ["npn N=0", "npn hFE=-5", "npn IS=1e300", "npn rb=-1", "npn VA=-1"])
def test_a_parameter_that_no_law_allows_is_refused(said):
    with pytest.raises(NetlistError, match="is no"):
        topo.loads(f"Q1 {said} : b=x c=y e=z")


def test_an_opaque_part_keeps_the_word_by_which_it_goes():
    circuit = topo.loads("supply vcc 9V\nU1 ic mixer : 1=vcc 2=gnd\n")

    assert circuit.parts[0].value_text == "mixer"
    assert topo.loads(topo.write(circuit)).parts[0].value_text == "mixer"


def test_a_type_that_goes_by_a_figure_does_not_take_the_values_of_other_parts():
    circuit = topo.loads("device 22u diode\nsupply vcc 9V\nD1 22u : vcc a\nL1 22u : a gnd\n")

    assert [(part.kind, part.type_name, part.value) for part in circuit.parts] == [
        ("diode", "22u", None),
        ("inductor", None, 22e-6),
    ]
