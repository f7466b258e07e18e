"""Where the package finds its own files, and what it keeps for the next start."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from topo.resources import cache_folder, own_folder

ROOT = Path(__file__).resolve().parent.parent
# No usual line, on account of the Ω, so that it takes the grammar to read it.
READ = "import topo; print(len(topo.loads('R1 1k\u03a9 : a b').parts))"


def start(cache: Path) -> subprocess.CompletedProcess[str]:
    """A fresh interpreter that reads a netlist with a given cache folder."""
    return subprocess.run(
        [sys.executable, "-c", READ],
        cwd=ROOT,
        env={**os.environ, "XDG_CACHE_HOME": str(cache)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_the_grammars_are_found():
    assert (own_folder("grammar") / "netlist.lark").is_file()


def test_the_parser_is_kept_for_the_next_start(tmp_path):
    assert start(tmp_path).stdout == "1\n"
    assert list((tmp_path / "topo").glob("netlist-*.lark"))
    assert start(tmp_path).stdout == "1\n"


def test_a_spoilt_cache_is_made_again_without_a_word(tmp_path):
    start(tmp_path)
    for path in (tmp_path / "topo").iterdir():
        path.write_bytes(b"spoilt")

    again = start(tmp_path)
    assert (again.stdout, again.stderr) == ("1\n", "")


def test_a_cache_that_cannot_be_written_is_done_without(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")

    again = start(blocked)
    assert (again.stdout, again.stderr) == ("1\n", "")


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="owners and modes are of POSIX systems")
def test_a_cache_that_others_may_write_to_is_not_trusted(tmp_path, monkeypatch):
    (tmp_path / "topo").mkdir()
    (tmp_path / "topo").chmod(0o777)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))

    assert cache_folder() is None
