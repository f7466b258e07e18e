"""The voltages of a circuit at rest as plain values for JSON."""

from __future__ import annotations

import math
from typing import Any

from topo.analysis.spread import Range
from topo.report.voltages import METER_OHMS, Voltages


def envelope(found: Voltages) -> dict[str, Any]:
    """Everything as plain values by the schema, SI units, null for what is not known."""
    circuit, spread = found.circuit, found.spread
    return {
        "circuit": {"title": circuit.title, "file": circuit.file, "parts": len(circuit.parts)},
        "status": spread.point.status,
        "residual": spread.point.residual if math.isfinite(spread.point.residual) else None,
        "black_lead": circuit.ground,
        "conditions": list(found.conditions),
        "supplies": [
            {"name": feed.name, "volts": feed.volts, "amperes": _plain(feed.amperes), "status": feed.status}
            for feed in found.feeds
        ],
        "devices": [
            {
                "ref": device.ref,
                "type": device.kind,
                "state": device.state or None,
                "main": device.main,
                "leads": [
                    {
                        "name": lead.name,
                        "net": lead.net,
                        "volts": _plain(lead.volts),
                        "volts_status": lead.volts_status,
                        "amperes": _plain(lead.amperes),
                        "amperes_status": lead.amperes_status,
                        "meter_loading": list(lead.loaded),
                    }
                    for lead in device.leads
                ],
            }
            for device in found.devices
        ],
        "nets": [{"name": net.name, "volts": _plain(net.volts), "status": net.status} for net in found.nets],
        "samples": {"count": spread.count, "failed": spread.failed, "percent": list(spread.percent)},
        "meter_ohms": list(METER_OHMS),
        "missing": list(found.missing),
        "doubts": list(found.doubts),
        "assumptions": list(found.assumptions),
        "cautions": list(found.cautions),
    }


def _plain(found: Range) -> dict[str, float | None]:
    values = {"low": found.low, "typical": found.typical, "high": found.high}
    return {name: value if math.isfinite(value) else None for name, value in values.items()}
