"""The charts' own style, whatever the user's plotting settings are.

The one door to the drawing library: it is loaded here, for here it heeds no environment.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from auditor.report.style import chart_settings

BACKEND = "MPLBACKEND"


# The library is loaded as if nobody had set it up: all is drawn into memory, never on a screen. A
# notebook names in the environment a backend that only it has. A home folder that cannot be written
# costs the library its cache and nobody a picture: that is not told.
_log = logging.getLogger("matplotlib")
_level, _named = _log.level, os.environ.pop(BACKEND, None)
_log.setLevel(logging.ERROR)
try:
    import matplotlib as mpl
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.patches import Ellipse, Rectangle, StepPatch
finally:
    _log.setLevel(_level)
    if _named is not None:
        os.environ[BACKEND] = _named

__all__ = ["Axes", "Ellipse", "Figure", "FigureCanvasAgg", "Rectangle", "StepPatch", "chart_style"]


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
