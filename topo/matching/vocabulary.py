"""The words that expressions and texts of one pattern may use, and the check that they use no others."""

from __future__ import annotations

from dataclasses import dataclass, field

from topo.errors import InputError, Place
from topo.matching.checking import Checker
from topo.matching.expressions import parse_expression
from topo.matching.functions import TABLE
from topo.matching.functions.registry import Function
from topo.matching.kinds import terminals_of
from topo.matching.pattern import Role, Tree
from topo.matching.units import UNITS, Dimensions, UnitError, shown_unit, unit_of

CONSTANTS = {"VT": "V", "pi": "", "temperature": "K"}
BAND = ("low", "high", "mid")
# Functions that the evaluator answers itself, since they ask whether something is bound.
OWN = {
    "bound": Function("bound", "bound(role)", ("role",), 1, False, "truth", True, lambda *_: None),
    "same": Function("same", "same(role, role)", ("role", "role"), 2, False, "truth", True, lambda *_: None),
    "overlap": Function("overlap", "overlap(role, role)", ("role", "role"), 2, False, "truth", True, lambda *_: None),
    "different": Function(
        "different", "different(role, role)", ("role", "role"), 2, False, "truth", True, lambda *_: None
    ),
}
FUNCTIONS = TABLE | OWN
_UNIT_OF_KIND = {
    "resistor": "ohm",
    "thermistor": "ohm",
    "potentiometer": "ohm",
    "load": "ohm",
    "speaker": "ohm",
    "headphones": "ohm",
    "antenna": "ohm",
    "bead": "ohm",
    "capacitor": "F",
    "electrolytic": "F",
    "inductor": "H",
    "choke": "H",
    "zener": "V",
    "battery": "V",
    "regulator": "V",
}


@dataclass
class Vocabulary:
    """Roles, nets, figures (name to unit) and, for composites, components of a pattern."""

    roles: dict[str, Role] = field(default_factory=dict)
    nets: set[str] = field(default_factory=set)
    figures: dict[str, str] = field(default_factory=dict)
    components: set[str] = field(default_factory=set)

    def with_more(self, roles: dict[str, Role], nets: set[str]) -> Vocabulary:
        """The same with the roles and nets of a group of `not` added."""
        return Vocabulary(self.roles | roles, self.nets | nets, self.figures, self.components)

    def is_role(self, word: str) -> bool:
        """Whether a word names a role, or `component.role` in a composite."""
        if word in self.roles:
            return True
        component, dot, role = word.partition(".")
        return bool(dot) and component in self.components and role.replace("_", " ").replace(" ", "").isalnum()

    def expression(self, text: str, place: Place, checker: Checker) -> Tree | None:
        """The tree of an expression, None if there is a problem with it."""
        try:
            tree = parse_expression(text, place)
        except InputError as error:
            checker.take_over(error)
            return None
        before = len(checker.problems)
        self._check(tree, place, checker, "number")
        if len(checker.problems) == before:
            self.unit(tree, text, place, checker)
        return tree if len(checker.problems) == before else None

    def unit(self, tree: Tree, text: str, place: Place, checker: Checker) -> str | None:
        """The unit of an expression's result; None (and a problem) where unlike things are put together."""
        try:
            dimensions = unit_of(tree, self._dimensions)
        except UnitError as error:
            checker.complain(place, f"`{text}`: {error}.", expected="quantities of one unit", code="unit")
            return None
        return shown_unit(dimensions)

    # -- checks ---------------------------------------------------------------------------------------------------

    def _check(self, tree: Tree, place: Place, checker: Checker, wanted: str) -> None:
        kind = tree[0]
        if kind == "number":
            if wanted not in ("number", "any"):
                checker.complain(place, f"A number stands where a {wanted} is wanted.", code="expression")
        elif kind == "text":
            known = tree[1] in self.figures or tree[1] in self.roles or tree[1] in self.nets
            if wanted != "text" and not known:
                names = [*self.figures, *self.roles, *self.nets]
                checker.unknown(place, "figure, role or net", tree[1], names)
            elif wanted != "text":
                self._check_name(["name", tree[1]], place, checker, wanted)
        elif kind == "name":
            self._check_name(tree, place, checker, wanted)
        elif kind == "call":
            self._check_call(tree, place, checker)
        else:
            if wanted not in ("number", "any"):
                checker.complain(place, f"A formula stands where a {wanted} is wanted.", code="expression")
            for part in tree[1:]:
                self._check(part, place, checker, "number")

    def _check_call(self, tree: Tree, place: Place, checker: Checker) -> None:
        entry = FUNCTIONS.get(tree[1])
        if entry is None:
            checker.unknown(place, "function", tree[1], FUNCTIONS)
            return
        arguments = tree[2:]
        if not entry.takes(len(arguments)):
            message = f"`{tree[1]}` does not take {len(arguments)} arguments."
            checker.complain(place, message, expected=f"`{entry.form}`", code="expression")
            return
        for position, argument in enumerate(arguments):
            sort = entry.arguments[min(position, len(entry.arguments) - 1)]
            self._check(argument, place, checker, sort)

    def _check_name(self, tree: Tree, place: Place, checker: Checker, wanted: str) -> None:
        words = tree[1:]
        shown = ".".join(words)
        if words[0] == "band" and "band" not in self.roles and "band" not in self.nets:
            if len(words) != 2 or words[1] not in BAND:
                checker.complain(place, f"`{shown}` is not known.", expected="band.low, band.high or band.mid")
        elif words[0] in self.components:
            if len(words) not in (2, 3):
                checker.complain(place, f"`{shown}` names no role.", expected=f"`{words[0]}.role`", code="expression")
        elif words[0] in self.roles:
            self._check_role(words, shown, place, checker, wanted)
        elif words[0] in self.nets:
            if len(words) > 1:
                checker.complain(place, f"`{words[0]}` is a net and has no terminals.", code="expression")
            elif wanted not in ("net", "point", "any"):
                checker.complain(place, f"The net `{shown}` stands where a {wanted} is wanted.", code="expression")
        elif words[0] in self.figures or words[0] in CONSTANTS:
            if len(words) > 1 or wanted not in ("number", "any"):
                checker.complain(place, f"`{shown}` is a number, not a {wanted}.", code="expression")
        else:
            names = [*self.roles, *self.nets, *self.figures, *self.components, *CONSTANTS]
            checker.unknown(place, "role, net or figure", shown, names)

    def _check_role(self, words: list[str], shown: str, place: Place, checker: Checker, wanted: str) -> None:
        role = self.roles[words[0]]
        if len(words) == 1:
            if wanted in ("number", "text", "net", "terminal", "point"):
                hint = f"`value({shown})`" if wanted == "number" else f"`{shown}.ctl` or another terminal"
                message = f"The role `{shown}` stands where a {wanted} is wanted."
                checker.complain(place, message, expected=hint, code="expression")
            return
        allowed = [terminals_of(kind) for kind in role.kinds]
        known = None if None in allowed else {name for names in allowed if names for name in names}
        if len(words) > 2 or (known is not None and words[1] not in known):
            checker.unknown(place, f"terminal of `{role.name}`", ".".join(words[1:]), known or ())
        elif wanted in ("number", "text", "role", "device", "winding", "net"):
            checker.complain(place, f"The terminal `{shown}` stands where a {wanted} is wanted.", code="expression")

    # -- units ----------------------------------------------------------------------------------------------------

    def _dimensions(self, tree: Tree) -> Dimensions | None:
        if tree[0] == "call":
            entry = FUNCTIONS[tree[1]]
            if entry.unit in ("truth", "words"):
                return None
            if entry.unit == "as argument":
                return unit_of(tree[2], self._dimensions) if len(tree) > 2 else None
            if entry.unit == "value":
                return self._value_dimensions(tree[2])
            if tree[1] == "sqrt":
                return None
            return UNITS[entry.unit]
        name = tree[1]
        if name in self.figures:
            return UNITS.get(self.figures[name])
        if tree[0] == "name" and name == "band":
            return UNITS["Hz"]
        return UNITS[CONSTANTS[name]] if name in CONSTANTS else None

    def _value_dimensions(self, argument: Tree) -> Dimensions | None:
        role = self.roles.get(argument[1]) if argument[0] in ("name", "text") else None
        units = {_UNIT_OF_KIND.get(kind) for kind in role.kinds} if role else set()
        unit = next(iter(units)) if len(units) == 1 else None
        return UNITS[unit] if unit else None
