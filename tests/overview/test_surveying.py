"""A large circuit's survey says what reading it as a whole would say."""

from __future__ import annotations

import json
from importlib import resources

import jsonschema
import pytest

from tests.bench.amplifiers import PARTS_A_CHANNEL, text
from topo.errors import CircuitError
from topo.netlist import loads
from topo.overview import is_large, piece_with, survey
from topo.reading import read
from topo.report.overview import overview_data


@pytest.fixture(scope="module")
def alike():
    return survey(loads(text(30)))


def test_the_blocks_of_varied_channels_are_those_that_the_whole_has_within_a_channel():
    circuit = loads(text(3, varied=True, seed=5))
    found = survey(circuit)
    blocks = [block for piece in range(len(found.pieces)) for block in found.blocks_of(piece)]
    piece_of = {ref: piece for piece in range(len(found.pieces)) for ref in found.pieces.refs(piece)}
    whole = [(block.pattern, block.parts) for block in read(circuit).blocks]
    within = [(name, refs) for name, refs in whole if len({piece_of.get(ref) for ref in refs} - {None}) == 1]
    assert len(within) > 60
    assert sorted((name, sorted(refs)) for name, refs in blocks) == sorted(
        (name, sorted(refs)) for name, refs in within
    )


def test_alike_channels_are_read_once_and_counted(alike):
    assert len(alike.shapes) == 1
    assert alike.read == 30
    assert alike.summaries[0][1] == 30
    one = {kind.pattern: kind.count for kind in alike.shapes[0].kinds}
    common = {kind.pattern: kind.count for kind in alike.common.kinds}
    assert {kind.pattern: kind.count for kind in alike.kinds} == {
        name: 30 * one.get(name, 0) + common.get(name, 0) for name in {**one, **common}
    }


def test_the_blocks_of_a_piece_name_its_own_parts(alike):
    for _, refs in alike.blocks_of(16):
        assert all(ref.endswith("_17") for ref in refs)


def test_progress_is_told_up_to_the_last_piece():
    told = []
    survey(loads(text(4)), progress=lambda done, whole: told.append((done, whole)))
    assert told == [(4, 4)]


def test_circuits_of_a_thousand_parts_and_more_are_large():
    assert not is_large(loads(text(1)))
    assert is_large(loads(text(1000 // PARTS_A_CHANNEL + 1)))


def test_the_piece_with_a_part_is_cut_out():
    circuit = piece_with(loads(text(3)), "q1_2")
    assert len(circuit.parts) == PARTS_A_CHANNEL - 1
    assert all(part.ref.endswith("_2") for part in circuit.parts)


def test_a_part_that_is_not_there_has_no_piece():
    with pytest.raises(CircuitError, match="no part Q99"):
        piece_with(loads(text(1)), "Q99")


def test_a_piece_that_is_too_large_is_told_and_the_rest_is_read():
    rows = "\n".join(f"R{n}9 1k : x{n} x{n + 1}" for n in range(1, 1602))
    found = survey(loads(f"{text(2)}\n{rows}\n"))
    assert found.read == 2
    assert [shape.parts for shape in found.shapes if shape.refused] == [1601]


def test_the_overview_as_json_holds_to_its_published_schema(alike):
    schema = json.loads((resources.files("topo.report") / "schema" / "overview.json").read_text(encoding="utf-8"))

    jsonschema.validate(overview_data(alike), schema)
