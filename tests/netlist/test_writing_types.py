import topo


def test_device_types_are_written_with_what_their_parts_share():
    text = "supply vcc 9V\ndevice small npn IS=20f hFE=150\n"
    circuit = topo.loads(text + "Q1 small : b=a c=vcc e=gnd\nQ2 small hFE=90 : b=a c=vcc e=gnd\n")

    written = topo.write(circuit)

    assert "device   small npn IS=20fA" in written
    assert topo.loads(written) == circuit


def test_a_type_that_no_line_declares_reads_back():
    circuit = topo.loads("supply vcc 9V\nQ1 npn AB123 : b=a c=vcc e=gnd\n")

    assert topo.loads(topo.write(circuit)) == circuit


def test_a_germanium_type_reads_back():
    circuit = topo.loads("supply vcc -9V\ndevice og pnp germanium hFE=60\nQ1 og : b=a c=vcc e=gnd\n")

    assert topo.loads(topo.write(circuit)) == circuit


def test_a_type_whose_name_could_be_a_value_reads_back():
    circuit = topo.loads("supply vcc 9V\ndevice 3k9 zener\nR1 3k9 : vcc b\nD1 zener 3k9 : gnd b\n")

    again = topo.loads(topo.write(circuit))

    assert [(part.kind, part.type_name, part.value) for part in again.parts] == [
        ("resistor", None, 3900.0),
        ("zener", "3k9", None),
    ]


def test_an_opaque_type_named_as_a_resistance_reads_back_on_a_transistor():
    circuit = topo.loads("supply vcc 9V\ndevice R4 other\nQ1 other R4 : c=vcc b=b e=gnd\n")

    assert topo.loads(topo.write(circuit)) == circuit


def test_a_transformer_of_the_most_turns_reads_back():
    circuit = topo.loads("T1 transformer 500000:1+0.5 : a b | c d e\nT2 transformer impedance 1G:1 : a b | c d\n")

    assert [part.windings for part in topo.loads(topo.write(circuit)).parts] == [
        part.windings for part in circuit.parts
    ]


def test_a_type_that_parts_of_two_kinds_have_is_not_declared_and_reads_back():
    circuit = topo.loads(
        "supply v 9V\nQ1 npn XY12 : b=a c=v e=o\nQ2 pnp XY12 : b=a c=gnd e=o\nR1 1k : v a\nR2 1k : o gnd"
    )

    text = topo.write(circuit)

    assert "device" not in text
    assert [part.kind for part in topo.loads(text).parts] == [part.kind for part in circuit.parts]
