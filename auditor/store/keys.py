"""Under what a measurement is kept, and when a failure may be believed again."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from importlib.metadata import PackageNotFoundError, version

from auditor import __version__
from auditor.model.settings import MeasureSettings

LIMITS = ("time_limit_s", "memory_limit_mb")
"""Settings that decide whether a file is measured, not what is measured."""

PASSING = frozenset(
    {"vanished", "no-permission", "input-error", "worker-died", "internal", "interrupted"}
)
"""Failures that say nothing lasting of the file: never kept, the next audit tries again."""

OF_LIMITS = frozenset({"timed-out", "out-of-memory", "too-large"})
"""Failures that a higher limit may cure."""


def settings_key(settings: MeasureSettings) -> str:
    """Return the settings that change what is measured, as text."""
    kept = {name: value for name, value in asdict(settings).items() if name not in LIMITS}
    return json.dumps(kept, sort_keys=True)


def limits_text(settings: MeasureSettings) -> str:
    """Return the limits under which a file failed, as text."""
    return json.dumps([getattr(settings, name) for name in LIMITS])


def still_fails(code: str, limits: str, settings: MeasureSettings) -> bool:
    """Tell whether a failure under those limits would come again under these."""
    if code not in OF_LIMITS:
        return True
    then = json.loads(limits)
    return all(getattr(settings, name) <= was for name, was in zip(LIMITS, then, strict=True))


@cache
def made_by() -> str:
    """Name the versions that decide which files can be read at all.

    A failure is believed only by the same: a newer decoder may read what an older could not.
    """
    try:
        decoder = version("rawpy")
    except PackageNotFoundError:
        decoder = "?"
    return f"{__version__} {decoder}"
