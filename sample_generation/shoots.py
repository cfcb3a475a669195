"""The named shoots, and how one is made."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from itertools import groupby
from multiprocessing import get_context
from pathlib import Path

from sample_generation.decoys import DECOYS
from sample_generation.evening import evening
from sample_generation.frames import Errand, make_frame
from sample_generation.habits import HABITS
from sample_generation.plans import FIRST_CARD, SECOND_CARD, Plan
from sample_generation.records import (
    BracketRecord,
    FrameRecord,
    GradRecord,
    PairRecord,
    RunRecord,
    Truth,
    write_truth,
)

SHOOTS: dict[str, Callable[[int], Plan]] = {"evening": evening, **DECOYS, **HABITS}
"""Name to the function that plans the shoot from a seed."""

GROUP_SIZE = 6
"""Frames of one composition that one process makes in a row, as what stands still is kept."""


def make_shoot(
    name: str,
    out: Path,
    *,
    megapixels: float = 6.0,
    seed: int = 7,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Truth:
    """Make all files of a shoot under ``out``, and ``truth.json`` beside its cards.

    Parameters
    ----------
    workers : int or None
        Processes; None for as many as there are cores, 1 for this process alone.
    progress : callable or None
        Told how many frames of how many are made.

    Raises
    ------
    KeyError
        There is no shoot of that name.
    """
    plan = SHOOTS[name](seed)
    out.mkdir(parents=True, exist_ok=True)
    errands = [Errand(shot, megapixels, out) for shot in plan.shots]
    frames: dict[str, FrameRecord] = {}
    for made in _make_all(errands, workers or os.cpu_count() or 1):
        frames.update((frame.name, frame) for frame in made)
        if progress is not None:
            progress(len(frames), len(errands))
    truth = _truth(name, seed, megapixels, plan, [frames[s.name] for s in plan.shots])
    write_truth(truth, out)
    return truth


def _make_all(errands: list[Errand], workers: int) -> Iterator[list[FrameRecord]]:
    if workers == 1:
        for errand in errands:
            yield [make_frame(errand)]
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(_make_group, list(_groups(errands)))


def _make_group(errands: list[Errand]) -> list[FrameRecord]:
    return [make_frame(errand) for errand in errands]


def _groups(errands: Iterable[Errand]) -> Iterator[list[Errand]]:
    """Split into runs of one composition, of at most :data:`GROUP_SIZE` frames."""
    for _, run in groupby(errands, key=lambda errand: errand.shot.composition):
        together = list(run)
        for first in range(0, len(together), GROUP_SIZE):
            yield together[first : first + GROUP_SIZE]


def _truth(name: str, seed: int, megapixels: float, plan: Plan, frames: list[FrameRecord]) -> Truth:
    by_name = {frame.name: frame for frame in frames}
    setups: dict[str, list[str]] = {}
    for frame in frames:
        if frame.readable and not frame.cap_on:
            setups.setdefault(frame.setup, []).append(frame.name)
    return Truth(
        shoot=name,
        seed=seed,
        megapixels=megapixels,
        frames=tuple(frames),
        setups={key: tuple(names) for key, names in setups.items()},
        pairs=tuple(_pairs(frames)),
        brackets=tuple(_bracket([by_name[n] for n in names]) for names in plan.brackets),
        grads=tuple(_grad(by_name[a], by_name[b]) for a, b in plan.grads),
        runs=tuple(_run([by_name[n] for n in names]) for names in plan.runs),
        cards=(FIRST_CARD, SECOND_CARD) if any(f.copy_on for f in frames) else (FIRST_CARD,),
    )


def exposure_stops(frame: FrameRecord) -> float:
    """Return the exposure by its true settings in stops: log2(t · ISO / N²)."""
    return math.log2(frame.time_s * frame.iso / frame.f_number**2)


def _pairs(frames: list[FrameRecord]) -> Iterator[PairRecord]:
    usable = [frame for frame in frames if frame.readable and not frame.cap_on]
    for long in usable:
        shorts = [f for f in usable if _is_short_of(f, long)]
        if not long.filtered or not shorts:
            continue
        nearest = min(shorts, key=lambda short: abs(_middle(short) - _middle(long)))
        yield PairRecord(
            long=long.name,
            short=nearest.name,
            shorts=tuple(short.name for short in shorts),
            setup=long.setup,
            exposure_difference_stops=exposure_stops(long) - exposure_stops(nearest),
            filter_stops=long.filter_stops,
            marked_stops=sum(long.marked_stops),
            light_drift_stops=long.ambient_stops - nearest.ambient_stops,
        )


def _is_short_of(frame: FrameRecord, long: FrameRecord) -> bool:
    same = frame.setup == long.setup and frame.body == long.body
    return same and not frame.filtered and frame.grad is None and long.grad is None


def _middle(frame: FrameRecord) -> float:
    return frame.at_s + frame.time_s / 2.0


def _bracket(frames: list[FrameRecord]) -> BracketRecord:
    first = exposure_stops(frames[0])
    steps = tuple(exposure_stops(frame) - first for frame in frames)
    return BracketRecord(frames[0].setup, tuple(frame.name for frame in frames), steps)


def _grad(without: FrameRecord, with_: FrameRecord) -> GradRecord:
    assert with_.grad is not None
    return GradRecord(
        without=without.name,
        with_=with_.name,
        setup=with_.setup,
        edge_at=with_.grad["edge_at"],
        stops_at_top=with_.grad["stops_at_top"],
        transition=with_.grad["transition"],
    )


def _run(frames: list[FrameRecord]) -> RunRecord:
    exposures = [exposure_stops(frame) for frame in frames]
    return RunRecord(tuple(f.name for f in frames), max(exposures) - min(exposures))
