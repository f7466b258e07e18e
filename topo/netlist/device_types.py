"""Standardised type numbers (JEDEC, Pro Electron, RETMA): what kind each is, and its typical parameters."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from topo.netlist.kinds import GROUPS

_ALIKE = (frozenset(("tetrode", "pentode")), frozenset(("diode", "rectifier", "varactor")))
_SUFFIX = re.compile(r"(.*\d)(?:[A-Z]{1,2}|-\d{2})")
_VOLTAGE_REFERENCE = re.compile(r"BZ[A-Z]\d{2}-?[A-F](\d+)(?:V(\d*))?")
_GERMANIUM = re.compile(r"A[ACDFUY][A-Z]?\d{2,3}[A-Z]?")


@dataclass(frozen=True)
class DeviceType:
    """A type number with its kind, typical parameters (as a `device` statement has them), and where they are from.

    `volts` is the nominal voltage of a zener diode.
    """

    name: str
    kind: str
    params: MappingProxyType[str, float]
    germanium: bool = False
    volts: float | None = None
    source: str = ""

    def suits(self, kind: str) -> bool:
        """Whether a part said to be of a kind can be of this type: a rectifier can be a diode, an npn no pnp."""
        return kind == self.kind or any(self.kind in kinds and kind in kinds for kinds in _ALIKE)

    def allowed_by(self, implied: Iterable[str]) -> bool:
        """Whether reference letters that imply these kinds leave room for this type; none imply nothing."""
        kinds = tuple(implied)
        return not kinds or self.kind in kinds or (kinds == ("diode",) and self.kind in GROUPS["junction"])


@cache
def _rows() -> dict[str, dict[str, Any]]:
    """The data file by type number in capitals."""
    import json

    text = (Path(__file__).resolve().parent / "data" / "types.json").read_text(encoding="utf-8")
    return json.loads(text)["types"]


@cache
def device_type(name: str) -> DeviceType | None:
    """The type of a number, whatever the case; None where the data does not have it.

    A suffix that the data does not list falls away: 2N2222A has the values of 2N2222. The number of a voltage
    reference diode says its voltage (Pro Electron numbering: BZX79-C5V6 is 5.6 V), so it needs no row.
    """
    folded = name.upper()
    rows, found = _rows(), folded
    suffix = _SUFFIX.fullmatch(folded)
    if found not in rows and suffix is not None:
        found = suffix[1]
    row = rows.get(found)
    if row is None:
        return _voltage_reference(name)
    named = ("kind", "germanium", "source", "V")
    params = {key: float(value) for key, value in row.items() if key not in named}
    volts = float(row["V"]) if "V" in row else None
    return DeviceType(
        found, row["kind"], MappingProxyType(params), bool(row.get("germanium")), volts, str(row["source"])
    )


def _voltage_reference(name: str) -> DeviceType | None:
    """A diode whose number says its voltage."""
    match = _VOLTAGE_REFERENCE.fullmatch(name.upper())
    if match is None:
        return None
    volts = float(f"{match[1]}.{match[2] or 0}")
    return DeviceType(name.upper(), "zener", MappingProxyType({}), volts=volts, source="Pro Electron type numbering")


def is_germanium(name: str) -> bool:
    """Whether a type number says germanium: by the data, else by its first letter A (Pro Electron numbering)."""
    known = device_type(name)
    return known.germanium if known is not None else bool(_GERMANIUM.fullmatch(name.upper()))
