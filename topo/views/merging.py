"""Making nodes one, and remembering by what."""

from __future__ import annotations

from topo.views.view import Joint


class Classes:
    """Nodes that merge: a disjoint-set forest whose classes are named by their least node."""

    def __init__(self, count: int) -> None:
        self._parent = list(range(count))
        self.joints: list[Joint] = []

    def find(self, node: int) -> int:
        """The least node of the class that a node is in."""
        parent = self._parent
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    def join(self, a: int, b: int, element: int, reason: str) -> None:
        """Make two nodes one; the joint is kept though they may be one already, for the shortest answer to why."""
        if a == b:
            return
        self.joints.append(Joint(a, b, element, reason))
        first, second = sorted((self.find(a), self.find(b)))
        self._parent[second] = first

    def same(self, a: int, b: int) -> bool:
        """Whether two nodes are one."""
        return self.find(a) == self.find(b)

    def table(self) -> tuple[int, ...]:
        """The class of each node."""
        return tuple(self.find(node) for node in range(len(self._parent)))
