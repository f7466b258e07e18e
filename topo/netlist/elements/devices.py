"""Devices: by the model that an element's line names, or by what a sub-circuit stands for."""

from __future__ import annotations

from collections.abc import Callable

from topo.netlist.circuit import Part
from topo.netlist.device_types import device_type
from topo.netlist.elements.bodies import Body
from topo.netlist.elements.expanding import Element, Names
from topo.netlist.elements.figures import figure
from topo.netlist.elements.formulas import FormulaError
from topo.netlist.elements.models import Models, Nature
from topo.netlist.elements.problems import Findings
from topo.netlist.elements.shaping import Shaper
from topo.netlist.kinds import GROUPS, KIND_OF_WORD
from topo.netlist.syntax import Word
from topo.quantities import with_unit

_MOSFET_SIZE = 100e-6
_SIZES = frozenset(("area", "m", "w", "l"))


class DeviceMaker(Shaper):
    """Makes the devices of one list."""

    def __init__(self, names: Names, found: Findings) -> None:
        super().__init__(names, found)
        self.models = Models(found)

    def device(self, element: Element, terminals: tuple[str, ...], kinds: frozenset[str]) -> Part:
        """A device with a model: the word behind its nodes that names one."""
        row, least = element.row, 3 if terminals[-1] == "b" and len(terminals) == 4 else len(terminals)
        size = self._size(element)
        for position in range(len(row.words) - 1, least - 1, -1):
            nature = self.models.nature(row.words[position].text, element.scope, kinds, size(position))
            if nature is not None:
                behind = row.words[position + 1 :]
                self.tell_unused(
                    element, behind[1:] if row.letter in "DQJZ" and self._is_value(element, behind) else behind, _SIZES
                )
                return self._of_nature(element, terminals, row.words[:position], row.words[position], nature)
        name = row.words[min(least, len(row.words) - 1)] if len(row.words) > least else row.head
        model = element.scope.body.model(name.text)
        if model is not None:
            wanted = " or ".join(sorted(kinds))
            message = f"{element.ref}: the model {name.text} is of the type {model.type}, which is no {wanted}."
        else:
            message = (
                f"{element.ref}: there is no model {name.text}"
                if name is not row.head
                else f"{element.ref} names no model"
            )
            message += "; it is taken as a part of which nothing is known."
        letter = {"d": "D", "q": "NPN", "j": "NJF", "z": "NMF", "m": "NMOS"}[row.letter.lower()]
        self.found.warn("no-model", row.line, name, message, mend=f"Add a line such as: .model {name.text} {letter}()")
        type_name = _type_name(name.text) if name is not row.head else None
        return self.part(element, "other", terminals[:least], row.words[:least], type_name=type_name)

    def _is_value(self, element: Element, words: tuple[Word, ...]) -> bool:
        """Whether the first of some words has a value."""
        try:
            return bool(words) and element.scope.value(words[0]) > 0
        except FormulaError:
            return False

    def _size(self, element: Element) -> Callable[[int], tuple[float, float]]:
        """Area factor and width over length, once it is known which word names the model."""
        row = element.row

        def size(position: int) -> tuple[float, float]:
            area = self.setting(element, "area") or 1.0
            if position + 1 < len(row.words) and row.letter in "DQJZ":
                behind = row.words[position + 1 :]
                area = element.scope.value(behind[0]) if self._is_value(element, behind) else 1.0
            many = self.setting(element, "m") or 1.0
            wide = self.setting(element, "w") or _MOSFET_SIZE
            long = self.setting(element, "l") or _MOSFET_SIZE
            return (area * many if area * many > 0 else 1.0), (wide / long if wide > 0 and long > 0 else 1.0)

        return size

    def _of_nature(
        self, element: Element, terminals: tuple[str, ...], nodes: tuple[Word, ...], name: Word, nature: Nature
    ) -> Part:
        """A device of a known nature. A substrate is left out of a bipolar transistor."""
        if len(nodes) > len(terminals):
            extra = nodes[len(terminals) :]
            if element.row.letter != "Q" or len(extra) > 2:
                self.found.warn(
                    "many-nodes",
                    element.row.line,
                    extra[0],
                    f"{element.ref} has more nodes than {nature.kind} has terminals; not used.",
                )
            nodes = nodes[: len(terminals)]
        terminals = terminals[: len(nodes)]
        if element.row.letter == "M" and len(nodes) == 4 and self._same_net(element, nodes[2], nodes[3]):
            terminals, nodes = terminals[:3], nodes[:3]
        type_name = nature.type_name or _type_name(name.text)
        text = with_unit(nature.value, "V") if nature.value is not None else ""
        settings = {"germanium": True} if nature.germanium else {}
        return self.part(
            element,
            nature.kind,
            terminals,
            nodes,
            value=nature.value,
            value_text=text,
            type_name=type_name,
            params=nature.params,
            settings=settings,
        )

    def _same_net(self, element: Element, one: Word, other: Word) -> bool:
        return self.names.net(one, element.scope) == self.names.net(other, element.scope)

    def known(self, element: Element) -> Part:
        """A part that an `X` line stands for."""
        known, row = element.known, element.row
        assert known is not None
        if known.assumed:
            self.found.warn("by-custom", row.line, row.head, f"{element.ref}: {known.assumed}.")
        more: dict[str, object] = {}
        body = element.scope.body.body(known.type_name) if known.type_name else None
        if known.kind in GROUPS["valve"]:
            more["params"] = self._valve_params(element, body)
        if known.kind == "regulator" and known.value is not None:
            more |= {"value": known.value, "value_text": with_unit(known.value, "V")}
        if known.type_name:
            more["type_name"] = _type_name(known.type_name)
        kind, terminals, nodes = known.kind, known.terminals, row.words
        standard = device_type(known.type_name) if kind == "tetrode" and known.type_name else None
        if standard is not None and standard.kind == "pentode":  # its suppressor grid is strapped to the cathode inside
            kind, terminals, nodes = "pentode", (*terminals, "g3"), (*nodes, nodes[terminals.index("k")])
        return self.part(element, kind, terminals, nodes, **more)

    def _valve_params(self, element: Element, body: Body | None) -> dict[str, float]:
        """The valve law's own parameters where the sub-circuit has them by their usual names."""
        found: dict[str, float] = {}
        for own in ("MU", "EX", "KG1", "KG2", "KP", "KVB"):
            word = element.row.settings.get(own.casefold())
            if word is None and body is not None:
                word = body.defaults.get(own.casefold()) or (body.params.get(own.casefold()) or (None,))[0]
            if word is not None and (value := self.value(element, word, own)) is not None:
                found[own] = value
        return found


def _type_name(name: str) -> str | None:
    """A model's name as a device type; None where it is but a kind's word, or no word of the netlist language."""
    plain = "".join("_" if character in ':|=#,()"\\?' else character for character in name)
    if plain.casefold() in KIND_OF_WORD or plain.casefold() in ("germanium", "silicon", "open", "closed", "at"):
        return None
    return None if figure(plain) is not None and device_type(plain) is None else plain
