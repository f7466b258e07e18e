"""What a name or a formula is worth where it stands: parameters of the list, of sub-circuits and of their uses."""

from __future__ import annotations

from collections.abc import Mapping

from topo.netlist.elements.bodies import Body
from topo.netlist.elements.figures import Figure, figure
from topo.netlist.elements.formulas import CONSTANTS, FormulaError, evaluate
from topo.netlist.syntax import Word

DEEPEST_NAMES = 100


class Scope:
    """One use of a body: the values given to it, and the scope of what uses it.

    `prefix` is what its names start with (`X1.`), `nodes` maps its case-folded node names to net names outside.
    """

    def __init__(
        self,
        body: Body,
        outer: Scope | None = None,
        given: Mapping[str, Word] | None = None,
        prefix: str = "",
        nodes: Mapping[str, str] | None = None,
        temperature: float = 27.0,
    ) -> None:
        self.body = body
        self.outer = outer
        self.given = given or {}
        self.prefix = prefix
        self.nodes = nodes or {}
        self.temperature = temperature
        self.depth: int = 0 if outer is None else outer.depth + 1
        self._known: dict[str, float] = {}

    def value(self, word: Word) -> float:
        """The value of a word: a figure, a name, or a formula in braces or quotes.

        Raises:
            FormulaError: it has none.
        """
        return self.figure(word).value

    def figure(self, word: Word) -> Figure:
        """The value of a word, and whether a letter was its decimal point; raises FormulaError if it has none."""
        return figure(word.text) or Figure(
            evaluate(word.text, lambda name: self._of_name(name, ()), self.body.function)
        )

    def is_name(self, text: str) -> bool:
        """Whether a parameter of that name is known here."""
        return self._home(text.casefold()) is not None

    def _home(self, name: str) -> tuple[Scope, Word, Scope] | None:
        """The scope in which a name is known, its word, and the scope in which that word is meant."""
        scope: Scope | None = self
        while scope is not None:
            if scope.outer is not None and name in scope.given:
                return scope, scope.given[name], scope.outer
            if name in scope.body.params:
                return scope, scope.body.params[name][0], scope
            if name in scope.body.defaults:
                return scope, scope.body.defaults[name], scope
            body = scope.body.outer
            scope = scope.outer
            while scope is not None and body is not None and scope.body is not body and scope.outer is not None:
                scope = scope.outer  # names are looked up where the sub-circuit is written, not where it is used
        return None

    def _of_name(self, name: str, open_names: tuple[tuple[int, str], ...]) -> float:
        folded = name.casefold()
        home = self._home(folded)
        if home is None:
            if folded in ("temp", "temper"):
                return self.temperature
            if folded in CONSTANTS:
                return CONSTANTS[folded]
            raise FormulaError(f"`{name}` is not known")
        scope, word, meant = home
        if folded in scope._known:
            return scope._known[folded]
        mark = (id(scope), folded)
        if mark in open_names:
            raise FormulaError(f"`{name}` is given by way of itself")
        if len(open_names) >= DEEPEST_NAMES:
            raise FormulaError("too many names stand for one another")
        found = figure(word.text)
        if found is not None:
            value = found.value
        else:
            value = evaluate(word.text, lambda other: meant._of_name(other, (*open_names, mark)), meant.body.function)
        scope._known[folded] = value
        return value
