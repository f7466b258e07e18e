"""Tests of matching keep the compiled patterns in a folder of their own."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
