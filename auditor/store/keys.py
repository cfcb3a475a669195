"""Under what a measurement is kept, and when a failure may be believed again."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from importlib.metadata import PackageNotFoundError, version

from auditor import __version__
from auditor.model.errors import FrameFailure
from auditor.model.settings import MeasureSettings

LIMITS = ("time_limit_s", "memory_limit_mb")
"""Settings that decide whether a file is measured, not what is measured."""

PASSING = frozenset(
    {
        "vanished",
        "changed",
        "no-permission",
        "input-error",
        "worker-died",
        "internal",
        "interrupted",
    }
)
"""Failures that say nothing lasting of the file: never kept, the next audit tries again."""

OF_LIMITS = frozenset({"timed-out", "out-of-memory"})
"""Failures that a higher limit may cure."""


def settings_key(settings: MeasureSettings) -> str:
    """Return the settings that change what is measured, as text."""
    kept = {name: value for name, value in asdict(settings).items() if name not in LIMITS}
    return json.dumps(kept, sort_keys=True)


def failure_text(failure: FrameFailure, settings: MeasureSettings) -> str:
    """Return a failure and the limits and versions under which it came, as text."""
    limits = [getattr(settings, name) for name in LIMITS]
    return json.dumps([failure.code, failure.message, made_by(), limits])


def believed(text: str, settings: MeasureSettings) -> FrameFailure | None:
    """Return a kept failure; None where it might not come again.

    Raises
    ------
    ValueError, TypeError
        The text is not one that :func:`failure_text` made.
    """
    code, message, maker, limits = json.loads(text)
    if maker != made_by():
        return None
    higher = any(getattr(settings, name) > was for name, was in zip(LIMITS, limits, strict=True))
    return None if code in OF_LIMITS and higher else FrameFailure(code, message)


@cache
def made_by() -> str:
    """Name the versions that decide which files can be read at all.

    A failure is believed only by the same: a newer decoder may read what an older could not.
    """
    decoders = ("rawpy", "imagecodecs")
    return " ".join([__version__, *(_version_of(name) for name in decoders)])


def _version_of(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "?"
