"""Answers of `topo check` to questions about the wiring."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from topo.cli.paging import page
from topo.netlist.designators import natural
from topo.report.wiring import between, between_text, net_text, on_net, parts_text, what_it_is

if TYPE_CHECKING:
    from topo.netlist.circuit import Circuit


def answer(circuit: Circuit, order: str | None, net: str | None, pair: tuple[str, str] | None, as_json: bool) -> str:
    """The answers asked for, as text or as JSON."""
    if as_json:
        return _as_json(circuit, order, net, pair)
    sheet = page()
    texts = []
    if order:
        texts.append(parts_text(circuit, order, sheet))
    if net:
        texts.append(net_text(on_net(circuit, net), sheet))
    if pair:
        texts.append(between_text(between(circuit, *pair), sheet))
    return "\n".join(texts)


def _as_json(circuit: Circuit, order: str | None, net: str | None, pair: tuple[str, str] | None) -> str:
    from topo.errors import json_text

    found: dict[str, object] = {"file": circuit.file}
    if order:
        by_value = order == "value"
        parts = sorted(
            circuit.parts,
            key=lambda part: ((part.kind, part.value or 0.0) if by_value else ("", 0.0), natural(part.ref)),
        )
        found["parts"] = [
            {
                "part": part.ref,
                "what": what_it_is(part),
                "value": part.value,
                "line": part.place.line or None,
                "nets": {terminal.name: terminal.net for terminal in part.terminals},
            }
            for part in parts
        ]
    if net:
        found["on"] = asdict(on_net(circuit, net))
    if pair:
        found["between"] = asdict(between(circuit, *pair))
    return json_text(found) + "\n"
