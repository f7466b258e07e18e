"""Every device law: its derivatives, its currents' sum, and its states."""

import numpy as np
import pytest
from pytest import approx

from topo.analysis.devices.group import GMIN
from topo.analysis.equations import Equations, add_devices
from topo.graph import normalise
from topo.netlist import loads

DEVICES = {
    "npn": "Q1 npn VA=60 : b=x c=y e=z",
    "pnp": "Q1 pnp germanium VA=60 : b=x c=y e=z",
    "diode": "D1 diode : x y",
    "zener": "D1 zener 5V6 : x y",
    "njfet": "Q1 njfet VA=80 : g=x d=y s=z",
    "pjfet": "Q1 pjfet : g=x d=y s=z",
    "nmos": "Q1 nmos VA=80 : g=x d=y s=z",
    "pmos": "Q1 pmos : g=x d=y s=z",
    "triode": "V1 triode : a=x g=y k=z",
    "pentode": "V1 pentode : a=x g1=y g2=w g3=z k=z",
    "opamp": "U1 opamp : in+=x in-=y out=z v+=w v-=q",
    "regulator": "U1 regulator 5V : in=x out=y common=z",
}
PLACES = {
    "npn": [(0.65, -5.0), (0.65, 0.6), (-1.0, 0.6), (0.1, 0.1)],
    "pnp": [(0.2, -5.0), (0.2, 0.15)],
    "diode": [(0.6,), (-5.0,), (0.1,)],
    "zener": [(0.6,), (-5.6,), (-5.5,), (-1.0,)],
    "njfet": [(-1.0, 5.0), (-1.0, 0.5), (-1.0, -0.5), (-3.0, 5.0), (-1.0, -5.0), (0.5, 1.0)],
    "pjfet": [(-1.0, 5.0), (-1.0, 0.5)],
    "nmos": [(3.0, 5.0), (3.0, 0.5), (3.0, -0.5), (1.0, 5.0), (3.0, -5.0)],
    "pmos": [(3.0, 5.0), (3.0, 0.5)],
    "triode": [(-1.0, 150.0), (0.4, 50.0), (-5.0, 100.0), (-1.0, -10.0)],
    "pentode": [(-10.0, 250.0, 200.0), (1.0, 100.0, 20.0), (-40.0, 250.0, 300.0)],
    "opamp": [(1e-5, 10.0, -10.0, 1e-3, 1.0), (1e-4, 10.0, 0.0, -1e-3, 1.0), (-2e-5, 12.0, 2.0, 0.0, 0.0)],
    "regulator": [(9.0, 5.0, 0.1), (5.9, 4.9, 0.1), (3.0, 2.0, 0.1)],
}


def group_of(kind):
    graph = normalise(loads(DEVICES[kind]))
    equations = Equations(graph, 27.0, len(graph.nets))
    add_devices(equations)
    return equations.groups[0]


@pytest.mark.parametrize("kind", DEVICES)
def test_the_slopes_of_a_law_are_the_derivatives_of_its_currents(kind):
    group = group_of(kind)
    for place in PLACES[kind]:
        u = np.array([place], dtype=float)
        _, slopes = group.branches(u, GMIN)
        for column in range(u.shape[1]):
            step = 1e-8 if kind == "opamp" and column == 0 else 1e-6
            ahead, behind = u.copy(), u.copy()
            ahead[0, column] += step
            behind[0, column] -= step
            numeric = (group.branches(ahead, GMIN)[0] - group.branches(behind, GMIN)[0]) / (2 * step)

            assert slopes[0, :, column] == approx(numeric[0], rel=2e-4, abs=1e-9)


@pytest.mark.parametrize("kind", [kind for kind in DEVICES if kind not in ("opamp", "regulator")])
def test_what_flows_into_a_device_flows_out_again(kind):
    group = group_of(kind)
    for place in PLACES[kind]:
        currents, _ = group.branches(np.array([place], dtype=float), GMIN)

        assert group.terminal_currents(currents).sum() == approx(0.0, abs=1e-12 * (1 + np.abs(currents).max()))


@pytest.mark.parametrize("kind", DEVICES)
def test_a_step_that_is_small_is_not_limited(kind):
    group = group_of(kind)
    group.begin()
    for place in PLACES[kind]:
        old = np.array([place], dtype=float)
        new = old + 1e-7

        assert group.limit(new, old) == approx(new, abs=1e-12)


@pytest.mark.parametrize("kind", DEVICES)
def test_extreme_control_voltages_stay_finite(kind):
    group = group_of(kind)
    for volts in (-1e4, 1e4):
        currents, slopes = group.branches(np.full_like(group.start, volts), GMIN)

        assert np.isfinite(currents).all()
        assert np.isfinite(slopes).all()


@pytest.mark.parametrize("kind", ["npn", "pnp", "diode", "njfet", "nmos", "pmos", "triode", "pentode"])
@pytest.mark.parametrize("amperes", [1e-4, 1e-2, 0.1])
def test_a_driven_device_carries_the_current_that_it_is_driven_to(kind, amperes):
    group = group_of(kind)
    controls = group.driven(0, amperes, np.full(group.start.shape[1], np.nan))
    current = group.branches(controls[None, :], 0.0)[0][0, 0]

    assert current == approx(amperes, rel=0.02)  # germanium's leakage comes on top
