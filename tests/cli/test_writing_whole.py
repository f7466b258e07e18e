"""Result files are whole or not there: wrong places, full disks and kills at any moment."""

import errno
import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from topo.cli import main, writing
from topo.cli.writing import write_files

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = str(ROOT / "samples" / "intercom.net")


def run(*arguments):
    return CliRunner().invoke(main, arguments)


def test_a_report_is_not_written_over_a_file(tmp_path):
    (tmp_path / "a").write_text("mine")

    shown = run("explain", SAMPLE, "-o", str(tmp_path / "a"))

    assert shown.exit_code == 2
    assert (tmp_path / "a").read_text() == "mine"


def test_a_netlist_is_not_written_over_a_folder(tmp_path):
    shown = run("reduce", SAMPLE, "-o", str(tmp_path))

    assert shown.exit_code == 2
    assert "is a directory" in shown.stderr


def test_a_missing_folder_is_made(tmp_path):
    assert run("convert", SAMPLE, "-o", str(tmp_path / "new" / "a.net")).exit_code == 0
    assert (tmp_path / "new" / "a.net").read_text().startswith("circuit")


def test_a_place_beneath_a_file_is_told_in_one_line(tmp_path):
    (tmp_path / "a").write_text("mine")

    shown = run("convert", SAMPLE, "-o", str(tmp_path / "a" / "b.net"))

    assert shown.exit_code == 2
    assert len(shown.stderr.splitlines()) == 1


@pytest.mark.parametrize("step", ["write", "replace"])
def test_a_full_disk_leaves_the_old_files_and_nothing_else(tmp_path, monkeypatch, step):
    (tmp_path / "a.net").write_text("old")

    def full(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "a.net")

    monkeypatch.setattr(writing, "_bytes", full) if step == "write" else monkeypatch.setattr(os, "replace", full)
    shown = run("convert", SAMPLE, "-o", str(tmp_path / "a.net"))

    assert shown.exit_code == 2
    assert "no space left" in shown.stderr
    assert [(file.name, file.read_text()) for file in tmp_path.iterdir()] == [("a.net", "old")]


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_folder_that_may_not_be_written_is_told(tmp_path):
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)

    assert run("convert", SAMPLE, "-o", str(tmp_path / "a.net")).exit_code == 2


def test_a_link_stays_a_link_and_its_file_is_written(tmp_path):
    (tmp_path / "real.net").write_text("old")
    (tmp_path / "link.net").symlink_to("real.net")

    write_files({tmp_path / "link.net": "new"})

    assert (tmp_path / "link.net").is_symlink()
    assert (tmp_path / "real.net").read_text() == "new"


def test_a_device_is_written_to_and_not_replaced():
    write_files({"/dev/null": "gone"})

    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


def test_a_kill_at_any_moment_leaves_each_file_of_a_report_old_or_new(tmp_path):
    code = (
        "import sys; from topo.cli.writing import write_files\n"
        "print('ready', flush=True)\n"
        "for turn in range(10 ** 9):\n"
        "    write_files({f'{sys.argv[1]}/{name}.md': str(turn) * 300_000 + '.' for name in 'abc'})\n"
    )
    source = random.Random(5)
    for _ in range(12):
        worker = subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert worker.stdout is not None and worker.stdout.readline() == "ready\n"
        time.sleep(source.random() * 0.05)
        worker.send_signal(signal.SIGKILL)
        worker.communicate()
        for file in tmp_path.glob("[abc].md"):
            text = file.read_text()
            assert text.endswith(".")
            assert text[:-1] == text[: (len(text) - 1) // 300_000] * 300_000
