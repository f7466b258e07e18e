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
