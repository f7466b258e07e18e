"""Conjunctive queries on integer relations, compiled to nested loops.

Takes relations (rows of whole numbers) and a query (relations that share variables, variables that must differ or come
in order); gives every row of variables for which all of them hold, or whether there is one. It must know nothing of
circuits: what a number stands for is its caller's business.
"""

from topo.matching.relational.compiling import Plan, compiled
from topo.matching.relational.ordering import Step, ordered
from topo.matching.relational.query import Atom, Query
from topo.matching.relational.relation import ColumnRelation, Relation
from topo.matching.relational.walking import Walk

__all__ = ["Atom", "ColumnRelation", "Plan", "Query", "Relation", "Step", "Walk", "compiled", "ordered"]
