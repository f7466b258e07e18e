"""A pattern as compiled from its file: roles, nets, joins, conditions, figures. Plain values that know no search."""

from __future__ import annotations

from typing import Any, NamedTuple

# An expression's tree: nested lists, see `expressions.parse_expression`.
Tree = list[Any]


class Role(NamedTuple):
    """A role of a pattern: what kind of part may be bound, and how it counts.

    `word` is what texts call it. `make` is "", "single", "compound" or the slug of a compound's pattern.
    `tapped` is None where it does not matter. `apart` is the terminal on which members of a
    `many` role have to be on different nets, or "".
    """

    name: str
    kinds: tuple[str, ...]
    word: str = ""
    optional: bool = False
    many: bool = False
    least: int = 1
    witness: bool = False
    when: Tree | None = None
    when_text: str = ""
    make: str = ""
    tapped: bool | None = None
    apart: str = ""


class Net(NamedTuple):
    """A net name: `sort` is "signal", "rail", "ground", "rail or ground", "zero" or "any"."""

    name: str
    sort: str = "signal"
    held: bool = False


class Spot(NamedTuple):
    """A node of a join: `sort` is "terminal" (of role `name`), "net" or "literal" (`0`, `gnd`, `rail`, `supply`)."""

    sort: str
    name: str
    terminal: str = ""


class Link(NamedTuple):
    """How two spots are joined.

    `sort` is "=" (one net), "~" (through a lead), "-" (through role `role`) or "-()" (directly or through it).
    `direction` is ">" where the role's anode is at the first spot, "<" where it is at the second, else "".
    `limit` is the largest drop of an emitter or collector lead in volts, None for the usual one.
    """

    sort: str
    role: str = ""
    direction: str = ""
    limit: float | None = None


class Join(NamedTuple):
    """A chain of spots and links in one view; `text` is as written, `line` is where."""

    view: str
    text: str
    spots: tuple[Spot, ...]
    links: tuple[Link, ...]
    line: int = 0


class Condition(NamedTuple):
    """A condition: text as written, its tree, and the names of roles and nets that it speaks of."""

    text: str
    tree: Tree
    names: tuple[str, ...]


class Exclusion(NamedTuple):
    """A group of `not`: the match falls if all of its joins and conditions hold."""

    words: str
    roles: tuple[Role, ...]
    nets: tuple[Net, ...]
    joins: tuple[Join, ...]
    where: tuple[Condition, ...]


class Shape(NamedTuple):
    """What has to be there: the pattern's own roles, nets, joins and conditions, with those of one variant added."""

    variant: str
    roles: tuple[Role, ...]
    nets: tuple[Net, ...]
    joins: tuple[Join, ...]
    where: tuple[Condition, ...]
    exclusions: tuple[Exclusion, ...]


class Component(NamedTuple):
    """A component of a composite: the slugs of which a kept claim may be one."""

    name: str
    slugs: tuple[str, ...]
    optional: bool = False


class Figure(NamedTuple):
    """A number that the pattern computes: name, expression, unit, and the names that it speaks of."""

    name: str
    tree: Tree
    unit: str
    text: str = ""
    names: tuple[str, ...] = ()


class ReadingRule(NamedTuple):
    """How claims of the pattern are resolved; see the pattern language's `reading`.

    `restless` says of an oscillator that it never stays at the operating point that its equations give. `section` is
    the section of a receiver that its claims make, "" for none. `converts` are two nets, empty for none: what comes in
    at the first in one band goes on from the second in another. `hands_on` are two nets, empty for none: what comes in
    at the first goes on from the second in the same band, though no current between them is computed.
    """

    claim: str = "beside"
    rank: int = 0
    stage: tuple[str, ...] = ()
    sort: str = "stage"
    supposes: tuple[tuple[str, tuple[str, ...]], ...] = ()
    restless: bool = False
    section: str = ""
    converts: tuple[str, ...] = ()
    hands_on: tuple[str, ...] = ()


class Pattern(NamedTuple):
    """A pattern without its texts and examples, which `Library.texts` and `Library.examples` read when asked for.

    `acts_as` maps `polarity`, `ctl`, `emt`, `col` to a role or `role.terminal`, empty for what is no compound.
    `omit` maps a detail to {role: reason}. `kin` says what patterns have in common that are one circuit under several
    names, in other bands or with other devices ("" for a pattern of its own). `coincide` and `distinct` are pairs of
    net names.
    """

    slug: str
    name: str
    names: dict[str, str]
    also: tuple[str, ...]
    family: str
    purpose: str
    source: str
    reading: ReadingRule
    shapes: tuple[Shape, ...]
    symmetry: tuple[tuple[str, ...], ...] = ()
    turns_over: bool = False
    acts_as: dict[str, str] = {}  # noqa: RUF012 - never changed, a NamedTuple's default
    made_of: tuple[Component, ...] = ()
    where: tuple[Condition, ...] = ()
    figures: tuple[Figure, ...] = ()
    cautions: tuple[str, ...] = ()
    omit: dict[str, dict[str, str]] = {}  # noqa: RUF012 - as above
    drawing: dict[str, Any] = {}  # noqa: RUF012 - as above
    coincide: tuple[tuple[str, str], ...] = ()
    distinct: tuple[tuple[str, str], ...] = ()
    near_miss: str = ""
    file: str = ""
    kin: str = ""

    @property
    def roles(self) -> dict[str, Role]:
        """All roles of all variants by name."""
        return {role.name: role for shape in self.shapes for role in shape.roles}

    def roles_of(self, variant: str) -> dict[str, Role]:
        """The roles by name as one variant declares them; those of other variants where it does not."""
        own = {role.name: role for shape in self.shapes if shape.variant == variant for role in shape.roles}
        return self.roles | own

    @property
    def nets(self) -> dict[str, Net]:
        """All net names of all variants."""
        return {net.name: net for shape in self.shapes for net in shape.nets}

    def shown_name(self, family: str, variant: str = "") -> str:
        """The pattern's name for one of its variants, or for a device family ("bipolar", "fet", "valve")."""
        return self.names.get(variant) or self.names.get(family, self.name)
