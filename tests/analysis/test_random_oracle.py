"""Two hundred random circuits, each solved a second time: device equations written out here, solved by scipy."""

import math
import random

import numpy as np
import pytest
from pytest import approx

from topo.analysis import apply_signal, operating_point
from topo.netlist import loads

root = pytest.importorskip("scipy.optimize").root

VT = 1.380649e-23 * 300.15 / 1.602176634e-19
OHMS = (47, 100, 330, 1e3, 2.2e3, 4.7e3, 10e3, 47e3, 100e3)
LEAK = 1e-12
"""Siemens across every junction and channel: the model's own, which holds nets that only cut-off devices touch."""

ROUNDED = 0.1
"""The oracle starts from the solver's voltages rounded to this, so that it has the last, steep, part of the way to
find by itself."""


class Sheet:
    """A random circuit: rows of (designator, words, parameters, nets), from which both sides are made."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.rows, self.counts = [], {}
        self.supply = self.random.choice([5.0, 9.0, 12.0, 24.0])
        top, bottom = sorted((self.ohms(), self.ohms()), reverse=True)
        self.add("R", "", {"ohm": top}, "v", "n0")
        self.add("R", "", {"ohm": bottom}, "n0", "gnd")
        self.feed = "n0"
        for number in range(self.random.randint(1, 5)):
            getattr(self, self.random.choice(ARRANGEMENTS))(number)

    def ohms(self):
        return self.random.choice(OHMS)

    def add(self, letters, words, params, *nets):
        self.counts[letters] = self.counts.get(letters, 0) + 1
        self.rows.append((f"{letters}{self.counts[letters]}", words, params, nets))

    def resistor(self, a, b):
        self.add("R", "", {"ohm": self.ohms()}, a, b)

    def bipolar(self, kind, b, c, e):
        params = {"IS": self.random.choice([1e-15, 1e-14, 2e-13]), "hFE": self.random.choice([40, 100, 300])}
        if self.random.random() < 0.5:
            params["VA"] = self.random.choice([40, 100])
        self.add("Q", kind, params, b, c, e)

    def divider(self, i):
        self.resistor(self.feed, f"o{i}")
        self.resistor(f"o{i}", "gnd")
        self.resistor("v", f"o{i}")
        self.feed = f"o{i}"

    def amplifier(self, i):
        self.bipolar("npn", self.feed, f"o{i}", f"e{i}")
        self.resistor("v", f"o{i}")
        self.resistor(f"e{i}", "gnd")
        self.feed = f"o{i}"

    def upper_amplifier(self, i):
        self.bipolar("pnp", self.feed, f"o{i}", f"e{i}")
        self.resistor("v", f"e{i}")
        self.resistor(f"o{i}", "gnd")
        self.feed = f"o{i}"

    def follower(self, i):
        self.bipolar("npn", self.feed, "v", f"o{i}")
        self.resistor(f"o{i}", "gnd")
        self.feed = f"o{i}"

    def darlington(self, i):
        self.bipolar("npn", self.feed, "v", f"m{i}")
        self.bipolar("npn", f"m{i}", "v", f"o{i}")
        self.resistor(f"o{i}", "gnd")
        self.feed = f"o{i}"

    def mirror(self, i):
        self.resistor(self.feed, f"d{i}")
        self.bipolar("npn", f"d{i}", f"d{i}", "gnd")
        self.bipolar("npn", f"d{i}", f"o{i}", "gnd")
        self.resistor("v", f"o{i}")
        self.feed = f"o{i}"

    def pair(self, i):
        self.bipolar("npn", self.feed, f"c{i}", f"t{i}")
        self.bipolar("npn", f"r{i}", f"o{i}", f"t{i}")
        for a, b in (("v", f"c{i}"), ("v", f"o{i}"), (f"t{i}", "gnd"), ("v", f"r{i}"), (f"r{i}", "gnd")):
            self.resistor(a, b)
        self.feed = f"o{i}"

    def push_pull(self, i):
        self.resistor("v", f"p{i}")
        self.add("D", "diode", {"IS": 1e-14, "N": 1.0}, f"p{i}", self.feed)
        self.add("D", "diode", {"IS": 1e-9, "N": 1.8}, self.feed, f"q{i}")
        self.resistor(f"q{i}", "gnd")
        self.bipolar("npn", f"p{i}", "v", f"o{i}")
        self.bipolar("pnp", f"q{i}", "gnd", f"o{i}")
        self.resistor(f"o{i}", "gnd")
        self.feed = f"o{i}"

    def jfet(self, kind, *nets):
        sign = -1 if kind == "njfet" else 1
        params = {"IDSS": self.random.choice([2e-3, 8e-3]), "VP": sign * self.random.choice([1.0, 3.0])}
        self.add("Q", kind, params | ({"VA": 60} if self.random.random() < 0.5 else {}), *nets)

    def common_source(self, i):
        self.jfet("njfet", self.feed, f"o{i}", f"s{i}")
        self.resistor("v", f"o{i}")
        self.resistor(f"s{i}", "gnd")
        self.feed = f"o{i}"

    def source_follower(self, i):
        self.jfet("njfet", self.feed, "v", f"o{i}")
        self.resistor(f"o{i}", "gnd")
        self.feed = f"o{i}"

    def upper_source(self, i):
        self.jfet("pjfet", self.feed, f"o{i}", f"s{i}")
        self.resistor("v", f"s{i}")
        self.resistor(f"o{i}", "gnd")
        self.feed = f"o{i}"

    def insulated_gate(self, i):
        kind = self.random.choice(["nmos", "pmos"])
        sign = 1 if kind == "nmos" else -1
        params = {"VTH": sign * self.random.choice([0.8, 2.0]), "K": self.random.choice([1e-3, 0.1])}
        rail, other = ("gnd", "v") if kind == "nmos" else ("v", "gnd")
        self.add("Q", kind, params, self.feed, f"o{i}", f"s{i}")
        self.resistor(f"s{i}", rail)
        self.resistor(f"o{i}", other)
        self.feed = f"o{i}"

    def diodes(self, i):
        self.add("D", "diode", {"IS": 2e-9, "N": 1.75}, self.feed, f"m{i}")
        self.add("D", "led", {"IS": 1e-18, "N": 2.0}, f"m{i}", f"o{i}")
        self.resistor(f"o{i}", "gnd")
        self.feed = f"o{i}"

    def netlist(self):
        lines = [f"supply v {self.supply}V", f"output {self.feed}"]
        for ref, words, params, nets in self.rows:
            if "ohm" in params:
                lines.append(f"{ref} {params['ohm']:g} : {' '.join(nets)}")
                continue
            settings = " ".join(f"{name}={value!r}" for name, value in params.items())
            names = "bce" if words in ("npn", "pnp") else "gds"
            where = nets if len(nets) == 2 else [f"{name}={net}" for name, net in zip(names, nets, strict=True)]
            lines.append(f"{ref} {words} {settings} : {' '.join(where)}")
        return "\n".join(lines)


ARRANGEMENTS = [
    *("divider", "amplifier", "upper_amplifier", "follower", "darlington", "mirror", "pair", "push_pull"),
    *("common_source", "source_follower", "upper_source", "insulated_gate", "diodes"),
]


def junction(volts, saturation, emission=1.0):
    return saturation * math.expm1(min(volts / (emission * VT), 90.0)) + LEAK * volts


def currents_of(words, params, volts):
    """Amperes into each terminal of a part at the volts of its nets, in order; written for this test alone."""
    if "ohm" in params:
        current = (volts[0] - volts[1]) / params["ohm"]
        return current, -current
    if words in ("diode", "led"):
        current = junction(volts[0] - volts[1], params["IS"], params["N"])
        return current, -current
    sign = -1.0 if words.startswith("p") else 1.0
    first, second, third = (sign * value for value in volts)
    if words in ("npn", "pnp"):
        ahead = params["IS"] * math.expm1(min((first - third) / VT, 90.0))
        back = params["IS"] * math.expm1(min((first - second) / VT, 90.0))
        across = (ahead - back) * (1.0 + (second - first) / params["VA"] if "VA" in params else 1.0)
        back += LEAK * (first - second)
        base = ahead / params["hFE"] + LEAK * (first - third) + back
        collector = across - back
        return sign * base, sign * collector, -sign * (base + collector)
    gate, drain, source = first, second, third
    low, high = min(drain, source), max(drain, source)
    if words in ("nmos", "pmos"):
        threshold, factor = abs(params["VTH"]), params["K"]
        leaks = (0.0, 0.0)
    else:
        threshold, factor = -abs(params["VP"]), params["IDSS"] / params["VP"] ** 2
        leaks = (junction(gate - drain, 1e-14), junction(gate - source, 1e-14))
    over = max(gate - low - threshold, 0.0)
    channel = factor * (over**2 if high - low > over else (high - low) * (2 * over - (high - low)))
    channel *= 1.0 + (high - low) / params.get("VA", math.inf)
    channel = (channel if drain >= source else -channel) + LEAK * (drain - source)
    return sign * sum(leaks), sign * (channel - leaks[0]), sign * (-channel - leaks[1])


class Oracle:
    """The circuit's nodal equations, and a solution by scipy."""

    def __init__(self, sheet):
        self.sheet = sheet
        self.nets = sorted({net for _, _, _, nets in sheet.rows for net in nets} - {"v", "gnd"})

    def residuals(self, x, supply):
        volts = dict(zip(self.nets, x, strict=True)) | {"v": supply, "gnd": 0.0}
        sums = dict.fromkeys(volts, 0.0)
        for _, words, params, nets in self.sheet.rows:
            for net, amperes in zip(nets, currents_of(words, params, [volts[net] for net in nets]), strict=True):
                sums[net] += amperes
        return np.array([sums[net] for net in self.nets])

    def solve(self, start):
        """From a start near by, else with the supply raised from nothing by degrees; None where scipy finds none."""
        found = self._root(start, self.sheet.supply)
        if found is not None:
            return found
        x = np.zeros(len(self.nets))
        for share in np.linspace(0.02, 1.0, 50):
            again = self._root(x, share * self.sheet.supply)
            x = x if again is None else again
        return again

    def _root(self, start, supply):
        for method, options in (("hybr", {"xtol": 1e-13, "maxfev": 4000}), ("lm", {"xtol": 1e-14, "ftol": 1e-14})):
            found = root(lambda x: 1e3 * self.residuals(x, supply), start, method=method, options=options).x
            for _ in range(3):
                found = self._refined(found, supply)
            if np.abs(self.residuals(found, supply)).max() < 1e-12:
                return found
        return None

    def _refined(self, x, supply):
        """A step of Newton's method by differences, since scipy stops where its own steps are small."""
        here = self.residuals(x, supply)
        columns = [(self.residuals(x + 1e-7 * unit, supply) - here) / 1e-7 for unit in np.eye(len(x))]
        step = np.linalg.lstsq(np.array(columns).T, here, rcond=None)[0]
        better = x - step
        return better if np.abs(self.residuals(better, supply)).max() < np.abs(here).max() else x


@pytest.mark.parametrize("seed", range(200))
def test_a_random_circuit_converges_and_agrees_with_scipy_on_equations_of_its_own(seed):
    sheet = Sheet(seed)
    point = operating_point(loads(sheet.netlist()))
    oracle = Oracle(sheet)

    assert point.status == "solved", point.missing
    assert point.residual < 1e-9
    start = np.array([round(point.voltage(net) / ROUNDED) * ROUNDED for net in oracle.nets])
    wanted = oracle.solve(start)
    assert wanted is not None, sheet.netlist()
    for net, volts in zip(oracle.nets, wanted, strict=True):
        assert point.voltage(net) == approx(volts, rel=1e-3, abs=1e-5), net
    volts = dict(zip(oracle.nets, wanted, strict=True)) | {"v": sheet.supply, "gnd": 0.0}
    for ref, words, params, nets in sheet.rows:
        amperes = currents_of(words, params, [volts[net] for net in nets])
        main = 0 if len(nets) == 2 else 1
        assert point.current(ref) == approx(amperes[main], rel=1e-3, abs=1e-9), ref


@pytest.mark.parametrize("seed", range(60))
def test_the_gain_of_a_random_circuit_is_the_slope_of_its_direct_voltages(seed):
    sheet = Sheet(seed)
    rest = operating_point(loads(sheet.netlist())).voltage("n0")
    step = 1e-5

    def output(volts):
        return operating_point(loads(f"{sheet.netlist()}\nV90 source {volts!r} : n0 gnd")).voltage(sheet.feed)

    slope = (output(rest + step) - output(rest - step)) / (2 * step)
    driven = apply_signal(loads(f"{sheet.netlist()}\nV90 source {rest!r} : n0 gnd\ninput n0"))

    assert driven.gain(sheet.feed, 1e-3).real == approx(slope, rel=1e-3, abs=1e-4)
