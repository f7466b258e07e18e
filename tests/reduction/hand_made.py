"""Readings typed by hand: a circuit with blocks that a test says, and patterns of which only `omit` is filled."""

from types import SimpleNamespace

import topo
from topo.analysis import operating_point
from topo.graph import normalise
from topo.matching.match import Match
from topo.reading.reading import Block, Reading
from topo.views import views


def reading(text, *blocks):
    """A reading of a netlist. Each block is (slug, sort, {role: designators})."""
    circuit = topo.loads(text)
    graph = normalise(circuit)
    made = tuple(_block(number, *block) for number, block in enumerate(blocks, 1))
    claimed = {ref for block in made for ref in block.parts}
    return Reading(
        circuit=circuit,
        views=views(graph, operating_point(graph)),
        blocks=made,
        path=(),
        classes=(),
        inputs=circuit.inputs,
        outputs=circuit.outputs,
        ports_inferred=False,
        summary="",
        not_recognised=tuple(part.ref for part in circuit.parts if part.ref not in claimed),
    )


def _block(number, slug, sort, roles):
    roles = {role: tuple(refs.split()) for role, refs in roles.items()}
    parts = tuple(ref for refs in roles.values() for ref in refs)
    devices = tuple(ref for ref in parts if ref.startswith("Q"))
    match = Match(slug, roles, {}, {}, frozenset(parts))
    return Block(number, slug, slug.replace("-", " "), sort, roles, parts, devices, (), (), (), (), match)


def library(**omit):
    """Patterns by slug (underscores for hyphens), each with its `omit`; a role's word is its name."""
    made = {}
    for slug, said in omit.items():
        made[slug.replace("_", "-")] = SimpleNamespace(omit=said, roles={})
    return made
