"""What a drawing has to place: an item for each part and port, with its symbol, the nets of its pins and its texts."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from topo.drawing.schematic import geometry as g
from topo.drawing.schematic.symbols import Symbol, symbol
from topo.netlist.circuit import Circuit, Part
from topo.netlist.kinds import ELECTRODES, GROUPS, kind_of
from topo.quantities import show

_VERTICAL_FIRST = (g.RIGHT, g.RIGHT_MIRRORED)
_LEVEL = (g.PLAIN, g.MIRRORED)
_SIDEWAYS_ART = {"speaker": (g.LEFT_MIRRORED, g.LEFT), "headphones": (g.LEFT_MIRRORED, g.LEFT)}
_MINUS = "\N{MINUS SIGN}"
# The reduction's ideal sources that stand for a divider have nets of such names, and no place in a file.
_BIAS_NET = "bias_"


@dataclass(frozen=True)
class Rail:
    """A net that is drawn as a symbol at each pin: "ground", "plus" or "minus", and the text over its bar.

    Where all supplies are negative they are drawn above, as "plus", and `negative` says so.
    """

    net: str
    symbol: str
    text: str = ""
    negative: bool = False


@dataclass(frozen=True)
class Item:
    """A symbol to place. `nets` maps pin to net; `key` names it in the drawing; `lines` are the texts beside it;
    `rail` is the net of a ground symbol that several pins share."""

    key: str
    symbol: Symbol
    nets: Mapping[str, str]
    lines: tuple[str, ...] = ()
    kind: str = ""
    turns: tuple[g.Turn, ...] = (g.PLAIN,)
    rail: str = ""

    @property
    def two_ended(self) -> bool:
        """Whether it is a part that lies along a line."""
        return len(self.symbol.pins) == 2 and self.symbol.pins[0].x == -self.symbol.pins[1].x


def drawn_terminals(part: Part, ieee: bool = False) -> tuple[tuple[str, dict[str, str]], ...]:
    """The symbols of a part: for each its name, and the pin of each terminal drawn there."""
    names = [terminal.name for terminal in part.terminals]
    kind = part.kind
    if kind == "transformer":
        pins = {
            terminal: f"{number}.{section}"
            for number, winding in enumerate(part.windings)
            for section, terminal in enumerate(winding.terminals)
        }
        counts = [str(len(winding.terminals) - 1) for winding in part.windings]
        return ((f"transformer:{counts[0]}|{','.join(counts[1:])}", pins),)
    if kind in GROUPS["coil"] and len(part.windings) == 1 and len(names) > 2:
        core = ":c" if kind == "choke" else ""
        taps = part.windings[0].terminals
        return ((f"coil:{len(taps) - 1}{core}", {terminal: str(number) for number, terminal in enumerate(taps)}),)
    if kind == "potentiometer":
        ends = "".join(name for name in ("1", "2") if name in names)
        return ((f"potentiometer:{ends}" + (":z" if ieee else ""), {name: name for name in names}),)
    if kind == "opamp":
        extra = ("p" if "v+" in names else "") + ("m" if "v-" in names else "")
        return (("opamp:" + extra if extra else "opamp", {name: name for name in names}),)
    if kind in GROUPS["fet"] and "b" in names and part.net("b") != part.net("s"):
        return _boxed(names)
    if kind in GROUPS["amplifying"]:
        main = {name: name for name in names if not name.startswith("h")}
        if kind in GROUPS["fet"]:
            main.pop("b", None)
        heater = [name for name in names if name.startswith("h")]
        found = [(kind, main)]
        if len(main) != len(symbol(kind).pins):
            return _boxed(names)
        if heater:
            found.append((f"box:{len(heater)}", {name: str(index + 1) for index, name in enumerate(heater)}))
        return tuple(found)
    if kind in ("regulator", "antenna") and len(names) == len(symbol(kind).pins):
        return ((kind, {name: name for name in names}),)
    if len(names) == 2 and kind_of(kind).form == "positional":
        return ((_two_ended(part, ieee), {names[0]: "1", names[1]: "2"}),)
    return _boxed(names)


def _boxed(names: list[str]) -> tuple[tuple[str, dict[str, str]], ...]:
    return ((f"box:{len(names)}", {name: str(index + 1) for index, name in enumerate(names)}),)


def _two_ended(part: Part, ieee: bool) -> str:
    if part.kind == "resistor":
        return "zigzag" if ieee else "resistor"
    if part.kind == "capacitor":
        return "electrolytic" if part.terminals[0].name == "+" else "capacitor"
    if part.kind == "switch":
        return "switch closed" if part.settings.get("state") == "closed" else "switch open"
    return {"rectifier": "diode", "speaker": "speaker"}.get(part.kind, part.kind)


def rails_of(circuit: Circuit) -> dict[str, Rail]:
    """The nets that are drawn as symbols: ground, supplies, and what feeds many parts through a switch or fuse."""
    rails = {circuit.ground: Rail(circuit.ground, "ground")}
    texts: dict[str, int] = {}
    for supply in circuit.supplies:
        text = _volts(supply.volts)
        texts[text] = texts.get(text, 0) + 1
    upside_down = all(supply.volts < 0 for supply in circuit.supplies)
    for supply in circuit.supplies:
        if supply.net in rails:
            continue
        text = _volts(supply.volts)
        if supply.net.startswith(_BIAS_NET) and not supply.place.line:
            text = f"bias {text}"
        elif texts[text] > 1:
            text = f"{supply.net} {text}"
        below = supply.volts < 0 and not upside_down
        rails[supply.net] = Rail(supply.net, "minus" if below else "plus", text, supply.volts < 0)
    counts: dict[str, int] = {}
    for part in circuit.parts:
        for terminal in part.terminals:
            counts[terminal.net] = counts.get(terminal.net, 0) + 1
    given = set(rails)
    for _ in range(2):
        for part in circuit.parts:
            if part.kind not in ("fuse", "switch", "regulator") or len(part.terminals) < 2:
                continue
            nets = [terminal.net for terminal in part.terminals]
            fed = [net for net in nets if net in rails and rails[net].symbol != "ground"]
            for net in nets:
                if fed and net not in rails and counts[net] >= 4:
                    rails[net] = Rail(net, rails[fed[0]].symbol, net, rails[fed[0]].negative)
    ports = {port.net for port in (*circuit.inputs, *circuit.outputs)}
    return {net: rail for net, rail in rails.items() if net in given or net not in ports}


def is_upside_down(rails: Mapping[str, Rail]) -> bool:
    """Whether a negative supply is drawn above, and devices with their collectors towards it."""
    return any(rail.symbol == "plus" and rail.negative for rail in rails.values())


def _volts(volts: float) -> str:
    text = show(abs(volts), "V")
    return f"{_MINUS}{text}" if volts < 0 else f"+{text}" if volts else text


def items_of(
    circuit: Circuit, rails: Mapping[str, Rail], names: Mapping[str, str], *, ieee: bool = False
) -> list[Item]:
    """An item for each part, in the order of the file, and for each port that no transducer stands for.

    `names` says what is written beside a part where that is not its designator alone, in lines.
    """
    found: list[Item] = []
    for part in circuit.parts:
        for number, (name, pins) in enumerate(drawn_terminals(part, ieee)):
            nets = {pins[item.name]: item.net for item in part.terminals if item.name in pins}
            shown = names.get(part.ref, part.ref)
            lines = tuple(shown.split("\n")) if number else _texts(part, shown, name, pins)
            art = symbol(name)
            found.append(Item(part.ref, art, nets, lines, part.kind, _turns(art, part.kind, nets, rails)))
    for ports, word, turn in ((circuit.inputs, "input", g.PLAIN), (circuit.outputs, "output", g.MIRRORED)):
        for number, port in enumerate(ports):
            if port.net in rails or _stands_for(circuit, port.net, word):
                continue
            key = f"{word} {number + 1}"
            found.append(Item(key, symbol("port"), {"1": port.net}, (port.net,), word, (turn,)))
    return found


def _stands_for(circuit: Circuit, net: str, word: str) -> bool:
    kinds = GROUPS["load"] if word == "output" else GROUPS["source"]
    return any(part.kind in kinds and any(item.net == net for item in part.terminals) for part in circuit.parts)


def _texts(part: Part, shown: str, name: str, pins: Mapping[str, str]) -> tuple[str, ...]:
    lines = shown.split("\n")
    unit = kind_of(part.kind).unit
    if name.startswith("box:"):
        lines += [", ".join(f"{pin} {terminal}" for terminal, pin in pins.items() if pin != terminal)]
    if part.kind == "transformer":
        turns = ["+".join(map(_turns_shown, winding.turns)) for winding in part.windings if winding.turns]
        if not any(winding.assumed for winding in part.windings):
            lines.append(" : ".join(turns))
    elif part.value is not None and not math.isnan(part.value):
        lines.append(show(part.value, unit))
        if part.windings and not part.windings[0].assumed:
            lines.append("+".join(map(_turns_shown, part.windings[0].turns)))
    elif part.type_name:
        lines.append(part.type_name)
    return tuple(line for line in lines if line)


def _turns_shown(count: float) -> str:
    """A number of turns; a fraction in three figures."""
    return f"{count:.0f}" if count == round(count) or count >= 1000 else f"{count:.3g}"


def _turns(art: Symbol, kind: str, nets: Mapping[str, str], rails: Mapping[str, Rail]) -> tuple[g.Turn, ...]:
    """The legal positions of a symbol: supply ends up, ground ends down, collectors where the current comes from."""
    if art.name.startswith(("potentiometer", "coil")):
        every = (g.RIGHT, g.LEFT_MIRRORED, g.LEFT, g.RIGHT_MIRRORED, g.PLAIN, g.FLIPPED, g.MIRRORED, g.HALF)
        return _by_rails(art, every, nets, rails)
    if kind in GROUPS["amplifying"]:
        return (g.FLIPPED, g.HALF) if is_upside_down(rails) else (g.PLAIN, g.MIRRORED)
    if art.name.startswith("opamp"):
        return (g.PLAIN, g.FLIPPED) if art.name == "opamp" else (g.PLAIN,)
    if art.name.startswith("transformer") or art.name == "box:2":
        return (g.PLAIN, g.MIRRORED)
    if len(art.pins) == 2 and art.pins[0].x == -2 and art.pins[1].x == 2 and kind != "box":
        if art.name in _SIDEWAYS_ART:
            return _by_rails(art, (*_SIDEWAYS_ART[art.name],), nets, rails)
        return _by_rails(art, (*_VERTICAL_FIRST, *_LEVEL), nets, rails)
    return (g.PLAIN,)


def _by_rails(art: Symbol, turns: tuple[g.Turn, ...], nets: Mapping[str, str], rails: Mapping[str, Rail]):
    """The positions in which the fewest rail ends look the wrong way."""

    def wrong(turn: g.Turn) -> int:
        count = 0
        for pin in art.pins:
            rail = rails.get(nets.get(pin.name, ""))
            if rail is None or pin.name == "w":
                continue
            wanted = -1 if rail.symbol == "plus" else 1
            looks = g.grid_turned(turn, pin.dx, pin.dy)[1]
            # What lies between two supplies lies level: one of its ends would look away from its symbol.
            count += 0 if looks == wanted else 2 if not looks else 5
            if rail.symbol == "minus":
                # Between ground and a negative rail the latter is the lower one.
                count -= looks == wanted
        return count

    least = min(wrong(turn) for turn in turns)
    return tuple(turn for turn in turns if wrong(turn) == least)


def with_shared_grounds(items: Sequence[Item], rails: Mapping[str, Rail], twins: Mapping[str, str]) -> list[Item]:
    """The items, twins with their ends or emitters on ground given one ground symbol for both.

    So have two like parts of which one leads from a supply to ground, the other from there to a negative supply. The
    ends get a net of their own, `gnd~R6`, that a new item, the ground symbol, is on too.
    """
    by_key = {item.key: item for item in items}
    twins = {**_halves(items, rails), **twins}
    found: dict[int, Item] = {}
    extra: list[Item] = []
    for item in items:
        other = by_key.get(twins.get(item.key, ""))
        if other is None or id(item) in found:
            continue
        ends = [pin for pin, net in item.nets.items() if net in rails and rails[net].symbol == "ground"]
        if not (item.two_ended and other.two_ended) and not (item.kind == other.kind and ends == _emitter(item)):
            continue
        if len(ends) != 1:
            continue
        net = item.nets[ends[0]]
        image = [pin for pin, there in other.nets.items() if there == net]
        if len(image) != 1 or (len(other.nets) - len(image) > 1 and image != ends):
            continue
        own = f"{net}~{item.key}"
        for one, pin in ((item, ends[0]), (other, image[0])):
            nets = {**one.nets, pin: own}
            found[id(one)] = replace(one, nets=nets, turns=_turns(one.symbol, one.kind, nets, rails))
        extra.append(Item("", symbol("ground"), {"1": own}, (), "ground", (g.PLAIN,), net))
    return [found.get(id(item), item) for item in items] + extra


def _halves(items: Sequence[Item], rails: Mapping[str, Rail]) -> dict[str, str]:
    """Like parts of which one leads from a supply to ground, the other from ground to a negative supply below."""
    waiting: dict[tuple[str, tuple[str, ...], str], list[str]] = {}
    found: dict[str, str] = {}
    for item in items:
        sorts = sorted({rails[net].symbol if net in rails else "" for net in item.nets.values()})
        if not item.two_ended or sorts not in (["ground", "plus"], ["ground", "minus"]):
            continue
        own, other = sorts[1], "minus" if sorts[1] == "plus" else "plus"
        like = waiting.get((item.kind, item.lines[1:], other))
        if like:
            found[item.key], found[like[0]] = like[0], item.key
            like.pop(0)
        else:
            waiting.setdefault((item.kind, item.lines[1:], own), []).append(item.key)
    return found


def with_supplies_wired(items: Sequence[Item], rails: Mapping[str, Rail]) -> list[Item]:
    """The items, where a transformer and its rectifiers make a supply, wired to one symbol of it.

    The rectifiers, or what joins them to the supply, and what stands between the supply and another rail get a net of
    their own, `vcc~supply`, that a new item, the symbol, is on too. Elsewhere the supply is a symbol at each pin.
    """
    found = {id(item): item for item in items}
    extra: list[Item] = []
    wound = {net for item in items if item.kind == "transformer" for net in item.nets.values() if net not in rails}
    diodes = [item for item in items if item.kind in GROUPS["diode"] and wound & set(item.nets.values())]
    rectified = {net for item in diodes for net in item.nets.values() if net not in rails and net not in wound}
    for item in items:
        if item.kind in ("resistor", "fuse", *GROUPS["coil"]) and rectified & set(item.nets.values()):
            rectified |= {net for net in item.nets.values() if net not in rails}
    for net, rail in rails.items():
        there = [item for item in items if item.two_ended and net in item.nets.values()]
        feeding = [item for item in there if item in diodes or rectified & set(item.nets.values())]
        if rail.symbol not in ("plus", "minus") or not feeding:
            continue
        across = [item for item in there if all(other in rails for other in item.nets.values())]
        own = f"{net}~supply"
        for item in (*feeding, *across):
            nets = {pin: own if name == net else name for pin, name in found[id(item)].nets.items()}
            found[id(item)] = replace(item, nets=nets, turns=_turns(item.symbol, item.kind, nets, rails))
        extra.append(Item(f"{net} supply", symbol(rail.symbol), {"1": own}, (rail.text,), "supply", (g.PLAIN,), net))
    return [found[id(item)] for item in items] + extra


def _emitter(item: Item) -> list[str]:
    """The pin of a device that emits, as a list; none of any other item."""
    return [ELECTRODES[item.kind][1]] if item.kind in ELECTRODES else []


def with_windings_in_order(items: Sequence[Item], ranks: Mapping[str, int], rails: Mapping[str, Rail]) -> list[Item]:
    """The items, transformers with the winding that the signal comes to at the left."""
    rank_of: dict[str, list[int]] = {}
    for item in items:
        if item.key in ranks:
            for net in item.nets.values():
                if net not in rails:
                    rank_of.setdefault(net, []).append(ranks[item.key])
    found = []
    for item in items:
        own = ranks.get(item.key)
        if item.kind == "transformer" and own is not None:
            sides: dict[bool, list[int]] = {True: [], False: []}
            for pin, net in item.nets.items():
                sides[pin.startswith("0.")] += [rank for rank in rank_of.get(net, ()) if rank != own]
            first, others = (sum(side) / len(side) if side else own for side in (sides[True], sides[False]))
            item = replace(item, turns=(g.MIRRORED if first > others else g.PLAIN,))
        found.append(item)
    return found
