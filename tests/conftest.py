"""What every test stands on: no settings of whoever runs them."""

from __future__ import annotations

import os
from pathlib import Path

os.environ["AUDITOR_SETTINGS"] = str(Path(__file__).parent / "data" / "empty.toml")
