"""The part of a pattern file that says what has to be there: roles, nets, joins, conditions and exclusions."""

from __future__ import annotations

from collections.abc import Mapping

from topo.errors import InputError, Place
from topo.matching.checking import Checker, inside
from topo.matching.expressions import names_in
from topo.matching.joins import LITERALS, parse_join
from topo.matching.kinds import DEVICE_GROUPS, ROLE_KINDS, WHOLE, is_directed, terminals_of
from topo.matching.pattern import Condition, Exclusion, Join, Net, Role, Shape, Spot
from topo.matching.vocabulary import Vocabulary
from topo.matching.yaml_source import Entry

ROLE_KEYS = ("kind", "is", "optional", "many", "least", "witness", "when", "make", "tapped", "apart")
NET_SORTS = ("signal", "rail", "ground", "rail or ground", "zero", "any")
VIEWS = ("wire", "dc", "signal")


def read_shape(
    variant: str, keys: Mapping[str, Entry], base: Shape | None, vocabulary: Vocabulary, checker: Checker
) -> Shape:
    """The roles, nets, joins, conditions and exclusions of a pattern, or of a variant together with its base."""
    roles = {role.name: role for role in base.roles} if base else {}
    nets = {net.name: net for net in base.nets} if base else {}
    roles.update(read_roles(keys.get("roles"), vocabulary, checker))
    nets.update(read_nets(keys.get("nets"), roles, checker))
    own = vocabulary.with_more(roles, set(nets))
    conditions, roles = _read_whens(keys.get("roles"), roles, own, checker)
    joins = (*(base.joins if base else ()), *read_joins(keys.get("joins"), roles, nets, checker))
    where = (*(base.where if base else ()), *conditions, *read_conditions(keys.get("where"), own, checker))
    exclusions = (*(base.exclusions if base else ()), *_read_exclusions(keys.get("not"), roles, nets, own, checker))
    used = _roles_in_optional_links(joins)
    marked = tuple(role._replace(optional=True) if role.name in used else role for role in roles.values())
    shape = Shape(variant, marked, tuple(nets.values()), tuple(joins), tuple(where), tuple(exclusions))
    return shape


def _read_whens(
    entry: Entry | None, roles: dict[str, Role], vocabulary: Vocabulary, checker: Checker
) -> tuple[list[Condition], dict[str, Role]]:
    """The `when` of each role: kept with the role if it speaks of that role alone, else a condition of the whole."""
    conditions: list[Condition] = []
    found = dict(roles)
    for name, _, value in entry.pairs if entry is not None else ():
        when = value.get("when")
        if name not in roles or when is None:
            continue
        condition = read_condition(when, vocabulary, checker)
        if condition is None:
            continue
        if set(condition.names) <= {name}:
            found[name] = roles[name]._replace(when=condition.tree, when_text=condition.text)
        else:
            conditions.append(condition)
    return conditions, found


def read_roles(entry: Entry | None, vocabulary: Vocabulary, checker: Checker) -> dict[str, Role]:
    """The roles of a map, by name."""
    found: dict[str, Role] = {}
    for name, place, value in checker.map(entry, "`roles`"):
        if _check_name(name, place, checker):
            found[name] = _read_role(name, place, value, vocabulary, checker)
    return found


def _check_name(name: str, place: Place, checker: Checker) -> bool:
    """Whether a role's or net's name can be written in joins and expressions."""
    words = name.split(" ")
    good = all(word.replace("_", "").isalnum() and word.isascii() for word in words) and name[:1].isalpha()
    if not good or any(word in ("and", "or", "not") for word in words):
        expected = "words of letters and digits with single spaces between them, without `and`, `or`, `not`"
        checker.complain(place, f"`{name}` cannot be a name here.", expected=expected, code="name")
        return False
    return True


def _read_role(name: str, place: Place, entry: Entry, vocabulary: Vocabulary, checker: Checker) -> Role:
    keys = {key: value for key, _, value in checker.map(entry, f"The role `{name}`", ROLE_KEYS)}
    kinds = []
    for word, where in checker.texts(keys.get("kind"), "`kind`"):
        if word in ROLE_KINDS:
            kinds.append(word)
        else:
            checker.unknown(where, "kind", word, ROLE_KINDS)
    if "kind" not in keys and entry.kind == "map":
        checker.complain(place, f"The role `{name}` lacks its kind.", expected=f"`{name}: {{kind: resistor, is: ...}}`")
    many = checker.flag(keys.get("many"), "`many`")
    least = checker.whole_number(keys.get("least"), "`least`", 1)
    if "least" in keys and not many:
        checker.complain(keys["least"].place, "`least` goes with `many: true` only.", expected="`many: true`")
    tapped = checker.flag(keys["tapped"], "`tapped`") if "tapped" in keys else None
    if tapped is not None and "winding" not in kinds:
        checker.complain(keys["tapped"].place, "`tapped` goes with windings only.", expected="`kind: winding`")
    make = checker.text(keys.get("make"), "`make`")
    if make and not any(kind in DEVICE_GROUPS for kind in kinds):
        checker.complain(keys["make"].place, "`make` goes with devices only.", expected="`kind: amplifying`")
    apart = checker.text(keys.get("apart"), "`apart`")
    if apart and (apart not in ("ctl", "emt", "col") or not many):
        checker.complain(keys["apart"].place, "`apart` names a terminal of a `many` role.", expected="`apart: ctl`")
    return Role(
        name=name,
        kinds=tuple(kinds),
        word=checker.text(keys.get("is"), "`is`") or name,
        optional=checker.flag(keys.get("optional"), "`optional`"),
        many=many,
        least=least,
        witness=checker.flag(keys.get("witness"), "`witness`"),
        make=make,
        tapped=tapped,
        apart=apart,
    )


def read_nets(entry: Entry | None, roles: Mapping[str, Role], checker: Checker) -> dict[str, Net]:
    """The nets of a map, by name."""
    found: dict[str, Net] = {}
    for name, place, value in checker.map(entry, "`nets`"):
        if not _check_name(name, place, checker):
            continue
        if name in roles:
            checker.complain(place, f"`{name}` is a role as well.", expected="a name of its own")
        if value.kind == "nothing":
            found[name] = Net(name)
            continue
        keys = {key: item for key, _, item in checker.map(value, f"The net `{name}`", ("is", "held"))}
        sort = checker.choice(keys.get("is"), "Sort of net", NET_SORTS, "signal")
        found[name] = Net(name, sort, checker.flag(keys.get("held"), "`held`"))
    return found


def read_joins(
    entry: Entry | None, roles: Mapping[str, Role], nets: Mapping[str, Net], checker: Checker
) -> tuple[Join, ...]:
    """The joins of a map from view to list of chains."""
    found: list[Join] = []
    for view, _, value in checker.map(entry, "`joins`", VIEWS):
        if value.kind == "text":
            value = Entry("list", value.place, items=(value,))
        for item in checker.items(value, f"The joins of `{view}`"):
            if item.kind != "text":
                message = "A join was not read as a text: YAML took one of its signs for its own."
                checker.complain(
                    item.place, message, expected='the join in double quotes, such as "a ~ b.ctl"', code="join"
                )
                continue
            place = inside(item)
            try:
                join = parse_join(item.text.strip(), view, place)
            except InputError as error:
                checker.take_over(error)
                continue
            spots = tuple(
                Spot("net", spot.name) if spot.name in nets and not spot.terminal else spot for spot in join.spots
            )
            join = join._replace(spots=spots)
            if _check_join(join, place, roles, nets, checker):
                found.append(join)
    return tuple(found)


def _check_join(join: Join, place: Place, roles: Mapping[str, Role], nets: Mapping[str, Net], checker: Checker) -> bool:
    before = len(checker.problems)
    for spot in join.spots:
        if spot.sort == "terminal":
            _check_terminal(spot, join, place, roles, checker)
        elif spot.sort == "net" and spot.name not in nets:
            if spot.name in roles:
                names = sorted({name for kind in roles[spot.name].kinds for name in terminals_of(kind) or ()})
                expected = f"`-{spot.name}-`, or `{spot.name}.` with {', '.join(names)}"
                checker.complain(_at(place, join, spot.name), f"`{spot.name}` is a role, not a net.", expected=expected)
            else:
                expected = f"a net under `nets`, or one of {', '.join(LITERALS)}"
                checker.unknown(_at(place, join, spot.name), "net", spot.name, nets, expected=expected)
    for link in join.links:
        if not link.role:
            continue
        role = roles.get(link.role)
        where = _at(place, join, link.role)
        if role is None:
            checker.unknown(where, "role", link.role, roles)
        elif any(kind in DEVICE_GROUPS for kind in role.kinds):
            message = f"`{link.role}` is a device and cannot stand between two nodes."
            checker.complain(where, message, expected=f"`{link.role}.ctl`, `.emt`, `.col`")
        elif any(kind in WHOLE and kind != "potentiometer" for kind in role.kinds):
            checker.complain(
                where, f"`{link.role}` has more than two terminals.", expected=f"`{link.role}.` with a terminal"
            )
        elif link.direction and not all(is_directed(kind) for kind in role.kinds):
            checker.complain(where, f"`{link.role}` has no direction.", expected=f"`-{link.role}-`")
    for literal in (spot for spot in join.spots if spot.sort == "literal"):
        if len(join.spots) == 2 and all(spot.sort == "literal" for spot in join.spots) and not join.links[0].role:
            checker.complain(place, f"The join `{join.text}` says nothing about `{literal.name}`.")
            break
    return len(checker.problems) == before


def _check_terminal(spot: Spot, join: Join, place: Place, roles: Mapping[str, Role], checker: Checker) -> None:
    role = roles.get(spot.name)
    where = _at(place, join, spot.name)
    if role is None:
        checker.unknown(where, "role", spot.name, roles)
        return
    known: set[str] = set()
    for kind in role.kinds:
        names = terminals_of(kind)
        if names is None:
            return
        known.update(names)
    if spot.terminal not in known:
        checker.unknown(where, f"terminal of `{spot.name}`", spot.terminal, known, expected=", ".join(sorted(known)))


def _at(place: Place, join: Join, word: str) -> Place:
    """Where a word stands in a join."""
    return Place(place.file, place.line, place.column + max(0, join.text.find(word)), len(word))


def read_conditions(entry: Entry | None, vocabulary: Vocabulary, checker: Checker) -> tuple[Condition, ...]:
    """A list of conditions, or a single one."""
    if entry is None:
        return ()
    items = (entry,) if entry.kind == "text" else _rejoined(checker.items(entry, "`where`"))
    found = [read_condition(item, vocabulary, checker) for item in items]
    return tuple(condition for condition in found if condition is not None)


def _rejoined(items: tuple[Entry, ...]) -> list[Entry]:
    """Items of a list, where YAML cut an expression at the comma of a function's arguments put together again."""
    found: list[Entry] = []
    depth = 0
    for item in items:
        if depth > 0 and item.kind == "text" and found:
            text = f"{found[-1].text}, {item.text}"
            found[-1] = Entry("text", found[-1].place, text, quoted=found[-1].quoted)
        else:
            found.append(item)
            depth = 0
        depth += item.text.count("(") - item.text.count(")")
    return found


def read_condition(entry: Entry, vocabulary: Vocabulary, checker: Checker) -> Condition | None:
    """An expression, None if there is a problem with it."""
    if entry.kind != "text":
        message = "An expression was not read as a text: YAML took one of its signs for its own."
        checker.complain(entry.place, message, expected="the expression in double quotes", code="expression")
        return None
    text = " ".join(entry.text.split())
    tree = vocabulary.expression(text, inside(entry), checker)
    if tree is None:
        return None
    known = {*vocabulary.roles, *vocabulary.nets, *vocabulary.components, *vocabulary.figures}
    names = tuple(dict.fromkeys(words[0] for words in names_in(tree) if words[0] in known))
    return Condition(text, tree, names)


def _read_exclusions(
    entry: Entry | None, roles: Mapping[str, Role], nets: Mapping[str, Net], vocabulary: Vocabulary, checker: Checker
) -> tuple[Exclusion, ...]:
    found = []
    for item in checker.items(entry, "`not`"):
        pairs = checker.map(item, "A group of `not`", ("as", "roles", "nets", "where", *VIEWS))
        keys = {key: value for key, _, value in pairs}
        if "as" not in keys:
            checker.complain(item.place, "A group of `not` says in words what it excludes.", expected="`as: ...`")
        own_roles = read_roles(keys.get("roles"), vocabulary, checker)
        own_nets = read_nets(keys.get("nets"), roles, checker)
        more = vocabulary.with_more(own_roles, set(own_nets))
        whens, own_roles = _read_whens(keys.get("roles"), own_roles, more, checker)
        for name in own_roles:
            if name in roles:
                checker.complain(item.place, f"The role `{name}` of `not` is a role of the pattern already.")
        views = Entry("map", item.place, pairs=tuple(pair for pair in pairs if pair[0] in VIEWS))
        joins = read_joins(views, {**roles, **own_roles}, {**nets, **own_nets}, checker) if views.pairs else ()
        where = (*whens, *read_conditions(keys.get("where"), more, checker))
        if not views.pairs and not where and "where" not in keys:
            checker.complain(item.place, "A group of `not` holds joins or conditions.", expected="`dc: [...]`")
        words = checker.text(keys.get("as"), "`as`")
        found.append(Exclusion(words, tuple(own_roles.values()), tuple(own_nets.values()), joins, where))
    return tuple(found)


# -- rules about a whole shape ------------------------------------------------------------------------------------


def roles_of_join(join: Join) -> tuple[str, ...]:
    """The roles that a join speaks of, in its order."""
    names = [spot.name for spot in join.spots if spot.sort == "terminal"]
    return tuple(dict.fromkeys([*names, *(link.role for link in join.links if link.role)]))


def nets_of_join(join: Join) -> tuple[str, ...]:
    """The nets that a join speaks of, in its order."""
    return tuple(dict.fromkeys(spot.name for spot in join.spots if spot.sort == "net"))


def _roles_in_optional_links(joins) -> set[str]:
    return {link.role for join in joins for link in join.links if link.sort == "-()"}


def without_unused_nets(shape: Shape) -> Shape:
    """A variant without the nets that only other variants name."""
    joins = [*shape.joins, *(join for group in shape.exclusions for join in group.joins)]
    named = {name for join in joins for name in nets_of_join(join)}
    return shape._replace(nets=tuple(net for net in shape.nets if net.name in named))


def check_shape(shape: Shape, checker: Checker, place: Place) -> None:
    """Every role and net is used, and the joins of what is required hang together."""
    spoken = {name for join in shape.joins for name in roles_of_join(join)}
    named = {name for join in shape.joins for name in nets_of_join(join)}
    in_nots = {name for group in shape.exclusions for join in group.joins for name in nets_of_join(join)}
    for role in shape.roles:
        if role.name not in spoken:
            message = f"The role `{role.name}` is in no join."
            checker.complain(place, message, expected=f"a join with `-{role.name}-` or `{role.name}.`", code="unused")
    for net in shape.nets:
        if net.name not in named and net.name not in in_nots:
            checker.complain(
                place, f"The net `{net.name}` is in no join.", expected="a join that names it", code="unused"
            )
    required = [role.name for role in shape.roles if not role.optional and role.name in spoken]
    if not required:
        if shape.roles:
            checker.complain(place, "No role is required.", expected="one without `optional: true`", code="unused")
        return
    _check_hangs_together(shape, required, checker, place)
    _check_many(shape, checker, place)


def _check_hangs_together(shape: Shape, required: list[str], checker: Checker, place: Place) -> None:
    """Required roles are reached from the first one over joins; rails join as well as other nets do."""
    optional = {role.name for role in shape.roles if role.optional}
    reached: set[str] = {"role " + required[0]}
    groups = []
    for join in shape.joins:
        links = {link.role for link in join.links if link.sort == "-()"}
        names = [name for name in roles_of_join(join) if name not in links]
        if not any(name in optional for name in names):
            groups.append({*("role " + name for name in names), *("net " + name for name in nets_of_join(join))})
    for condition in shape.where:
        if len(condition.names) > 1 and condition.tree[0] == "call":
            names = [name for name in condition.names if name not in optional]
            groups.append({sort + name for name in names for sort in ("role ", "net ")})
    for _ in groups:
        for group in groups:
            if group & reached:
                reached |= group
    lost = [name for name in required if "role " + name not in reached]
    if lost:
        message = f"The joins do not hang together: nothing joins `{required[0]}` with `{'`, `'.join(lost)}`."
        expected = "a net or terminal that both sides name (`0`, `gnd`, `rail` and `supply` join nothing)"
        checker.complain(place, message, expected=expected, code="apart")


def _check_many(shape: Shape, checker: Checker, place: Place) -> None:
    """The nets of a role that binds many are bound by other roles."""
    many = {role.name for role in shape.roles if role.many}
    for join in shape.joins:
        names = roles_of_join(join)
        for name in (name for name in names if name in many):
            for net in nets_of_join(join):
                others = [
                    other
                    for other in shape.joins
                    if net in nets_of_join(other) and any(role not in many for role in roles_of_join(other))
                ]
                if not others:
                    message = f"`{name}` binds many, but the net `{net}` is bound by no other role."
                    checker.complain(place, message, expected="a join of that net with another role", code="many")
