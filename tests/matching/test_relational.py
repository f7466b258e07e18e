"""Queries on relations: the compiled loops give what trying everything gives."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from topo.matching.relational import Atom, Query, Relation, Walk, compiled, ordered

NUMBERS = st.integers(0, 3)
PAIRS = st.lists(st.tuples(NUMBERS, NUMBERS), max_size=8, unique=True)
ATOMS = st.lists(st.tuples(st.integers(0, 2), st.tuples(NUMBERS, NUMBERS)), min_size=1, max_size=4)


def answers(query: Query, relations: list[Relation], tells: str = "all"):
    return compiled(query, relations, tells)(relations)


def by_trying(query: Query, relations: list[Relation]) -> set[tuple[int, ...]]:
    names = sorted({name for atom in query.atoms for name in atom.variables})
    found = set()
    for values in product(range(4), repeat=len(names)):
        held = dict(zip(names, values, strict=True))
        rows = zip(query.atoms, relations, strict=True)
        if (
            all(tuple(held[name] for name in atom.variables) in relation.rows for atom, relation in rows)
            and all(held[a] != held[b] for a, b in query.differ)
            and all(held[a] < held[b] for a, b in query.less)
        ):
            found.add(tuple(held[name] for name in query.wanted))
    return found


@given(tables=st.tuples(PAIRS, PAIRS, PAIRS), chosen=ATOMS, data=st.data())
def test_compiled_loops_and_walks_give_what_trying_everything_gives(tables, chosen, data):
    atoms = tuple(Atom(number, variables) for number, (_, variables) in enumerate(chosen))
    names = sorted({name for atom in atoms for name in atom.variables})
    pairs = [(a, b) for a in names for b in names if a < b]
    differ = tuple(data.draw(st.lists(st.sampled_from(pairs), max_size=2))) if pairs else ()
    less = tuple(data.draw(st.lists(st.sampled_from(pairs), max_size=1))) if pairs else ()
    query = Query(atoms, differ, less, tuple(names))
    relations = [Relation(tables[table]) for table, _ in chosen]
    expected = by_trying(query, relations)
    found = answers(query, relations)
    assert len(found) == len(set(found))
    assert set(found) == expected
    assert answers(query, relations, "any") is bool(expected)
    assert Walk(query, ordered(query, relations)).has_answer(relations) is bool(expected)


def test_a_relation_that_its_first_column_tells_needs_no_loop():
    query = Query((Atom("a", (0, 1)), Atom("b", (1, 2))), wanted=(0, 2))
    relations = [Relation([(0, 1), (5, 7)]), Relation([(1, 8), (2, 9), (3, 9)], single=True)]
    plan = compiled(query, relations)
    assert plan.source.count("for ") == 1
    assert plan(relations) == [(0, 8)]


def test_the_smallest_relation_comes_first():
    query = Query((Atom("large", (0, 1)), Atom("small", (1, 2))), wanted=(0,))
    relations = [Relation([(n, n) for n in range(50)]), Relation([(7, 1)])]
    assert compiled(query, relations).steps[0].atom == 1


def test_what_would_nest_too_deeply_is_not_compiled():
    relations = [Relation([(1,), (2,)]) for _ in range(25)]
    assert compiled(Query(tuple(Atom(n, (n,)) for n in range(25))), relations) is None


def test_a_plan_is_compiled_once():
    query = Query((Atom("a", (0, 1)),), wanted=(0,))
    relations = [Relation([(0, 1)])]
    assert compiled(query, relations) is compiled(query, relations)
