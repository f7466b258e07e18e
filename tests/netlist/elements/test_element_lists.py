"""Element lists read as circuits, one feature each; the expected circuits are typed in the netlist language."""

import pytest

import topo
from topo.errors import NetlistError
from topo.netlist.elements import is_element_list, read_elements


def listed(*lines):
    return read_elements("\n".join(("a title", *lines)), "list.cir")


def parts(circuit):
    """Parts as (designator, kind, nets, value)."""
    return [(p.ref, p.kind, tuple(t.net for t in p.terminals), p.value) for p in circuit.parts]


def codes(circuit, severity=None):
    return [problem.code for problem in circuit.warnings if severity in (None, problem.severity)]


def errors(*lines):
    with pytest.raises(NetlistError) as caught:
        listed(*lines)
    return [(problem.place.line, problem.code) for problem in caught.value.problems if problem.severity == "error"]


# -- lines -----------------------------------------------------------------------------------------------------------


def test_the_first_line_is_the_title():
    assert listed("R1 a 0 1k").title == "a title"


def test_a_first_line_that_looks_like_a_part_is_asked_about():
    circuit = read_elements("R9 a b 10k\nR1 a 0 1k\n", "list.cir")

    assert [part.ref for part in circuit.parts] == ["R1"]
    assert "title-like-part" in codes(circuit, "warning")


def test_comments_of_every_form_are_left_out():
    circuit = listed(
        "* a star", "# a hash", "R1 a b 1k ; semicolon", "R2 b c 2k $ dollar", "R3 c 0 3k // slashes", "R4 c 0 4k$glued"
    )

    assert [row[3] for row in parts(circuit)] == [1e3, 2e3, 3e3, 4e3]


def test_a_dollar_within_a_net_name_starts_no_comment():
    assert parts(listed("R1 $N_01 $N_02 5k"))[0][2] == ("$N_01", "$N_02")


def test_a_plus_goes_on_from_the_line_before_whatever_stands_between():
    assert parts(listed("R1 a", "* between", "", "+ b", "+ 1k"))[0] == ("R1", "resistor", ("a", "b"), 1e3)


def test_a_continuation_of_nothing_is_an_error():
    assert errors("+ b 1k") == [(2, "stray-continuation")]


def test_places_in_continued_lines_point_at_the_physical_line():
    circuit = listed("R1 a", "+ b 1k")

    assert (circuit.parts[0].terminals[1].place.line, circuit.parts[0].terminals[1].place.column) == (3, 3)


def test_byte_order_mark_tabs_carriage_returns_and_any_case_are_read():
    circuit = read_elements("\ufefftitle\r\nr1\tA\tb\t1K\r\nR2 a B 2k\r\n", "list.cir")

    assert parts(circuit) == [("r1", "resistor", ("A", "b"), 1e3), ("R2", "resistor", ("A", "b"), 2e3)]


def test_what_stands_behind_the_end_line_is_not_read():
    assert len(listed("R1 a 0 1k", ".END", "R2 a 0 1k").parts) == 1


def test_an_end_line_may_be_missing():
    assert len(listed("R1 a 0 1k").parts) == 1


def test_control_characters_and_endless_lines_are_errors():
    assert errors("R1 a b 1k\x00") == [(2, "control-character")]
    assert errors("R1 a b " + "1" * 30_000) == [(2, "line-too-long")]


# -- names -----------------------------------------------------------------------------------------------------------


def test_zero_and_gnd_are_the_ground():
    assert [row[2][1] for row in parts(listed("R1 a 0 1k", "R2 a GND 1k"))] == ["gnd", "gnd"]


def test_a_net_name_that_the_netlist_language_keeps_for_itself_is_shown_by_another():
    circuit = listed("R1 a:1 0 1k", "R2 a:1 a_1 1k")

    assert [row[2] for row in parts(circuit)] == [("a_1", "gnd"), ("a_1", "a_1_2")]
    assert "net-renamed" in codes(circuit)


def test_a_net_that_would_be_read_as_a_terminal_is_shown_by_another_name():
    circuit = listed("Q1 Q1.b b 0 QX", "R1 Q1.b 0 1k", ".model QX NPN")

    assert [part.terminals[0].net for part in circuit.parts] == ["b", "Q1_b"]
    assert topo.loads(topo.write(circuit)).part("R1").net("1") == "Q1_b"


def test_a_model_of_no_use_here_gives_no_type_that_a_known_device_has():
    circuit = listed(".subckt s a", "Q1 a a 0 QX", ".model QX NPN", ".ends", "X1 n s", "Q2 n n 0 QX", "R1 n 0 1k")

    assert [(part.kind, part.type_name) for part in circuit.parts[:2]] == [("npn", "QX"), ("other", None)]


def test_a_line_without_nodes_is_an_error():
    assert errors("X1 black_box", "U1") == [(2, "bad-use"), (3, "few-nodes")]


def test_a_designator_used_twice_is_an_error():
    assert errors("R1 a 0 1k", "r1 b 0 2k") == [(3, "ref-twice")]


# -- values ----------------------------------------------------------------------------------------------------------


def test_parameters_and_formulas_give_values():
    circuit = listed(
        ".param rl=4.7k gain={2*rl/1k}", ".param half = gain / 2", "R1 a 0 {rl}", "R2 a 0 'half*1k'", "R3 a 0 rl"
    )

    assert [row[3] for row in parts(circuit)] == [4700.0, pytest.approx(4700.0), 4700.0]


def test_parameters_that_stand_for_one_another_in_a_ring_are_no_value():
    circuit = listed(".param a={b} b={a}", "R1 x 0 {a}")

    assert parts(circuit)[0][3] is None
    assert "bad-value" in codes(circuit, "warning")


def test_a_resistor_of_ten_millionths_of_what_was_meant_is_asked_about():
    assert "small-resistor" in codes(listed("R1 a 0 1M"), "warning")


def test_a_capacitor_of_a_femtofarad_is_asked_about():
    assert "small-capacitor" in codes(listed("C1 a 0 10F"), "warning")


def test_a_value_below_zero_is_not_known():
    assert parts(listed("R1 a 0 -5"))[0][3] is None


def test_farads_come_back_as_farads():
    circuit = listed("C1 a 0 4.7", "R1 a 0 1k")

    assert topo.loads(topo.write(circuit)).part("C1").value == 4.7


def test_equal_resistors_in_parallel_are_one_by_their_number():
    assert parts(listed("R1 a 0 10k M=2", "C1 a 0 10n M=2")) == [
        ("R1", "resistor", ("a", "gnd"), 5e3),
        ("C1", "capacitor", ("a", "gnd"), 20e-9),
    ]


# -- devices ---------------------------------------------------------------------------------------------------------


def test_a_bipolar_model_gives_what_means_the_same_and_names_the_rest():
    circuit = listed("Q1 c b 0 QX", ".model QX NPN(IS=2E-14 BF=150 VAF=80 CJE=10p", "+ TF=1n)")

    assert circuit.parts[0].kind == "npn"
    assert circuit.parts[0].params == {"IS": 2e-14, "hFE": 150.0, "VA": 80.0}
    assert any("CJE TF" in problem.message for problem in circuit.warnings)


def test_terminals_go_by_name_whatever_the_order_of_the_form():
    part = listed("Q1 c b e QX", ".model QX PNP").parts[0]

    assert {terminal.name: terminal.net for terminal in part.terminals} == {"c": "c", "b": "b", "e": "e"}


def test_a_substrate_node_is_told_from_the_model():
    assert [t.name for t in listed("Q1 c b e sub QX", ".model QX NPN").parts[0].terminals] == ["b", "c", "e"]


def test_an_area_makes_the_saturation_current_larger():
    assert listed("Q1 c b 0 QX 4", ".model QX NPN(IS=1e-14)").parts[0].params["IS"] == pytest.approx(4e-14)


def test_a_model_based_on_another_has_its_parameters():
    circuit = listed("Q1 c b 0 QY", ".model QX NPN(IS=1e-13 BF=50)", ".model QY AKO:QX NPN(BF=90)")

    assert circuit.parts[0].params == {"IS": 1e-13, "hFE": 90.0}


def test_germanium_is_told_by_the_band_gap_or_the_saturation_current():
    circuit = listed("Q1 c b 0 QX", "D1 a 0 DX", ".model QX PNP(IS=1e-14 EG=0.67)", ".model DX D(IS=1u)")

    assert [part.settings.get("germanium") for part in circuit.parts] == [True, True]


def test_a_standard_type_number_needs_no_model_with_or_without_its_letter():
    circuit = listed("Q1 c b 0 2N3904", "Q2 c b 0 Q2N3906")

    assert [(part.kind, part.type_name) for part in circuit.parts] == [("npn", "2N3904"), ("pnp", "2N3906")]


def test_a_junction_field_effect_model_gives_the_saturation_current():
    # I_D = BETA (V_GS - VTO)^2, so that IDSS = BETA VTO^2 (Shichman and Hodges 1968; from memory)
    part = listed("J1 d g s JX", ".model JX NJF(VTO=-2 BETA=1m LAMBDA=0.01)").parts[0]

    assert part.params == {"IDSS": pytest.approx(4e-3), "VP": -2.0, "VA": pytest.approx(100.0)}


def test_a_mosfet_model_gives_half_the_transconductance_times_width_over_length():
    # I_D = (KP/2)(W/L)(V_GS - VTO)^2 (Shichman and Hodges 1968; from memory)
    part = listed("M1 d g s s MX W=200u L=10u", ".model MX NMOS(VTO=1 KP=40u)").parts[0]

    assert part.params == {"VTH": 1.0, "K": pytest.approx(400e-6)}
    assert [terminal.name for terminal in part.terminals] == ["g", "d", "s"]


def test_a_separate_substrate_of_a_mosfet_is_kept():
    assert listed("M1 d g s 0 MX", ".model MX PMOS(VTO=-1)").parts[0].net("b") == "gnd"


@pytest.mark.parametrize(
    ("model", "kind"),
    [
        (".model DX D(IS=1e-14)", "diode"),
        (".model DX D(IS=1e-14 BV=5.1 IBV=5m)", "zener"),
        (".model DX D(IS=1e-14 BV=100)", "diode"),
        (".model DX D(IS=1e-5 BV=20)", "diode"),
    ],
)
def test_a_zener_diode_is_told_by_its_breakdown(model, kind):
    assert listed("D1 a 0 DX", model).parts[0].kind == kind


def test_a_device_without_a_model_is_a_part_of_which_nothing_is_known():
    circuit = listed("Q1 c b e NOPE", "R1 c 0 1k")

    assert parts(circuit)[0][1:3] == ("other", ("c", "b", "e"))
    assert "no-model" in codes(circuit, "warning")


# -- sources and ports -----------------------------------------------------------------------------------------------


def test_an_ideal_source_at_ground_is_a_supply():
    circuit = listed("VCC vcc 0 DC 9", "VEE 0 vee 12V", "R1 vcc vee 1k")

    assert [(supply.net, supply.volts) for supply in circuit.supplies] == [("vcc", 9.0), ("vee", -12.0)]
    assert [part.ref for part in circuit.parts] == ["R1"]


def test_a_source_between_two_nets_is_a_part():
    assert parts(listed("V1 a b 3", "R1 a 0 1k", "R2 b 0 1k"))[0] == ("V1", "source", ("a", "b"), 3.0)


@pytest.mark.parametrize(
    "line",
    ["VIN in 0 AC 1", "VIN in 0 SIN(0 1 1k)", "VIN in 0 DC 0 AC 1 SIN 0 1 1k", "VIN in 0 PULSE(0 1 0 1n 1n 1u 2u)"],
)
def test_a_source_with_a_signal_is_the_input(line):
    circuit = listed(line, "R1 in 0 1k")

    assert [(port.net, port.reference) for port in circuit.inputs] == [("in", "gnd")]
    assert circuit.supplies == ()


def test_a_ramp_is_a_supply_that_is_switched_on():
    circuit = listed("V1 vcc 0 PWL(0 0 1m 12)", "R1 vcc 0 1k")

    assert [(supply.net, supply.volts) for supply in circuit.supplies] == [("vcc", 12.0)]


def test_two_sources_that_differ_on_one_net_are_an_error():
    assert errors("V1 vcc 0 9", "V2 vcc 0 12", "R1 vcc 0 1k") == [(3, "supply-twice")]


def test_the_output_is_the_load_before_the_probe():
    circuit = listed("R1 a b 1k", "RL b 0 8", ".print tran v(a)")

    assert [port.net for port in circuit.outputs] == ["b"]


def test_the_output_is_the_net_that_the_list_asks_to_see():
    circuit = listed("V1 vcc 0 9", "R1 vcc b 1k", "R2 b 0 8", ".plot ac vdb(b)", ".print tran v(vcc)")

    assert [port.net for port in circuit.outputs] == ["b"]


def test_the_band_is_taken_by_the_frequency_of_the_signal_and_said_to_be():
    circuit = listed("V1 a 0 SIN(0 1 14MEG)", "R1 a 0 50")

    assert circuit.band[0] < 14e6 < circuit.band[1]
    assert circuit.band_assumed
    assert "band-taken" in codes(circuit)


def test_analyses_are_left_out_with_a_note():
    assert (
        codes(listed("R1 a 0 1k", ".tran 1u 1m", ".ac dec 10 1 1meg", ".op", ".options reltol=1e-4")).count("not-used")
        == 4
    )


def test_an_unknown_line_is_told_with_what_is_like_it():
    circuit = listed("R1 a 0 1k", ".modl X NPN")

    assert (
        next(problem for problem in circuit.warnings if problem.code == "unknown-line").mend == "Did you mean .model?"
    )


# -- coupled coils ---------------------------------------------------------------------------------------------------


def test_coupled_coils_are_a_transformer_of_the_roots_of_their_inductances():
    # inductance goes with the square of the turns (any textbook)
    part = listed("L1 a 0 900m", "L2 b 0 100m", "K1 L1 L2 0.98").parts[0]

    assert part.kind == "transformer"
    assert [winding.turns for winding in part.windings] == [(3.0,), (1.0,)]
    assert part.params == {"primary": 0.9, "k": 0.98}


def test_halves_in_series_on_one_core_are_a_winding_with_a_centre_tap():
    part = listed("L1 c v 9", "L2 s1 t 1", "L3 t s2 1", "K1 L1 L2 L3 1").parts[0]

    assert [tuple(part.net(name) for name in winding.terminals) for winding in part.windings] == [
        ("c", "v"),
        ("s1", "t", "s2"),
    ]


def test_couplings_by_pairs_make_one_transformer():
    circuit = listed("L1 a 0 1", "L2 b 0 1", "L3 c 0 1", "K12 L1 L2 1", "K13 L1 L3 .9", "K23 L2 L3 1")

    assert [(part.ref, len(part.windings)) for part in circuit.parts] == [("K12", 3)]
    assert circuit.parts[0].params["k"] == 0.9


def test_two_windings_that_are_both_grounded_are_no_tapped_one():
    part = listed("L1 a 0 1", "L2 0 b 1", "K1 L1 L2 1").parts[0]

    assert [len(winding.turns) for winding in part.windings] == [1, 1]


def test_two_coils_in_series_alone_on_a_core_are_a_tapped_inductor():
    # L1 + L2 + 2 k sqrt(L1 L2) (any textbook)
    part = listed("V1 vcc 0 9", "L1 a vcc 1m", "L2 vcc b 1m", "K1 L1 L2 1").parts[0]

    assert (part.ref, part.kind, part.value) == ("L1", "inductor", pytest.approx(4e-3))


def test_a_coupling_of_what_is_no_inductor_is_an_error():
    assert errors("L1 a 0 1", "K1 L1 L9 1") == [(3, "unknown-coil")]


# -- sub-circuits ----------------------------------------------------------------------------------------------------

STAGE = (
    ".subckt stage in out params: rc=4.7k",
    "Q1 c in 0 QX",
    "R1 vcc c {rc}",
    "C1 c out 1u",
    ".model QX NPN(BF=77)",
    ".ends stage",
)


def test_a_sub_circuit_is_written_out_with_its_defaults_and_values():
    circuit = listed(*STAGE, ".global vcc", "V1 vcc 0 9", "X1 a b stage", "X2 b d STAGE rc=1k")

    assert parts(circuit)[1] == ("X1.R1", "resistor", ("vcc", "X1.c"), 4700.0)
    assert parts(circuit)[4] == ("X2.R1", "resistor", ("vcc", "X2.c"), 1e3)
    assert parts(circuit)[5][2] == ("X2.c", "d")


def test_a_model_within_a_sub_circuit_holds_there_alone():
    circuit = listed(*STAGE, "X1 a b stage", "Q9 a b 0 QX")

    assert circuit.part("X1.Q1").params["hFE"] == 77.0
    assert circuit.part("Q9").kind == "other"


def test_sub_circuits_within_sub_circuits_have_names_of_their_own():
    inner = (".subckt outer a", ".subckt half x", "R1 x 0 1k", ".ends", "X1 a half", ".ends", "X7 n outer")

    assert parts(listed(*inner)) == [("X7.X1.R1", "resistor", ("n", "gnd"), 1e3)]


def test_a_sub_circuit_that_uses_itself_is_an_error():
    assert (4, "too-deep") in errors("R1 a 0 1k", ".subckt loop a", "X1 a loop", ".ends", "X1 a loop")


def test_a_wrong_number_of_nodes_is_an_error():
    assert errors(*STAGE, "X1 a stage") == [(8, "node-count")]


def test_a_sub_circuit_that_is_not_there_is_a_part_of_which_nothing_is_known():
    circuit = listed("X1 a b 0 black_box", "R1 a 0 1k")

    assert parts(circuit)[0] == ("X1", "other", ("a", "b", "gnd"), None)
    assert "unknown-body" in codes(circuit, "warning")


def test_a_sub_circuit_with_sources_of_its_own_is_one_part():
    circuit = listed(".subckt box p q", "G1 p q p q 1m", "R1 p q 1k", ".ends", "X1 a b box", "R1 a 0 1k")

    assert parts(circuit)[0][:3] == ("X1", "other", ("a", "b"))
    assert "opaque-body" in codes(circuit, "warning")


def test_a_valve_is_known_by_its_number_and_the_names_of_its_nodes():
    circuit = listed(
        ".subckt 12AX7 P G K", "G1 P K VALUE={V(G,K)}", ".ends", "X1 anode grid cathode 12AX7", "R1 anode 0 1k"
    )
    part = circuit.parts[0]

    assert (part.kind, part.type_name) == ("triode", "12AX7")
    assert (part.net("a"), part.net("g"), part.net("k")) == ("anode", "grid", "cathode")


def test_a_valve_whose_nodes_are_numbered_is_not_guessed_at():
    circuit = listed(".subckt 12AX7 1 2 3", "G1 1 3 2 3 1m", ".ends", "X1 a g k 12AX7", "R1 a 0 1k")

    assert circuit.parts[0].kind == "other"


def test_a_comment_behind_numbered_nodes_names_them():
    circuit = listed(
        ".subckt 12AX7 1 2 3 ; A G K", "G1 1 3 2 3 1m", ".ends", "X1 p q r 12AX7",
        ".subckt u7 1 2 3 4 5 $ inp inn vcc vee out", "E1 5 0 1 2 1e5", ".ends", "X2 a b c d e u7", "R1 p 0 1k",
    )  # fmt: skip

    assert {t.name: t.net for t in circuit.part("X1").terminals} == {"a": "p", "g": "q", "k": "r"}
    assert (circuit.part("X2").kind, circuit.part("X2").net("out")) == ("opamp", "e")
    assert codes(circuit, "warning").count("by-custom") == 2


def test_a_comment_that_does_not_name_each_node_names_none():
    circuit = listed(".subckt 12AX7 1 2 3 ; A G", "G1 1 3 2 3 1m", ".ends", "X1 p q r 12AX7", "R1 p 0 1k")

    assert circuit.part("X1").kind == "other"


def test_a_valve_law_within_a_sub_circuit_gives_its_parameters():
    circuit = listed(
        ".subckt my_triode a g k params: MU=96 EX=1.4 KG1=1060 KP=600 KVB=300", "G1 a k VALUE={0}", ".ends",
        "X1 p q 0 my_triode", "R1 p 0 1k",
    )  # fmt: skip

    assert circuit.parts[0].params == {"MU": 96.0, "EX": 1.4, "KG1": 1060.0, "KP": 600.0, "KVB": 300.0}


def test_an_operational_amplifier_is_known_by_the_names_of_its_nodes():
    circuit = listed(
        ".subckt u9 inp inn vcc vee out", "E1 out 0 inp inn 1e5", ".ends", "X1 a b vp vn o u9", "R1 o b 1k"
    )

    assert {terminal.name: terminal.net for terminal in circuit.parts[0].terminals} == {
        "in+": "a",
        "in-": "b",
        "v+": "vp",
        "v-": "vn",
        "out": "o",
    }


def test_a_controlled_source_of_great_gain_is_an_operational_amplifier():
    part = listed("E1 o 0 p n 1e5", "R1 o n 1k").parts[0]

    assert (part.kind, part.params["GAIN"], part.net("in+"), part.net("in-")) == ("opamp", 1e5, "p", "n")


def test_what_has_no_counterpart_is_named():
    circuit = listed("B1 y 0 V=V(a)*2", "F1 a 0 V9 3", "R1 y a 1k")

    assert [row[1] for row in parts(circuit)] == ["other", "other", "resistor"]
    assert codes(circuit, "warning").count("opaque") == 2


# -- files -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "lib").mkdir()
    (tmp_path / "lib" / "Models.INC").write_text(".model QX NPN(BF=250)\n")
    (tmp_path / "lib" / "parts.lib").write_text(
        ".lib small\n.model DX D(IS=2u)\n.endl\n.lib big\n.model DX D(IS=1p)\n.endl\n"
    )
    return tmp_path


def load(folder, *lines):
    path = folder / "list.cir"
    path.write_text("\n".join(("a title", *lines)))
    return topo.load(path)


def test_an_included_file_is_found_in_any_case_of_letters(folder):
    assert load(folder, ".include 'LIB/models.inc'", "Q1 c b 0 QX").parts[0].params["hFE"] == 250.0


def test_one_entry_of_a_library_file_is_read(folder):
    assert load(folder, ".lib lib/parts.lib BIG", "D1 a 0 DX").parts[0].params["IS"] == pytest.approx(1e-12)


def test_a_missing_file_is_reported_and_the_rest_read(folder):
    circuit = load(folder, ".include nowhere.inc", "R1 a 0 1k")

    assert len(circuit.parts) == 1
    assert "file-missing" in codes(circuit, "warning")


@pytest.mark.parametrize(
    "name", ["../secret.inc", "/etc/hostname", "lib/../../secret.inc", "C:/x.inc", "..\\secret.inc"]
)
def test_no_file_outside_of_the_folder_is_read(folder, name):
    (folder.parent / "secret.inc").write_text("R9 a 0 9k\n")
    circuit = load(folder, f".include {name}", "R1 a 0 1k")

    assert [part.ref for part in circuit.parts] == ["R1"]


def test_a_symbolic_link_out_of_the_folder_is_not_followed(folder):
    (folder.parent / "secret.inc").write_text("R9 a 0 9k\n")
    (folder / "link.inc").symlink_to(folder.parent / "secret.inc")
    circuit = load(folder, ".include link.inc", "R1 a 0 1k")

    assert [part.ref for part in circuit.parts] == ["R1"]


def test_a_file_that_includes_itself_ends_with_a_word(folder):
    (folder / "round.inc").write_text(".include round.inc\nR9 a 0 1k\n")

    with pytest.raises(NetlistError):
        load(folder, ".include round.inc")


def test_an_old_one_byte_encoding_is_read(folder):
    path = folder / "old.cir"
    path.write_bytes("title\n* Verst\u00e4rker\nR1 a 0 1k\n.end\n".encode("latin-1"))

    assert len(topo.load(path).parts) == 1


# -- which language --------------------------------------------------------------------------------------------------


def test_a_netlist_with_every_colon_forgotten_is_no_element_list():
    assert not is_element_list("supply vcc 9V\nR1 47k vcc base\nR2 10k base gnd\n", "stage.net")


def test_a_list_is_told_by_its_comments_and_dot_lines():
    assert is_element_list("title\n* comment\nR1 a b 1k\n.end\n", "stage.net")
