"""Circuits of the tests, read once each."""

from __future__ import annotations

from functools import cache

import pytest

import topo


@cache
def _read(text):
    return topo.read(topo.loads(text))


@pytest.fixture
def reading():
    """Reads a netlist as typed; the same text is read once."""
    return _read
