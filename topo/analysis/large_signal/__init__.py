"""Large signals: the steady cycle of a circuit that is driven with a sine, and how much power it can give.

Takes a `Graph`, its `OperatingPoint` and a drive, gives `Waveforms` (a cycle of volts and currents, with conduction
angles, distortion, power and dissipation) and `PowerLimit`. Knows the laws of the devices as the operating point
does; knows no views and no patterns. What does not converge, or has no ports, is a result that says so.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from topo.analysis.large_signal.bias import Setting as Setting
    from topo.analysis.large_signal.bias import distortion_by_bias as distortion_by_bias
    from topo.analysis.large_signal.driving import drive as drive
    from topo.analysis.large_signal.power import PowerLimit as PowerLimit
    from topo.analysis.large_signal.power import most_power as most_power
    from topo.analysis.large_signal.waveforms import Conduction as Conduction
    from topo.analysis.large_signal.waveforms import Waveforms as Waveforms

_HOMES = {
    "Setting": "bias",
    "distortion_by_bias": "bias",
    "drive": "driving",
    "most_power": "power",
    "PowerLimit": "power",
    "Waveforms": "waveforms",
    "Conduction": "waveforms",
}

__all__ = ["Conduction", "PowerLimit", "Setting", "Waveforms", "distortion_by_bias", "drive", "most_power"]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{home}"), name)
