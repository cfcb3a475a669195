"""The frames of one body in the order in which they were taken, with a clock that never jumps.

Cameras' clocks are set in the middle of a trip: back, so that later frames claim to be earlier,
or forward. A camera's own counter in the file names does not lie about the order, so a frame
that claims to be earlier than the one numbered just before it shows that the clock was set.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import PurePosixPath

from auditor.group.limits import CLOCK_SLACK_S
from auditor.group.tile_image import TileImage
from auditor.model.facts import CardFile, FileFacts
from auditor.model.shoot import ShootFrame

AFTER_JUMP_S = 5.0
"""Taken to pass between two frames where the clock cannot tell."""


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """One frame in its place.

    Parameters
    ----------
    id : str
    facts : FileFacts
    image : TileImage
    counter : (str, int) or None
        The camera's own count: the part of the name before it, and the number.
    start_s : float or None
        When the shutter opened, on a clock that never jumps; None without a clock.
    clock_was_set : bool
        Whether the camera's clock jumped between the frame before and this one.
    """

    id: str
    facts: FileFacts
    image: TileImage
    counter: tuple[str, int] | None
    start_s: float | None
    clock_was_set: bool = False

    @property
    def time_s(self) -> float:
        """Shutter time; 0 where unknown."""
        return self.facts.exposure.time_s or 0.0

    @property
    def end_s(self) -> float | None:
        """When the shutter closed."""
        return None if self.start_s is None else self.start_s + self.time_s

    @property
    def middle_s(self) -> float | None:
        """The middle of the exposure."""
        return None if self.start_s is None else self.start_s + self.time_s / 2.0

    def follows(self, other: Shot) -> bool:
        """Whether the camera's own count puts this frame right after the other."""
        return follows(other.counter, self.counter)


def gap_s(earlier: Shot, later: Shot) -> float | None:
    """Return the seconds from one frame's end to the next one's start; None without clocks."""
    if earlier.end_s is None or later.start_s is None:
        return None
    return later.start_s - earlier.end_s


def counter_of(file: str) -> tuple[str, int] | None:
    """Return the camera's count in a file name: ("BRK_", 17) of "100BRACK/BRK_0017.DNG"."""
    found = re.fullmatch(r"(.*?)(\d{3,9})", PurePosixPath(file).stem)
    return (found[1], int(found[2])) if found else None


def follows(before: tuple[str, int] | None, after: tuple[str, int] | None) -> bool:
    """Whether one count comes right after another; 9999 is followed by 1 (or 0)."""
    if before is None or after is None or before[0] != after[0]:
        return False
    rolled = before[1] == 9999 and after[1] in (0, 1)
    return rolled or after[1] == before[1] + 1


def by_body(frames: Iterable[tuple[ShootFrame, TileImage]]) -> list[list[Shot]]:
    """Sort frames into bodies, each in the order of its frames with a settled clock.

    Frames that name no body go with the only body of their card, else by themselves.
    """
    bodies: dict[tuple[int, str], list[tuple[ShootFrame, TileImage]]] = defaultdict(list)
    for frame, image in frames:
        bodies[frame.source.input_index, frame.facts.camera.body].append((frame, image))
    named: dict[int, list[str]] = defaultdict(list)
    for card, body in bodies:
        if body:
            named[card].append(body)
    merged: dict[str, list[tuple[ShootFrame, TileImage]]] = defaultdict(list)
    for (card, body), members in bodies.items():
        only = named[card][0] if len(named[card]) == 1 else f"card {card}"
        merged[body or only].extend(members)
    return [in_order(members) for members in merged.values()]


def in_order(frames: Sequence[tuple[ShootFrame, TileImage]]) -> list[Shot]:
    """Put the frames of one body in order and settle its clock."""
    shots = [
        Shot(frame.id, frame.facts, image, counter_of(frame.source.file), frame.facts.start_s)
        for frame, image in sorted(frames, key=lambda pair: _file_key(pair[0].source))
    ]
    # where a counter has rolled over, 0001, 0002, 9998, 9999 starts at 9998
    counts = [shot.counter or ("", -1) for shot in shots]
    # counters run from 9999 to 0001: a hole this wide in one folder is where they did
    roll_over = 5000
    if counts and counts[0][1] in (0, 1) and counts[-1][1] == 9999:
        for i, (a, b) in enumerate(pairwise(counts), 1):
            if a[1] >= 0 and a[0] == b[0] and b[1] - a[1] > roll_over:
                shots = shots[i:] + shots[:i]
                break
    settled: list[Shot] = []
    times, last, offset_s = [], float("-inf"), 0.0
    for shot in shots:
        before = settled[-1] if settled else None
        start_s = None if shot.start_s is None else shot.start_s + offset_s
        jumped = False
        if before is not None and before.start_s is not None and start_s is not None:
            # a step back that the camera's own count forbids is undone
            jumped = start_s < before.start_s - CLOCK_SLACK_S and shot.follows(before)
            if jumped:
                resumed_s = before.start_s + before.time_s + AFTER_JUMP_S
                offset_s, start_s = offset_s + resumed_s - start_s, resumed_s
        settled.append(replace(shot, start_s=start_s, clock_was_set=jumped))
        last = last if start_s is None else start_s
        times.append(last)
    return [settled[i] for i in sorted(range(len(settled)), key=lambda i: times[i])]


def closing_stamps(files: Iterable[CardFile], facts: Mapping[str, FileFacts]) -> frozenset[str]:
    """Return the frames whose stamp is the shutter's closing, for it could not be its opening.

    A body exposes one frame at a time. Where a frame's stamp lies within the exposure of the
    one before, yet no frame would have begun before the last one ended were they the closing,
    this body writes the time when the exposure is done.
    """
    bodies: dict[tuple[int, str], list[CardFile]] = defaultdict(list)
    for file in files:
        if file.id in facts:
            bodies[file.input_index, facts[file.id].camera.body].append(file)
    closing: set[str] = set()
    for members in bodies.values():
        overlap = forbids = False
        for first, second in pairwise(sorted(members, key=_file_key)):
            a, b = facts[first.id], facts[second.id]
            counted = follows(counter_of(first.file), counter_of(second.file))
            if counted and a.clock_s is not None and b.clock_s is not None:
                apart = b.clock_s - a.clock_s
                lengths = (a.exposure.time_s or 0.0, b.exposure.time_s or 0.0)
                overlap |= 0 <= apart < lengths[0] - CLOCK_SLACK_S
                forbids |= 0 <= apart < lengths[1] - CLOCK_SLACK_S
        if overlap and not forbids:
            closing.update(file.id for file in members)
    return frozenset(closing)


def _file_key(file: CardFile) -> tuple[int, list[tuple[int, int, str]]]:
    """Sort file names as people count: 2 before 10, folder by folder."""
    parts = re.split(r"(\d+)", file.file)
    return file.input_index, [
        (0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts if part
    ]
