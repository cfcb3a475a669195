"""The charts' own style, whatever the user's plotting settings are."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl

from auditor.report.style import chart_settings


@contextmanager
def chart_style(**more: Any) -> Iterator[None]:
    """Draw in the style of :func:`auditor.report.style.chart_settings` inside this block.

    Parameters
    ----------
    **more
        Further settings, with ``_`` for the dot in their names: ``pdf_fonttype=42``.
    """
    with mpl.rc_context():
        mpl.rcdefaults()
        settings: Any = chart_settings()
        settings.update({key.replace("_", ".", 1): value for key, value in more.items()})
        mpl.rcParams.update(settings)
        yield
