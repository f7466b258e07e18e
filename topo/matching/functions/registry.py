"""The table of functions that expressions may call: what they take, and the unit of what they give."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

# Sorts of argument. "point" is a net or a terminal; "role" any role; "any" whatever the function understands.
SORTS = ("number", "text", "role", "device", "winding", "net", "terminal", "point", "any")


@dataclass(frozen=True)
class Function:
    """A function of the expression language.

    `form` is its head as an author writes it; `arguments` are sorts, of which `needed` must be given; with
    `repeats` the last may be given again. `unit` is that of the result: a unit, "" for a plain number, "truth",
    "words", "as argument", or "value" (the unit of the role's kind). With `whole`, a role that binds many is passed as
    one list and not member by member.
    """

    name: str
    form: str
    arguments: tuple[str, ...]
    needed: int
    repeats: bool
    unit: str
    whole: bool
    call: Callable[..., Any]

    def takes(self, count: int) -> bool:
        """Whether so many arguments are right."""
        return self.needed <= count and (self.repeats or count <= len(self.arguments))


TABLE: dict[str, Function] = {}


def function(form: str, unit: str = "truth", whole: bool = False) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Enters a function in the table; `form` is such as `voltage(point, point?)` or `sum(number...)`."""
    name, _, rest = form.rstrip(")").partition("(")
    words = [word.strip() for word in rest.split(",") if word.strip()]
    repeats = bool(words) and words[-1].endswith("...")
    sorts = tuple(word.rstrip(".?") for word in words)
    needed = sum(1 for word in words if not word.endswith("?"))
    unknown = [sort for sort in sorts if sort not in SORTS]
    if unknown or name in TABLE:
        raise ValueError(f"{form}: {unknown or 'entered twice'}")

    def enter(call: Callable[..., Any]) -> Callable[..., Any]:
        TABLE[name] = Function(name, form, sorts, needed, repeats, unit, whole, call)
        return call

    return enter
