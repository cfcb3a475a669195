"""Floor 4: frames judged and evenings grouped, here or in a few processes of this machine.

A process fetches measurements from the store by itself and keeps the pictures of an evening in a
file until all evenings are known to each other: what crosses between processes is small.
"""

from __future__ import annotations

import logging
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TypeVar

from auditor.engine.local import LocalEngine
from auditor.figures.frame import judge_frame
from auditor.files.laid import AtHand, Folder
from auditor.group.evenings import Keep, Sight, see
from auditor.group.shots import Shot
from auditor.group.tile_image import TileImage, reduced
from auditor.light.optics import frame_optics
from auditor.model.audit import FrameResult
from auditor.model.outcome import done
from auditor.model.settings import Settings
from auditor.model.shoot import Fetching, ShootFrame, done_with_frames, on_frames
from auditor.rules import frame_view, with_frame_findings

Answer = TypeVar("Answer")
Looked = tuple[dict[str, FrameResult], Sight]

IN_MEMORY = 500
"""Pictures of so many frames are kept in memory, 75 KB each; those of more lie in files."""

LEAST_FRAMES = 64
"""Of so many frames and more an evening is worked on by itself: a few MB in a file, a second."""

APART_FROM = 1000
"""Fewer frames are concluded by one process: to start others takes as long as some 300 frames."""

TIME_LIMIT_S, MEMORY_LIMIT_MB = 900.0, 1024
"""Of one evening in a process of its own; what meets them is done here."""


@dataclass(eq=False)
class EveningHands:
    """Judges the frames of each evening and groups them.

    Parameters
    ----------
    frames : sequence of ShootFrame
        Those to see, copies included: they are judged where their first one is.
    engine : LocalEngine, optional
        Processes to do it in; else it is done here.
    judged : dict
        Filled with the results of all frames that were looked at.
    """

    settings: Settings
    keep: Keep
    engine: LocalEngine | None = None
    least_frames: int = LEAST_FRAMES
    frames: Sequence[ShootFrame] = ()
    judged: dict[str, FrameResult] = field(default_factory=dict)

    def see(self, evenings: Sequence[Sequence[Shot]]) -> list[Sight]:
        """Judge the frames of some evenings and look at their pictures."""
        copies: dict[str, list[ShootFrame]] = defaultdict(list)
        for frame in self.frames:
            copies[frame.source.content_key].append(frame)
        by_id = {frame.id: frame for frame in self.frames}
        looked = self.spread(
            [
                on_frames(
                    partial(look, tuple(shots), settings=self.settings, keep=self.keep),
                    [one for shot in shots for one in copies[by_id[shot.id].source.content_key]],
                )
                for shots in evenings
            ]
        )
        for judged, _ in looked:
            self.judged.update(judged)
        return [sight for _, sight in looked]

    def spread(self, work: Sequence[Fetching[Answer]]) -> list[Answer]:
        """Do some work on frames; other processes fetch these for themselves, if all can."""
        answers = dict(done_with_frames(self.engine, work))
        return [answers[place] for place in range(len(work))]

    def run(self, work: Sequence[Callable[[], Answer]]) -> list[Answer]:
        """Do some work that fetches nothing."""
        answers = dict(done(self.engine, work, work))
        return [answers[place] for place in range(len(work))]


def look(
    shots: Sequence[Shot], frames: Sequence[ShootFrame], *, settings: Settings, keep: Keep
) -> Looked:
    """Judge frames and look at the pictures of those that are one evening of a body.

    Each whole measurement is fetched once for both.
    """
    judged: dict[str, FrameResult] = {}
    images: dict[str, TileImage] = {}
    wanted = {shot.id for shot in shots}
    for frame in frames:
        settled = frame.settled()
        result = judge_frame(frame.source, settled, settings.judge)
        optics = frame_optics(result, settings.print.viewing_diagonals)
        view = frame_view(replace(result, optics=optics), settled.measurement, settings)
        judged[frame.id] = with_frame_findings(view)
        if frame.id in wanted:
            images[frame.id] = reduced(settled)
    seen = [replace(shot, image=images.pop(shot.id)) for shot in shots]
    return judged, see(seen, settings.group, keep)


@contextmanager
def evening_hands(frames: int, settings: Settings, workers: int) -> Iterator[EveningHands]:
    """Yield who judges and groups so many frames: processes where there may be some.

    Decisions that are told as they are made are made here.
    """
    told = logging.getLogger("auditor.group").isEnabledFor(logging.DEBUG)
    with ExitStack() as stack:
        keep: Keep = AtHand
        engine: LocalEngine | None = None
        if frames > IN_MEMORY:
            with suppress(OSError):  # where there is no room they are kept in memory
                folder = tempfile.TemporaryDirectory(
                    prefix="exposure-auditor-", ignore_cleanup_errors=True
                )
                keep = Folder(stack.enter_context(folder))
        if frames >= APART_FROM and workers > 1 and not told and keep is not AtHand:
            engine = LocalEngine(
                workers, TIME_LIMIT_S, MEMORY_LIMIT_MB, tasks_per_worker=0, lasting=True
            )
            stack.callback(engine.close)
        yield EveningHands(settings, keep, engine, LEAST_FRAMES)
