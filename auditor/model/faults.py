"""Our own faults: what one is, and where its traceback is kept."""

from __future__ import annotations

import logging
import sys
import traceback
from pathlib import Path

import auditor
from auditor.model.text import without_secrets

_LONGEST_TEXT = 300
_LOG = logging.getLogger("auditor.faults")
_LOG.addHandler(
    logging.NullHandler()
)  # a traceback goes to no terminal, only where it is asked for
_LOG.propagate = False


def fault_text(error: BaseException) -> str:
    """Name a fault in brackets' worth of text: its type, its message, and the line of ours."""
    text = without_secrets(" ".join(str(error).split()))[:_LONGEST_TEXT]
    told = f"{type(error).__name__}: {text}" if text else type(error).__name__
    root = Path(auditor.__file__).parent
    ours = [
        frame
        for frame in traceback.extract_tb(error.__traceback__)
        if Path(frame.filename).is_relative_to(root)
    ]
    if not ours:
        return told
    return f"{told}, at {Path(ours[-1].filename).relative_to(root).as_posix()}:{ours[-1].lineno}"


def trace_of(error: BaseException) -> str:
    """Return the whole traceback as text."""
    return "".join(traceback.format_exception(error))


def keep_trace(about: str, trace: str) -> None:
    """Keep a traceback where :func:`traces_go_to` says, if anywhere."""
    _LOG.error("%s\n%s", without_secrets(about), without_secrets(trace))


def traces_go_to(path: Path) -> logging.Handler:
    """Append tracebacks to a file from now on, until the handler returned is closed.

    The file begins with what a report of a fault needs: the versions.

    Raises
    ------
    OSError
        It cannot be written.
    """
    handler = logging.FileHandler(path, encoding="utf-8", errors="backslashreplace")
    handler.setFormatter(logging.Formatter("%(asctime)s %(message)s"))
    _LOG.addHandler(handler)
    _LOG.error("exposure-auditor %s, Python %s", auditor.__version__, sys.version)
    return handler
