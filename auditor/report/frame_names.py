"""Short names of frames: the file's own name, and as much of its path as tells it apart."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import count, zip_longest

from auditor.model.audit import FrameResult
from auditor.words.values import plain

LONGEST_NAME = 80
_WORD = re.compile(r"[^\s,;]*[^\s,;.:]")
"""A word that may be a frame's id, without the stop or colon behind it."""


def short_names(frames: Sequence[FrameResult]) -> dict[str, str]:
    """Name every frame by as little as tells it from the others.

    Returns
    -------
    dict of str to str
        Frame id to ``IMG_0042.DNG``; ``101/IMG_0042.DNG`` where another folder has that name
        too, ``card-1 … IMG_0042.DNG`` where only a folder further up tells them apart,
        ``IMG_0042.DNG (card 2)`` where another input has that path too. Not yet made safe to
        show.
    """
    inputs = Counter(frame.file for frame in frames)
    namesakes: dict[str, list[str]] = defaultdict(list)
    for file in inputs:
        namesakes[file.rpartition("/")[2]].append(file)
    named: dict[str, str] = {}
    for name, group in namesakes.items():
        if len(group) == 1:
            named[group[0]] = name
            continue
        # by one folder that no namesake has as far up; by their ends where no folder will do
        tails, above = _tails(group), [file.split("/")[-2::-1] for file in group]
        levels = [Counter(level) for level in zip_longest(*above)]
        for file, folders in zip(group, above, strict=True):
            alone = (up for up, folder in enumerate(folders) if levels[up][folder] == 1)
            up = next(alone, None)
            between = "/" if up == 0 else " … "
            named[file] = tails[file] if up is None else f"{folders[up]}{between}{name}"
    if len(set(named.values())) < len(named):
        named = _tails(named)
    return {
        frame.id: named[frame.file] + (f" (card {frame.input + 1})" * (inputs[frame.file] > 1))
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


def file_stems(frame_ids: Iterable[str], endings: Sequence[str]) -> dict[str, str]:
    """Return a file name without its ending for each frame, so that no two files are the same.

    Parameters
    ----------
    endings : sequence of str
        Those of each frame's files.
    """
    stems: dict[str, str] = {}
    taken: set[str] = set()
    for frame_id in frame_ids:
        first = safe_name(frame_id)
        for number in count(1):
            stem = first if number == 1 else f"{first}-{number}"
            files = {f"{stem}{ending}".casefold() for ending in endings}
            if taken.isdisjoint(files):
                break
        stems[frame_id] = stem
        taken |= files
    return stems


def safe_name(frame_id: str) -> str:
    """Return a file name, without its ending, that every file system takes.

    Letters and digits of ASCII, dot, hyphen and underscore stay; all else becomes a hyphen.
    """
    kept = re.sub(r"[^A-Za-z0-9._-]+", "-", frame_id).strip("-.")
    kept = kept[-LONGEST_NAME:].strip("-.") or "frame"
    return f"_{kept}" if _RESERVED.match(kept) else kept


_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
"""Names of devices on one family of systems, whatever ending follows."""


def with_short_names(text: str, names: Mapping[str, str]) -> str:
    """Return a sentence with its frames told by their short names instead of their ids."""
    if "/" not in text:
        return text
    return _WORD.sub(lambda word: names.get(word[0], word[0]), text)


def plain_named(text: str, names: Mapping[str, str]) -> str:
    """Return a sentence with its frames' short names, safe to show."""
    return plain(with_short_names(text, names))
