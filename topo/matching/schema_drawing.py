"""The `drawing` of a pattern file: places of roles on the grid, checked so that what is written can be drawn."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product
from typing import Any

from topo.errors import Place
from topo.matching.checking import Checker
from topo.matching.kinds import DEVICE_GROUPS
from topo.matching.pattern import Role, Shape
from topo.matching.vocabulary import Vocabulary
from topo.matching.yaml_source import Entry

KEYS = ("at", "o", "short", "over", "instead of")
LYING, UPRIGHT = "h", "v"
DEVICE_TURNS = ("plain", "mirror", "flip", "half")
FARTHEST = 60
"""Modules from the origin to the farthest place."""

# Half widths and half heights in modules, leads and all, of what stands upright; of others when they do not lie.
_DEVICE = (2, 2)
_SIZES = {"winding": (2, 3), "transformer": (2, 3), "opamp": (3, 2), "regulator": (4, 3)}
_TWO_ENDED = (1, 2)

Spot = tuple[int, int]


def read_drawing(
    entry: Entry | None, shapes: Sequence[Shape], vocabulary: Vocabulary, checker: Checker
) -> dict[str, Any]:
    """The drawing as plain values: `axis`, `mirror`, and for each role its `at`, `o`, `short`, `over`, `instead of`."""
    found: dict[str, Any] = {}
    places: dict[str, Place] = {}
    mirror: Entry | None = None
    for name, place, value in checker.map(entry, "`drawing`"):
        if name == "mirror":
            mirror = value
        elif name == "axis":
            if (row := _whole(value)) is None:
                checker.complain(place, "`axis` is the row of the mirror line, a whole number.", expected="`axis: 0`")
            else:
                found[name] = row
        elif not vocabulary.is_role(name):
            checker.unknown(place, "role", name, vocabulary.roles)
        elif (read := _role(name, place, value, vocabulary, checker)) is not None:
            found[name] = read
            places[name] = place
    for name, role in ((name, found[name]) for name in places):
        for key in ("over", "instead of"):
            if role.get(key, name) not in places:
                checker.unknown(places[name], "drawn role", role[key], places)
    if entry is not None and len(places) < 2 and not checker.problems:
        message = "A drawing places two roles or more, each in relation to the others."
        checker.complain(entry.place, message, expected="`role: {at: [4, -3]}` for each")
    if mirror is not None:
        found["mirror"] = _pairs(mirror, found, checker)
    _refuse_meeting(found, places, shapes, vocabulary, checker)
    return found


def _role(name: str, place: Place, value: Entry, vocabulary: Vocabulary, checker: Checker) -> dict[str, Any] | None:
    """The place of one role; None where there is none that can be used."""
    keys = {key: item for key, _, item in checker.map(value, f"The drawing of `{name}`", KEYS)}
    at = _spot(keys.get("at"))
    if at is None:
        checker.complain(place, f"The drawing of `{name}` needs a place.", expected="`{at: [4, -3], o: v}`")
        return None
    found: dict[str, Any] = {"at": list(at)}
    if "o" in keys:
        words = _words_for(vocabulary.roles.get(name))
        word = keys["o"].text if keys["o"].kind == "text" else ""
        if word not in words:
            message = f"`{name}` has no such position."
            checker.complain(keys["o"].place, message, expected=f"`o:` {', '.join(words)}")
        else:
            found["o"] = word
    if "short" in keys or "over" in keys:
        short = _spot(keys.get("short"))
        over = keys["over"].text if "over" in keys and keys["over"].kind == "text" else ""
        if short is None or not over:
            message = f"The nearer place of `{name}` needs both a place and the role that makes room."
            checker.complain(place, message, expected="`short: [0, -4], over: upper resistor`")
        else:
            found |= {"short": list(short), "over": over}
    if "instead of" in keys:
        found["instead of"] = checker.text(keys["instead of"], "`instead of`") or name
    return found


def _words_for(role: Role | None) -> tuple[str, ...]:
    """The positions that a role's symbol may have."""
    if role is None:
        return (UPRIGHT, LYING, *DEVICE_TURNS)
    devices = [kind in DEVICE_GROUPS for kind in role.kinds]
    if all(devices):
        return DEVICE_TURNS
    return (UPRIGHT, LYING, *DEVICE_TURNS) if any(devices) else (UPRIGHT, LYING)


def _whole(entry: Entry) -> int | None:
    try:
        found = int(entry.text) if entry.kind == "text" and not entry.quoted else None
    except ValueError:
        return None
    return found if found is not None and abs(found) <= FARTHEST else None


def _spot(entry: Entry | None) -> Spot | None:
    """A place [x, y]; None if it is none."""
    if entry is None or entry.kind != "list" or len(entry.items) != 2:
        return None
    x, y = (_whole(item) for item in entry.items)
    return None if x is None or y is None else (x, y)


def _pairs(entry: Entry, drawing: dict[str, Any], checker: Checker) -> list[list[str]]:
    """The pairs of roles that are mirror images: about the row `axis`, or about one upright line."""
    found: list[list[str]] = []
    sums: set[int] = set()
    level = "axis" in drawing
    expected = "places that are images about `axis`, or one upright line"
    for item in checker.items(entry, "`mirror`"):
        names = [part.text for part in item.items]
        if len(names) != 2:
            checker.complain(item.place, "`mirror` lists pairs of roles.", expected="`[[upper, lower]]`")
            continue
        a, b = (drawing[name]["at"] if name in drawing else None for name in names)
        one, two = names
        if a is None or b is None:
            message = f"`{one}` and `{two}` are to be mirror images, and have no places."
            checker.complain(item.place, message, expected=expected)
            continue
        along, across = (0, 1) if level else (1, 0)
        sums.add(a[across] + b[across])
        if a[along] != b[along] or len(sums) > 1 or (level and sums != {2 * drawing["axis"]}):
            checker.complain(item.place, f"`{one}` and `{two}` are no mirror images of each other.", expected=expected)
        found.append(names)
    return found


# -- room ---------------------------------------------------------------------------------------------------------


def _refuse_meeting(
    drawing: dict[str, Any],
    places: dict[str, Place],
    shapes: Sequence[Shape],
    vocabulary: Vocabulary,
    checker: Checker,
) -> None:
    """Complain of symbols that lie on each other in a figure that has both."""
    for one, two in combinations(places, 2):
        if not _may_meet(one, two, shapes) or _alternatives(one, two, drawing):
            continue
        for a, b in _spots(drawing[one], one, drawing[two], two):
            if a == b and not _both_needed(one, two, shapes):
                continue  # one place for whichever of them is there
            roles = (vocabulary.roles.get(one), vocabulary.roles.get(two))
            if a == b and all(role is not None and role.kinds == ("winding",) for role in roles):
                continue  # windings of one transformer
            if _overlap(_box(a, drawing[one], roles[0]), _box(b, drawing[two], roles[1])):
                message = f"`{two}` lies on `{one}`."
                expected = "places farther apart; an upright part is 4 modules long and 2 wide"
                checker.complain(places[two], message, expected=expected)
                break


def _spots(one: dict[str, Any], name: str, two: dict[str, Any], other: str) -> list[tuple[Spot, Spot]]:
    """The places that two roles may have in one figure."""
    found = []
    for a, b in product(*([key for key in ("at", "short") if key in role] for role in (one, two))):
        if (a == "short" and one["over"] == other) or (b == "short" and two["over"] == name):
            continue
        if a != b and "over" in one and one["over"] == two.get("over"):
            continue
        found.append((tuple(one[a]), tuple(two[b])))
    return found


def _alternatives(one: str, two: str, drawing: dict[str, Any]) -> bool:
    """Whether one role is drawn where the other is not, or both where a third is not."""
    first, second = (drawing[name].get("instead of") for name in (one, two))
    return first == two or second == one or (first is not None and first == second)


def _may_meet(one: str, two: str, shapes: Sequence[Shape]) -> bool:
    """Whether some variant has both roles; a composite's roles may always meet."""
    sets = [{role.name for role in shape.roles} for shape in shapes]
    return not sets or any(one in names and two in names for names in sets)


def _both_needed(one: str, two: str, shapes: Sequence[Shape]) -> bool:
    """Whether some variant asks for both roles."""
    needed = [{role.name for role in shape.roles if not role.optional} for shape in shapes]
    return any(one in names and two in names for names in needed)


def _box(spot: Spot, place: dict[str, Any], role: Role | None) -> tuple[int, int, int, int]:
    kinds = role.kinds if role is not None else ()
    half = next((_SIZES[kind] for kind in kinds if kind in _SIZES), _TWO_ENDED)
    if any(kind in DEVICE_GROUPS for kind in kinds):
        half = _DEVICE
    elif place.get("o") == LYING:
        half = half[::-1]
    return spot[0] - half[0], spot[1] - half[1], spot[0] + half[0], spot[1] + half[1]


def _overlap(one: tuple[int, int, int, int], two: tuple[int, int, int, int]) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]
