"""Constants and temperature laws of junctions."""

from __future__ import annotations

import math

BOLTZMANN = 1.380649e-23  # joule per kelvin, exact since the SI of 2019
CHARGE = 1.602176634e-19  # coulomb, exact since the SI of 2019
ZERO_CELSIUS = 273.15
NOMINAL_C = 27.0
SILICON_GAP = 1.11  # electron-volt, usual value for saturation currents (from memory)
GERMANIUM_GAP = 0.67  # the same
SATURATION_EXPONENT = 3.0  # of temperature, usual value (from memory)


def thermal_voltage(celsius: float) -> float:
    """kT/q in volts.

    >>> round(thermal_voltage(27.0) * 1e3, 3)
    25.865
    """
    return BOLTZMANN * (celsius + ZERO_CELSIUS) / CHARGE


def saturation_current(nominal: float, emission: float, celsius: float, gap: float = SILICON_GAP) -> float:
    """A junction's saturation current at a temperature, from that at 27 degrees Celsius.

    IS(T) = IS(T0) (T/T0)^(3/N) exp((EG / (N VT)) (T/T0 - 1)). With it VBE falls by about 2 mV a kelvin.
    Source: S. M. Sze, Physics of Semiconductor Devices (from memory).
    """
    ratio = (celsius + ZERO_CELSIUS) / (NOMINAL_C + ZERO_CELSIUS)
    exponent = gap * (ratio - 1.0) / (emission * thermal_voltage(celsius))
    return nominal * ratio ** (SATURATION_EXPONENT / emission) * math.exp(min(exponent, 200.0))
