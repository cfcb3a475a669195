"""Finding the raw files on a card: by content, with their companions and copies.

A raw file may bear any name, and a name that promises one may hold something else: each file's
first bytes decide. Nothing is passed over unsaid: what is no raw file is counted by suffix, what
looks like one and cannot be read is told as a problem.

Standard library only; runs in the parent process and opens each file once.
"""

from __future__ import annotations

import re
import stat
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath

from auditor.model.errors import UnreadableFile, WrongCall
from auditor.model.facts import CardFile, CardFindings, FileLook
from auditor.model.text import public_address, visible_name
from auditor.read.content import OpenedFile, look_at, open_file
from auditor.read.failures import failure_of
from auditor.read.kinds import (
    BIG_TIFF_STARTS,
    HEAD_BYTES,
    RAW_SUFFIXES,
    is_resource_fork,
    kind_of,
    other_kind,
)
from auditor.read.remote import is_url, local_path, walk_url
from auditor.read.walk import NO_SUFFIX, Sighting, Walk, walk_path, without_repeats
from auditor.words import calls, unread

_DIGITS = re.compile(r"([0-9]+)")

NaturalKey = tuple[tuple[tuple[tuple[int, int, str], ...], ...], str]


def natural_key(name: str) -> NaturalKey:
    """Return a key that sorts IMG_9 before IMG_10, folder by folder, case put last.

    Runs of digits compare as numbers by length and digits, so that no run is too long.
    """
    parts = []
    for part in name.casefold().split("/"):
        pieces = []
        for piece in filter(None, _DIGITS.split(part)):
            digits = piece.lstrip("0")
            number = piece.isascii() and piece.isdigit()
            pieces.append((0, len(digits), digits) if number else (1, 0, piece))
        parts.append(tuple(pieces))
    return tuple(parts), name


COMPANION_SUFFIXES = frozenset({".jpg", ".jpeg", ".jpe", ".heic", ".heif", ".hif", ".xmp"})


@dataclass(frozen=True, slots=True)
class _Raw:
    """A raw file before it has its id."""

    seen: Sighting
    kind: str
    size_bytes: int
    look: FileLook


def find_files(paths: Sequence[str]) -> CardFindings:
    r"""Find the raw files under paths.

    Parameters
    ----------
    paths : sequence of str
        Files and folders, of this machine or at a URL that fsspec opens; folders are searched
        to any depth.

    Returns
    -------
    CardFindings
        Files sorted by path given, then by name as people count (IMG_9 before IMG_10); names
        visible, a byte that is no text as ``\xNN`` (:mod:`auditor.model.text`).

    Raises
    ------
    WrongCall
        No path is given, or one does not exist or is neither file nor folder.

    Notes
    -----
    A quick look at each file (size, first and last 64 KiB) finds what may be its copy; what it is,
    only its whole content tells, which a worker reads.
    """
    walk = Walk()
    for index, path in enumerate(_checked([local_path(path) for path in paths])):
        (walk_url if is_url(path) else walk_path)(walk, index, path)
    raws, others = [], []
    for seen in without_repeats(walk):
        try:
            raw = _look_into(seen)
        except UnreadableFile as error:
            walk.problem(seen.input_index, seen.relative, error.code, error.message)
        else:
            if raw is None:
                others.append(seen)
            else:
                raws.append(raw)
    companions = _companions(raws, others, walk)
    for seen in others:
        walk.passed_over[visible_name(seen.suffix) or NO_SUFFIX] += 1
    names = _Names(len(paths))
    raws.sort(key=lambda raw: (raw.seen.input_index, natural_key(raw.seen.relative)))
    files = []
    for raw in raws:
        beside = sorted(companions[raw.seen], key=natural_key)
        files.append(
            replace(
                _named(raw.seen.input_index, raw.seen.relative, names),
                path=raw.seen.path,
                kind=raw.kind,
                size_bytes=raw.size_bytes,
                look=raw.look,
                companions=tuple(map(visible_name, beside)),
            )
        )
    problems = sorted(walk.problems, key=lambda found: (found[0], natural_key(found[1])))
    # what looked raw and could not even be opened has a line of its own
    unread = tuple(_named(index, name, names) for index, name, _, _ in problems)
    return CardFindings(
        files=tuple(files),
        inputs=tuple(visible_name(public_address(path)) for path in paths),
        problems=tuple(
            (file.id, code, text) for file, (_, _, code, text) in zip(unread, problems, strict=True)
        ),
        unread=unread,
        passed_over=dict(sorted(walk.passed_over.items())),
    )


def _checked(paths: Sequence[str]) -> Sequence[str]:
    if not paths:
        raise WrongCall(calls.NO_PATH)
    for path in (path for path in paths if not is_url(path)):
        try:
            mode = Path(path).stat().st_mode
        except (FileNotFoundError, NotADirectoryError, ValueError) as error:
            raise WrongCall(calls.NOTHING_THERE.format(path=visible_name(path))) from error
        except OSError as error:
            raise WrongCall(f"{visible_name(path)}: {failure_of(error).message}") from error
        if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
            raise WrongCall(calls.NO_FILE_OR_FOLDER.format(path=visible_name(path)))
    return paths


def _look_into(seen: Sighting) -> _Raw | None:
    """Open a file once and tell what it is; None for what is none of this tool's business.

    Raises
    ------
    UnreadableFile
        It was promised to be a raw file, and cannot be read or is none.
    """
    promised = seen.asked or seen.suffix in RAW_SUFFIXES
    try:
        with open_file(seen.path) as opened:
            kind = None if opened is None else kind_of(opened.stream)
            if opened is None:
                return None
            if kind is None or (kind == "picture" and seen.suffix not in RAW_SUFFIXES):
                if promised:
                    _refuse(seen, opened)
                return None
            kind = "tiff" if kind == "picture" else kind
            return _Raw(seen, kind, opened.size_bytes, look_at(opened))
    except OSError as error:
        if promised:
            raise failure_of(error) from error
        return None


def _refuse(seen: Sighting, opened: OpenedFile) -> None:
    """Say why something that was promised to be a raw file is none."""
    if opened.size_bytes == 0:
        raise unread.HOLDS_NOTHING.error()
    opened.stream.seek(0)
    head = opened.stream.read(HEAD_BYTES)
    if is_resource_fork(head) and not seen.asked:
        return
    if head.startswith(BIG_TIFF_STARTS):
        raise unread.BIG_TIFF.error()
    if not any(head):
        raise unread.BEGINS_WITH_ZEROS.error()
    raise unread.NOT_RAW.error(what=other_kind(head) or unread.LIKE_NO_RAW)


class _Names:
    """Gives each file a name of its own in the audit."""

    def __init__(self, inputs: int) -> None:
        self._inputs = inputs
        self._given: set[str] = set()

    def give(self, input_index: int, relative: str) -> str:
        """Return the visible relative path, the path's number before it where it is taken."""
        name = visible_name(relative)
        while name in self._given:
            name = f"{input_index + 1}:{name}"
        self._given.add(name)
        return name


def _named(input_index: int, relative: str, names: _Names) -> CardFile:
    """Give a file its line, of which nothing but the name is known."""
    file = visible_name(relative)
    return CardFile(
        id=names.give(input_index, relative),
        input_index=input_index,
        path=file,
        file=file,
        kind="",
        size_bytes=0,
        content_key="",
    )


def _companions(
    raws: Sequence[_Raw], others: list[Sighting], walk: Walk
) -> defaultdict[Sighting, list[str]]:
    """Find pictures and sidecars beside each raw file, and take them out of ``others``."""
    beside: defaultdict[tuple[tuple[int, str], str], list[Sighting]] = defaultdict(list)
    for seen in others:
        if seen.suffix in COMPANION_SUFFIXES:
            beside[seen.folder, _stem(seen)].append(seen)
    found: defaultdict[Sighting, list[str]] = defaultdict(list)
    taken: set[Sighting] = set()
    for raw in raws:
        if raw.seen.asked:
            found[raw.seen] = _beside_single(raw.seen)
        for stem in {_stem(raw.seen), raw.seen.name.casefold()}:
            mates = beside.get((raw.seen.folder, stem), [])
            found[raw.seen].extend(mate.relative for mate in mates)
            taken.update(mates)
    others[:] = [seen for seen in others if seen not in taken]
    return found


def _stem(seen: Sighting) -> str:
    return PurePath(seen.name).stem.casefold()


def _beside_single(seen: Sighting) -> list[str]:
    """Find the companions of a file that was named by itself, not found in a folder."""
    if is_url(seen.path):
        return []
    wanted = {_stem(seen), seen.name.casefold()}
    try:
        names = [PurePath(mate) for mate in Path(seen.path).parent.iterdir()]
    except OSError:
        return []
    return [
        mate.name
        for mate in names
        if mate.suffix.lower() in COMPANION_SUFFIXES
        and mate.stem.casefold() in wanted
        and mate.name != seen.name
    ]
