"""Improvement takes neighbours up together, and never makes a layout worse."""

import pytest
from generated import netlist

import topo
from topo.drawing.schematic.fitting import Fitter
from topo.drawing.schematic.improving import improve, worth_of
from topo.drawing.schematic.items import items_of, rails_of
from topo.drawing.schematic.layout import Layout, Taste
from topo.drawing.schematic.ordering import clusters_of, guessed_path, path_ranks
from topo.drawing.schematic.placing import place_all


def placed(seed):
    circuit = topo.loads(netlist(seed, most=16))
    rails = rails_of(circuit)
    items = items_of(circuit, rails, {})
    ranks = path_ranks(guessed_path(items, rails, [port.net for port in circuit.inputs]), items)
    clusters = clusters_of(items, rails, [], ranks)
    counts: dict[str, int] = {}
    for item in items:
        for net in item.nets.values():
            if net not in rails:
                counts[net] = counts.get(net, 0) + 1
    layout = Layout(Fitter(rails), counts, {}, Taste())
    return layout, clusters, place_all(layout, clusters, passes=0)


@pytest.mark.parametrize("seed", [1, 2, 5])
def test_a_layout_is_worth_no_less_after_improvement(seed):
    layout, clusters, where = placed(seed)
    before = worth_of(layout, clusters, where)
    improve(layout, clusters, where, 10)
    assert worth_of(layout, clusters, where) <= before
    assert sorted(id(place) for places in where.values() for place in places) == sorted(map(id, layout.placed))


def test_no_steps_change_nothing():
    layout, clusters, where = placed(1)
    before = {key: [(place.x, place.y) for place in places] for key, places in where.items()}
    improve(layout, clusters, where, 0)
    assert {key: [(place.x, place.y) for place in places] for key, places in where.items()} == before


def test_what_was_saved_is_put_back_as_it_was():
    layout, _, where = placed(2)
    wires = {net: layout.board.saved(net) for net in layout.board.of_net}
    saved, ink = layout.saved(), dict(layout.board.ink)
    for places in list(where.values())[:3]:
        layout.remove(places)
    layout.restore(saved)
    assert {net: layout.board.saved(net) for net in layout.board.of_net} == wires
    assert layout.board.ink == ink
