"""What the tests of large signals share: a netlist driven in one line."""

from topo.analysis import operating_point
from topo.analysis.large_signal import drive, most_power
from topo.graph import normalise
from topo.netlist import loads


def driven(text, amplitude, **options):
    graph = normalise(loads(text))
    return drive(graph, operating_point(graph), amplitude=amplitude, **options)


def power_limit(text, **options):
    graph = normalise(loads(text))
    return most_power(graph, operating_point(graph), **options)
