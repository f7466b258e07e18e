"""The same examples in every run; `HYPOTHESIS_PROFILE=searching` looks for new ones."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True)
settings.register_profile("searching", derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))
