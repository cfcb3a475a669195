"""Under what a measurement is kept, and when a failure may be believed again."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from importlib.metadata import PackageNotFoundError, version

from auditor import __version__
from auditor.model.errors import FailureKind, FileFailure, FrameFailure
from auditor.model.facts import FileFacts
from auditor.model.settings import MeasureSettings
from auditor.store.codec import decode, encode

LIMITS = ("time_limit_s", "memory_limit_mb")
"""Settings that decide whether a file is measured, not what is measured."""

OF_THE_CONTENT = frozenset({FailureKind.DAMAGED, FailureKind.UNSUPPORTED})
"""Failures that come again with the same bytes; any other says nothing lasting of the file and is
never kept."""


def settings_key(settings: MeasureSettings) -> str:
    """Return the settings that change what is measured, as text."""
    kept = {name: value for name, value in asdict(settings).items() if name not in LIMITS}
    return json.dumps(kept, sort_keys=True)


def failure_text(failure: FrameFailure) -> str:
    """Return a failure and the versions that made it, as text."""
    told = encode(failure.facts).hex() if isinstance(failure, FileFailure) else None
    return json.dumps([failure.code, failure.message, made_by(), told])


def believed(text: str) -> FrameFailure | None:
    """Return a kept failure; None where it might not come again.

    Raises
    ------
    ValueError, TypeError, CannotDecode
        The text is not one that :func:`failure_text` made.
    """
    code, message, maker, *rest = json.loads(text)
    failure = FrameFailure(code, message)
    told = next(iter(rest), None)  # a store of an earlier version holds none
    if told is not None:
        failure = FileFailure(code, message, decode(FileFacts, bytes.fromhex(told)))
    return failure if maker == made_by() and failure.kind in OF_THE_CONTENT else None


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
