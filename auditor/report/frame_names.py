"""Short names of frames: the file's own name, and as much of its path as tells it apart."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from auditor.model.audit import FrameResult

_WORD = re.compile(r"[^\s,;]*[^\s,;.:]")
"""A word that may be a frame's id, without the stop or colon behind it."""


def short_names(frames: Sequence[FrameResult]) -> dict[str, str]:
    """Name every frame by as little as tells it from the others.

    Returns
    -------
    dict of str to str
        Frame id to ``IMG_0042.DNG``; ``101/IMG_0042.DNG`` where another folder has that name
        too, ``IMG_0042.DNG (place 2)`` where another input has that path too. Not yet made safe
        to show.
    """
    inputs = Counter(frame.file for frame in frames)
    tails = _tails(inputs)
    return {
        frame.id: tails[frame.file] + (f" (place {frame.input + 1})" * (inputs[frame.file] > 1))
        for frame in frames
    }


def _tails(files: Iterable[str]) -> dict[str, str]:
    """Return the shortest end of each path that no other path has; the whole where none is."""
    named: dict[str, str] = {}
    waiting, depth = set(files), 1
    while waiting:
        tails = {file: "/".join(file.split("/")[-depth:]) for file in waiting}
        counts = Counter(tails.values())
        told = {f: tail for f, tail in tails.items() if counts[tail] == 1 or tail == f}
        named.update(told)
        waiting -= told.keys()
        depth += 1
    return named


def with_short_names(text: str, names: Mapping[str, str]) -> str:
    """Return a sentence with its frames told by their short names instead of their ids."""
    if "/" not in text:
        return text
    return _WORD.sub(lambda word: names.get(word[0], word[0]), text)
