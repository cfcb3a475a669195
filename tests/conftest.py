"""How every test runs: the same cases each time, no deadline, no settings of whoever runs them."""

from __future__ import annotations

import os
from pathlib import Path

from hypothesis import HealthCheck, settings

os.environ["AUDITOR_SETTINGS"] = str(Path(__file__).parent / "data" / "empty.toml")

settings.register_profile(
    "anywhere", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("search", deadline=None, max_examples=2000)
# HYPOTHESIS_PROFILE=search looks for cases that nobody has seen yet
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "anywhere"))
