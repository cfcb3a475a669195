"""Floor 4: two frames of an audit, and why they belong together or not."""

from __future__ import annotations

import json
from pathlib import Path, PurePosixPath
from typing import Any

import msgspec

from auditor.model.errors import WrongCall
from auditor.model.plain_file import read_plain
from auditor.model.text import visible
from auditor.past import last_audit
from auditor.report.json_reader import LARGEST_BYTES
from auditor.words import calls
from auditor.words.refusals import Groups, between_frames


def explain_frames(first: str, second: str, audit: Path | None, store: Path | None) -> list[str]:
    """Return what two frames are to each other, a sentence each.

    Parameters
    ----------
    first, second : str
        Ids, file names or the numbers at their ends: ``BRK_0012.DNG``, ``0012``.
    audit : Path or None
        An ``audit.json``; None takes the last audit that the store remembers.

    Raises
    ------
    WrongCall
        There is no such audit or frame, or more than one frame answers to a name.
    """
    if audit is not None:
        try:
            plain: dict[str, Any] = json.loads(read_plain(audit, LARGEST_BYTES))
            frames = [str(frame["id"]) for frame in plain["frames"]]
            for grad in plain.get("grads", ()):
                grad["with_"] = grad.pop("with")
            groups = msgspec.convert(plain, Groups)
        except OSError as error:
            raise WrongCall(calls.NOT_READ.format(path=audit, reason=error.strerror)) from error
        except (ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
            raise WrongCall(calls.NOT_AN_AUDIT.format(path=audit)) from error
    elif (last := last_audit(store)) is not None:
        groups = Groups(**{name: getattr(last, name) for name in Groups.__dataclass_fields__})
        frames = [frame.id for frame in last.frames]
    else:
        raise WrongCall(calls.NO_AUDIT)
    one, other = (_frame(name, frames) for name in (first, second))
    if one == other:
        raise WrongCall(calls.ONE_FRAME.format(first=visible(first), second=visible(second)))
    return list(between_frames(groups, one, other))


def _frame(name: str, frames: list[str]) -> str:
    """Find the frame that a name stands for: its id, its file's name, or the end of that."""
    wanted = name.strip()
    ends = {frame: PurePosixPath(frame).name for frame in frames}
    for fits in (
        [frame for frame in frames if frame == wanted],
        [frame for frame, end in ends.items() if wanted.lower() in (end.lower(), _stem(end))],
        [frame for frame, end in ends.items() if wanted and _stem(end).endswith(wanted.lower())],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            some = ", ".join(fits[:4])
            raise WrongCall(calls.MANY_FRAMES.format(name=visible(name), some=visible(some)))
    raise WrongCall(calls.NO_FRAME.format(name=visible(repr(name))))


def _stem(end: str) -> str:
    return PurePosixPath(end).stem.lower()
