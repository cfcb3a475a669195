"""Where the terminal's text goes: wrapped for a reader, whole lines for whatever reads a pipe."""

from __future__ import annotations

import logging
import os
import sys

from rich.console import Console

DEBUG = "AUDITOR_DEBUG"
"""Names the rooms whose decisions are told, such as "group,settle"; "all" for every room."""

UNWRAPPED = 100_000


def make_console(*, stderr: bool = False, quiet: bool = False) -> Console:
    """Return a console that wraps on a terminal only: elsewhere a line is a line."""
    console = Console(stderr=stderr, quiet=quiet, highlight=False)
    if not console.is_terminal:
        console = Console(stderr=stderr, quiet=quiet, highlight=False, width=UNWRAPPED)
    return console


class _StandardError(logging.Handler):
    """Writes to what standard error is when something is told, not when the handler was made."""

    def emit(self, record: logging.LogRecord) -> None:
        print(self.format(record), file=sys.stderr)


def tell_decisions(rooms: str | None = None) -> None:
    """Let rooms tell their decisions on standard error, as they are made.

    Parameters
    ----------
    rooms : str, optional
        As in :data:`DEBUG`; what the environment says without it.
    """
    named = os.environ.get(DEBUG, "") if rooms is None else rooms
    handler = _StandardError()
    handler.setFormatter(logging.Formatter("%(name)s: %(message)s"))
    for room in filter(None, (part.strip().lower() for part in named.split(","))):
        logger = logging.getLogger("auditor" if room == "all" else f"auditor.{room}")
        logger.setLevel(logging.DEBUG)
        if not any(isinstance(old, _StandardError) for old in logger.handlers):
            logger.addHandler(handler)
