"""Each form turned into each other and back: the same parts on the same nets."""

import json
from pathlib import Path

import jsonschema
import pytest
import yaml
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

import topo
from topo.cli import main
from topo.errors import NetlistError
from topo.netlist.elements import write_elements
from topo.netlist.json_form import from_json, to_json

ROOT = Path(__file__).resolve().parents[3]
SAMPLES = sorted((ROOT / "samples").glob("*.net"))
LISTS = [path for path in sorted((Path(__file__).parent / "lists").glob("*.cir")) if path.stem != "mistakes"]


def shape(circuit, ground=None):
    """What must not change: parts with all that is said of them, their nets, supplies and ports. Ground is `gnd`."""

    def net(name):
        return "gnd" if name == circuit.ground else name

    return {
        "parts": [
            (
                *(
                    part.ref,
                    part.kind,
                    part.value,
                    part.type_name,
                    dict(part.params),
                    dict(part.settings),
                    dict(part.ratings),
                ),
                part.windings,
                part.section,
                tuple((terminal.name, net(terminal.net)) for terminal in part.terminals),
            )
            for part in circuit.parts
        ],
        "supplies": sorted((net(supply.net), supply.volts, supply.resistance) for supply in circuit.supplies),
        "ports": [[(net(p.net), net(p.reference)) for p in ports] for ports in (circuit.inputs, circuit.outputs)],
        "bands": dict(circuit.bands),
        "temperature": circuit.temperature,
    }


def examples():
    """The first circuit of every pattern file."""
    for path in sorted((ROOT / "patterns").glob("*/*.yaml")):
        yield path.stem, path


def first_netlist(path):
    with path.open(encoding="utf-8") as stream:
        return yaml.load(stream, Loader=yaml.CSafeLoader)["examples"]["match"][0]["netlist"]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_a_sample_comes_back_from_an_element_list_and_from_json_as_it_was(path):
    circuit = topo.load(path)

    assert shape(topo.loads(write_elements(circuit), "back.cir")) == shape(circuit)
    assert shape(from_json(to_json(circuit))) == shape(circuit)


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_a_list_comes_back_from_each_form_as_it_was(path):
    circuit = topo.load(path)

    assert shape(topo.loads(write_elements(circuit), "back.cir")) == shape(circuit)
    assert shape(topo.loads(topo.write(circuit), "back.net")) == shape(circuit)
    assert shape(from_json(to_json(circuit))) == shape(circuit)


@pytest.mark.parametrize("path", [path for _, path in examples()], ids=lambda path: path.stem)
def test_a_pattern_s_example_comes_back_as_it_was(path):
    circuit = topo.loads(first_netlist(path))

    back = topo.loads(write_elements(circuit), "back.cir")
    assert {name: shape(back)[name] for name in ("parts", "supplies")} == {
        name: shape(circuit)[name] for name in ("parts", "supplies")
    }
    assert shape(from_json(to_json(circuit))) == shape(circuit)


NETS = st.sampled_from(
    ["gnd", "vcc", "+9V", "in", "out", "n-1", "a.b", "$x", "base", "r1", "Ω", "x'y", "k{", "c;d", "//e"]
)
OHMS = st.floats(0.1, 1e9)


@st.composite
def netlists(draw):
    """A netlist of parts of many kinds with odd names and values."""
    lines = ["supply vcc 9V"]
    for number in range(draw(st.integers(1, 8))):
        a, b, c, d = (draw(NETS) for _ in range(4))
        value = repr(draw(OHMS))
        lines.append(
            draw(
                st.sampled_from(
                    [
                        f"R{number} {value} : {a} {b}",
                        f"C{number} electrolytic 4u7 16V : {a} {b}",
                        f"Q{number} pnp germanium hFE=77 : b={a} c={b} e={c}",
                        f"Q{number} nmos VTH=2V K=0.1 : g={a} d={b} s={c}",
                        f"D{number} zener 5V6 : {a} {b}",
                        f"T{number} transformer 3:1+1 primary=2H : {a} {b} | {c} {d} {a}",
                        f"VR{number} 10k at 30% : {a} {b} {c}",
                        f"V{number} triode MU=100 : a={a} g={b} k={c}",
                        f"U{number} opamp : in+={a} in-={b} out={c} v+={d} v-=gnd",
                        f"LS{number} 8 : {a} {b}",
                        f"S{number} open : {a} {b}",
                        f"K{number} relay at rest 100 : {a} {b} | {c} {d} x",
                        f"IC{number} ic : 1={a} 2={b} 14={c}",
                        f"L{number} 10m rdc=3ohm : {a} {b}",
                        f"BT{number} 3V R=1ohm : {a} {b}",
                        f"Y{number} crystal 9MHz : {a} {b}",
                        f"R{number} ? : {a} {b}",
                    ]
                )
            )
        )
    return "\n".join(lines)


@given(netlists())
def test_any_netlist_comes_back_on_the_same_nets(text):
    try:
        circuit = topo.loads(text)
    except NetlistError:
        return
    back = topo.loads(write_elements(circuit), "back.cir")

    assert connections(back) == connections(circuit)
    assert shape(from_json(to_json(circuit))) == shape(circuit)


def connections(circuit):
    """Which terminals are one net, whatever its name; each part's kind and value."""
    nets: dict[str, list[str]] = {}
    for part in circuit.parts:
        for terminal in part.terminals:
            nets.setdefault(terminal.net, []).append(f"{part.ref}.{terminal.name}")
    return sorted(map(sorted, nets.values())), [(part.ref, part.kind, part.value) for part in circuit.parts]


def test_the_command_writes_each_form(tmp_path):
    path = tmp_path / "stage.net"
    path.write_text("supply vcc 9V\nR1 1k : vcc a\nLS1 8 : a gnd\n")
    run = CliRunner().invoke

    elements = run(main, ["convert", str(path), "--to", "elements"]).stdout
    assert "*topo LS1 speaker 8 : a gnd = RLS1" in elements.splitlines()
    (tmp_path / "stage.cir").write_text(elements)
    assert "LS1   speaker 8               : a gnd" in run(main, ["convert", str(tmp_path / "stage.cir")]).stdout
    written = run(main, ["convert", str(path), "--to", "json", "-o", str(tmp_path / "stage.json")])
    assert (written.exit_code, written.stdout) == (0, "")
    assert run(main, ["check", str(tmp_path / "stage.json")]).exit_code == 0


def test_the_list_that_the_readme_shows_is_what_it_is_said_to_be():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    text = readme[readme.index("Microphone stage\n") :]
    circuit = topo.loads(text[: text.index("```")], "stage.cir")

    assert [(supply.net, supply.volts) for supply in circuit.supplies] == [("vcc", 9.0)]
    assert [[port.net for port in ports] for ports in (circuit.inputs, circuit.outputs)] == [["mic"], ["out"]]
    assert (circuit.part("R1").value, circuit.part("R4").value) == (100e3, 470.0)
    assert not [problem for problem in circuit.warnings if problem.severity != "note"]


def test_a_kept_part_whose_elements_were_changed_gives_way_to_them():
    text = "t\nV1 vcc 0 9\n*topo LS1 speaker 8 : a gnd = RLS1\nRLS1 b 0 4\nR1 vcc b 1k\n"
    circuit = topo.loads(text, "changed.cir")

    assert [(part.ref, part.kind) for part in circuit.parts] == [("RLS1", "resistor"), ("R1", "resistor")]
    assert any(problem.code == "kept-differs" for problem in circuit.warnings)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "no JSON"),
        ("{}", 'form: "topo circuit"'),
        ('{"form": "topo circuit", "parts": 3}', "parts: a list"),
        ('{"form": "topo circuit", "parts": [{"ref": "R 1", "kind": "resistor"}]}', r"parts\[0\].ref: a name"),
        ('{"form": "topo circuit", "parts": [{"ref": "R1", "kind": "thing"}]}', r"parts\[0\].kind: a kind"),
        ('{"form": "topo circuit", "temperature": NaN}', "no JSON"),
        ('{"form": "topo circuit", "temperature": 1e999}', "temperature: a number"),
        ("{" + '"a":[' * 5000, "no JSON|nested"),
    ],
)
def test_json_that_is_no_circuit_is_told_by_field(text, said):
    with pytest.raises(NetlistError, match=said):
        topo.loads(text)


def test_a_line_feed_within_a_json_name_cannot_add_a_part():
    text = (
        '{"form": "topo circuit", "title": "x\\nR9 1k : a b", "parts": [{"ref": "R1", "kind": "resistor", "terminals":'
    )
    text += ' [{"name": "1", "net": "a"}, {"name": "2", "net": "b"}]}]}'

    assert [part.ref for part in topo.loads(text).parts] == ["R1"]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_what_is_written_as_json_holds_to_its_published_schema(path):
    schema = json.loads((ROOT / "topo" / "report" / "schema" / "circuit.json").read_text(encoding="utf-8"))

    jsonschema.validate(json.loads(to_json(topo.load(path))), schema)


def test_a_kept_part_that_would_be_the_second_of_its_designator_gives_way():
    text = "t\nV1 b 0 9\nC1 a 0 1u\n*topo C1 npn : b=b c=a e=gnd = Q7\nQ7 a b 0 N\n.model N NPN\n"
    circuit = topo.loads(text, "twice.cir")

    assert [(part.ref, part.kind) for part in circuit.parts] == [("C1", "capacitor"), ("Q7", "npn")]
    assert any(problem.code == "kept-differs" for problem in circuit.warnings)


def test_a_kept_part_may_bear_the_name_of_an_element_that_stands_for_another():
    circuit = topo.loads("supply vcc 9V\nLS1 speaker 8 : a gnd\nRLS1 1k : vcc a\n")
    again = topo.loads(write_elements(circuit), "both.cir")

    assert [(part.ref, part.kind) for part in again.parts] == [("LS1", "speaker"), ("RLS1", "resistor")]


def test_a_supply_on_the_ground_itself_makes_no_source():
    circuit = topo.loads("supply gnd 9V\nR1 1k : a gnd\n")

    assert [part.ref for part in topo.loads(write_elements(circuit), "list.cir").parts] == ["R1"]
