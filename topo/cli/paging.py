"""The page that standard output is."""

from __future__ import annotations

import os
import shutil
import sys

from topo.report.layout import NARROWEST, WIDEST, Page


def page() -> Page:
    """As wide as the terminal, within reason; bold on a terminal alone, and never where NO_COLOR is set."""
    if not sys.stdout.isatty():
        return Page()
    columns = shutil.get_terminal_size((WIDEST, 24)).columns
    plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
    return Page(max(NARROWEST, min(WIDEST, columns)), bold=not plain)
