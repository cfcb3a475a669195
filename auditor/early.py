"""Floor 4: workers that start while the rest of the program is loaded. Light for that reason."""

from __future__ import annotations

import os
from collections.abc import Sequence
from itertools import chain, islice
from pathlib import Path

from auditor.engine.local import LocalEngine
from auditor.model.outcome import Engine
from auditor.store.database import default_path
from auditor.task import get_ready


def begun_engine(
    engine: Engine, paths: Sequence[str], *, store: Path | None, remembers: bool
) -> Engine:
    """Let workers of this machine start where there is sure to be work for them.

    One for each file that lies there at first sight: they start while the rest of the program is
    loaded here, which on two cores is a third of the time that a small card takes.

    Parameters
    ----------
    store : Path or None
        Another than the user's own.
    remembers : bool
        Whether what the store holds spares work: where there is one, it must be asked first.

    Returns
    -------
    Engine
        The same.
    """
    known = remembers and (store or default_path()).exists()
    if isinstance(engine, LocalEngine) and not known:
        single = [path for path in paths if os.path.isfile(path)]  # noqa: PTH113 - any name
        names = (name for path in paths for _, _, own in os.walk(path) for name in own)
        count = len(list(islice(chain(single, names), engine.workers)))
        if count:
            engine.begin(get_ready, count)
    return engine
