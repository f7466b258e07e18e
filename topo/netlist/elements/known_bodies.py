"""Sub-circuits that stand for one part: valves, operational amplifiers, regulators, by their names and their nodes."""

from __future__ import annotations

import re
from typing import NamedTuple

from topo.netlist.device_types import device_type
from topo.netlist.elements.bodies import Body
from topo.netlist.kinds import GROUPS

# Words for electrodes, each with the terminal that it means.
_ELECTRODES: dict[str, str] = {
    **dict.fromkeys(("a", "p", "anode", "plate", "pl", "an"), "a"),
    **dict.fromkeys(("g", "g1", "grid", "grid1", "cg", "control"), "g"),
    **dict.fromkeys(("g2", "s", "sg", "screen", "grid2"), "g2"),
    **dict.fromkeys(("g3", "sup", "suppressor", "grid3", "bp"), "g3"),
    **dict.fromkeys(("k", "c", "cathode", "kath", "cath"), "k"),
    **dict.fromkeys(("h", "h1", "f", "f1", "heater1", "h+"), "h1"),
    **dict.fromkeys(("h2", "f2", "heater2", "h-"), "h2"),
}
_VALVES = {
    frozenset(("a", "g", "k")): "triode",
    frozenset(("a", "g", "g2", "k")): "tetrode",
    frozenset(("a", "g", "g2", "g3", "k")): "pentode",
}
_COMMENT = re.compile(r"(?:;|//|\s\$)\s*(.*)$")
_VALVE_WORDS = re.compile(r"triode|tetrode|pentode", re.IGNORECASE)
_AMPLIFIER_WORDS = re.compile(r"op[-_ ]?amp", re.IGNORECASE)
# Fixed positive regulators: the last two figures are volts (common practice).
_REGULATOR = re.compile(r"78[LMS]?(05|06|08|09|10|12|15|18|24)", re.IGNORECASE)
_AMPLIFIER_NODES: dict[str, str] = {
    **dict.fromkeys(("+", "in+", "inp", "inplus", "noninv", "vin+", "vp", "p", "ip", "non_inv", "plus"), "in+"),
    **dict.fromkeys(("-", "in-", "inn", "inm", "inminus", "inv", "vin-", "vn", "n", "im", "minus"), "in-"),
    **dict.fromkeys(("out", "output", "vout", "o", "vo"), "out"),
    **dict.fromkeys(("vcc", "v+", "vdd", "vs+", "vpos", "vp+", "vcc+"), "v+"),
    **dict.fromkeys(("vee", "v-", "vss", "vs-", "vneg", "vn-", "vcc-", "gnd"), "v-"),
}
# Vendors' models of operational amplifiers list their five nodes in this order (common practice).
_VENDORS_ORDER = ("in+", "in-", "v+", "v-", "out")
_REGULATOR_NODES = {
    **dict.fromkeys(("in", "input", "vin", "i"), "in"),
    **dict.fromkeys(("out", "output", "vout", "o"), "out"),
    **dict.fromkeys(("gnd", "common", "com", "adj", "ref"), "common"),
}


class Known(NamedTuple):
    """A part that a sub-circuit stands for: its kind, a terminal for each node, its type number.

    `assumed` says in words what about it was taken from custom alone; `standard` that the type number is in the data.
    """

    kind: str
    terminals: tuple[str, ...]
    type_name: str = ""
    assumed: str = ""
    standard: bool = False
    value: float | None = None


def known_part(name: str, nodes: list[str], body: Body | None) -> Known | None:
    """The part that a sub-circuit of this name stands for where that is certain, else None.

    A valve is certain where the name is a valve's type number or says its kind, and each node of its definition is
    named by an electrode; an operational amplifier where its five nodes are named, or its name says so; a regulator by
    its number and the names of its nodes.
    """
    inner = [word.text for word in body.nodes] if body is not None else []
    if body is not None and len(inner) != len(nodes):
        return None
    commented = _named_by_comment(body) if body is not None and all(node.isdigit() for node in inner) else None
    if commented is not None:
        found = _known(name, commented, len(nodes))
        return None if found is None else found._replace(assumed="its nodes are named by the comment behind them")
    return _known(name, inner, len(nodes))


def _known(name: str, inner: list[str], count: int) -> Known | None:
    """The part that a sub-circuit of this name and these nodes stands for; None where that is not certain."""
    number = _type_number(name)
    standard = device_type(number) if number else None
    kind = standard.kind if standard is not None else ""
    if kind in GROUPS["valve"] or (not kind and _VALVE_WORDS.search(name)):
        terminals = _electrodes(inner)
        if terminals is not None:
            found = _VALVES[frozenset(terminals) - {"h1", "h2"}]
            suits = standard is not None and standard.suits(found)
            return Known(found, _g1(found, terminals), number or name, standard=suits)
    if not kind and (regulator := _REGULATOR.search(name)) is not None:
        terminals = _all_in(inner, _REGULATOR_NODES)
        if terminals is not None and len(terminals) == 3:
            return Known("regulator", terminals, value=float(regulator[1]))
    return None if kind else _amplifier(name, inner, count)


def _named_by_comment(body: Body) -> list[str] | None:
    """The words of the comment behind numbered nodes, where they are as many and all name electrodes or pins."""
    raw = body.line.pieces[0][2] if body.line is not None and len(body.line.pieces) == 1 else ""
    match = _COMMENT.search(raw)
    words = [] if match is None else [word for word in re.split(r"[\s,;:()]+", match[1].strip()) if word]
    known = all(word.casefold() in _ELECTRODES or word.casefold() in _AMPLIFIER_NODES for word in words)
    return words if known and len(words) == len(body.nodes) > 0 else None


def halves(name: str, body: Body | None) -> tuple[tuple[Known, tuple[int, ...]], ...]:
    """The two halves of a double valve, each with the places of its nodes; none where a sub-circuit is no such.

    It is one where the name is a valve's type number or says its kind, and the nodes are the electrodes of two triodes:
    named alike but for a figure or letter behind, as `A1 G1 K1 A2 G2 K2`; both may share a cathode.
    """
    number = _type_number(name)
    standard = device_type(number) if number else None
    if body is None or not ((standard is not None and standard.kind == "triode") or "triode" in name.casefold()):
        return ()
    found = []
    for mark, other in (("1", "2"), ("2", "1"), ("a", "b"), ("b", "a")):
        places, terminals = [], []
        for place, word in enumerate(body.nodes):
            node = word.text.casefold()
            stem = node if node in ("k", "cathode", "h1", "h2") else node[:-1].rstrip("_-") if node[-1:] == mark else ""
            if stem in _ELECTRODES:
                places.append(place)
                terminals.append(_ELECTRODES[stem])
            elif node[-1:] != other:
                break
        else:
            if len(terminals) == 3 and set(terminals) == {"a", "g", "k"}:
                found.append((Known("triode", tuple(terminals), number or name, standard=bool(number)), tuple(places)))
    return tuple(found) if len(found) == 2 else ()


def _type_number(name: str) -> str:
    """The type number within a sub-circuit's name; "" if the data knows none."""
    for start in (name, name.split("_")[0], name.lstrip("Xx"), re.sub(r"^[A-Za-z]+_", "", name), name.split("/")[0]):
        if start and device_type(start) is not None:
            return start.upper()
    return ""


def _electrodes(nodes: list[str]) -> tuple[str, ...] | None:
    """The electrodes that the nodes are named by; None if one is not, or they make no valve."""
    terminals = _all_in(nodes, _ELECTRODES)
    if terminals is None or frozenset(terminals) - {"h1", "h2"} not in _VALVES:
        return None
    return terminals


def _g1(kind: str, terminals: tuple[str, ...]) -> tuple[str, ...]:
    """The control grid is `g` in a triode and `g1` in the others."""
    return terminals if kind == "triode" else tuple("g1" if name == "g" else name for name in terminals)


def _all_in(nodes: list[str], names: dict[str, str]) -> tuple[str, ...] | None:
    found = tuple(names.get(node.casefold(), "") for node in nodes)
    return found if found and all(found) and len(set(found)) == len(found) else None


def _amplifier(name: str, inner: list[str], count: int) -> Known | None:
    """An operational amplifier: all five nodes named, or fewer where the sub-circuit's name says it."""
    said = bool(_AMPLIFIER_WORDS.search(name))
    terminals = _all_in(inner, _AMPLIFIER_NODES)
    if terminals is not None and {"in+", "in-", "out"} <= set(terminals) and (said or len(terminals) == 5):
        return Known("opamp", terminals)
    if said and count == len(_VENDORS_ORDER):
        order = "its nodes are taken in the usual order of such models: in+, in-, V+, V-, out"
        return Known("opamp", _VENDORS_ORDER, assumed=order)
    return None
