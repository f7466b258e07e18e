"""Remembers how far a search came and by what it failed, for authors of patterns."""

from __future__ import annotations

from topo.matching.index import VIEW_NAMES
from topo.matching.pattern import Role
from topo.matching.planning import Step
from topo.matching.state import State

# Further than any step: all that is required was found.
COMPLETE = 1_000


class Trace:
    """The best partial match of a search: how many steps it passed, the words for what failed, the state before it."""

    def __init__(self) -> None:
        self.reach = -1
        self.words = ""
        self.state: State | None = None

    def failed(self, position: int, step: Step, state: State) -> None:
        """No way led on from a state at a step."""
        if position > self.reach:
            self.reach, self.words, self.state = position, _words(step), state

    def refused(self, words: str, state: State) -> None:
        """All that is required was found, and refused for a reason."""
        if self.reach < COMPLETE:
            self.reach, self.words, self.state = COMPLETE, words, state

    def lacks(self, role: Role) -> None:
        """Nothing can be bound to a role at all."""
        if self.reach < 0:
            when = f" with `{role.when_text}`" if role.when_text else ""
            self.words = f"there is no {' or '.join(role.kinds)} for the role `{role.name}`{when}"


def _words(step: Step) -> str:
    if step.condition is not None:
        return f"the condition `{step.condition.text}` does not hold"
    if step.constraint is not None:
        return f"the join `{step.constraint.text}` ({VIEW_NAMES[step.constraint.view]}) does not hold"
    joins = ", ".join(dict.fromkeys(f"`{item.text}` ({VIEW_NAMES[item.view]})" for item in step.along))
    return f"nothing fits the role `{step.role}`" + (f" by {joins}" if joins else "")
