"""Keeping a library's own words off standard error."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet() -> Iterator[None]:
    """Keep the decoder's own words off standard error: it writes them without being asked."""
    try:
        kept = os.dup(2)
    except OSError:  # there is no standard error
        yield
        return
    try:
        with contextlib.suppress(Exception):
            sys.stderr.flush()
        with open(os.devnull, "wb") as nowhere:  # noqa: PTH123 - a device, not a path
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
