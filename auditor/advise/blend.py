"""Which frames of a bracket a blend needs, at a signal-to-noise ratio that looks clean.

A tile is clean in a frame where every colour's mean signal reaches the ratio, which one pixel
then has on average. ISO 12232 calls a ratio of 10 acceptable and 40 excellent; the noise floor,
at a ratio of 1, only says what is recorded at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, combinations

import numpy as np

from auditor.advise.limits import AS_GOOD, NOISY_SLACK
from auditor.clipping.limits import WHOLLY
from auditor.clipping.maps import clip_maps
from auditor.light.exposure import exposure_difference_stops
from auditor.model.advice import BlendFrame
from auditor.model.arrays import F32, F64
from auditor.model.audit import Bracket, Setup
from auditor.model.codes import BlendJob
from auditor.model.grouping import Grouping
from auditor.model.orientation import upright
from auditor.model.settled import SettledFrame, SettledPlane
from auditor.model.shoot import ShootFrame, Spread, all_here, on_frames

JOBS = {1: (BlendJob.ALL,), 2: (BlendJob.HIGHLIGHTS, BlendJob.SHADOWS)}


def clean_dn(plane: SettledPlane, ratio: float) -> float | None:
    """Return the signal at which one pixel has a signal-to-noise ratio; None without its noise.

    Formula: ``S / sqrt(g S + r²) = k``, hence ``S = (k² g + k sqrt(k² g² + 4 r²)) / 2``.
    """
    gain, read = plane.noise.gain_dn_per_e, plane.noise.read_noise_dn
    if gain is None or read is None:
        return None
    return (ratio**2 * gain + ratio * math.hypot(ratio * gain, 2.0 * read)) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Maps:
    """Frames by tiles, upright, the darkest first.

    Parameters
    ----------
    whole, recorded : array of float32, shape (frames, rows, cols)
        Share of each tile that is not blown; that is neither blown nor under the floor.
    reached : array of float32, same shape, or None
        1 where every colour reaches the ratio; None where noise was not measured.
    weight : array, shape (rows, cols)
    """

    whole: F32
    recorded: F32
    reached: F32 | None
    weight: F64

    @property
    def clean(self) -> F32 | None:
        """Share of each tile that is not blown and reaches the ratio."""
        return None if self.reached is None else self.whole * self.reached

    @property
    def best(self) -> F32 | None:
        """The same, and what is as clean as any frame makes it where none reaches the ratio."""
        if self.reached is None:
            return None
        lit = self.whole > WHOLLY
        brightest = lit & (np.cumsum(lit[::-1], axis=0)[::-1] == 1)
        nowhere = ~(self.reached * lit).any(axis=0)
        return np.asarray(self.whole * np.where(nowhere, brightest, self.reached), np.float32)


TOGETHER = 16
"""Brackets that are looked at in one piece of work: some 0.2 s."""


def with_blends(
    grouping: Grouping,
    frames: Sequence[ShootFrame],
    clean_snr: float,
    spread: Spread = all_here,
) -> Grouping:
    """Put to every bracket the frames that its blend needs, each with its job.

    Parameters
    ----------
    grouping : Grouping
    frames : sequence of ShootFrame
    clean_snr : float
        Signal-to-noise ratio from which a tone looks clean.
    spread : Spread
        Does some work, here or elsewhere.
    """
    by_id = {frame.id: frame for frame in frames}
    setups = {setup.id: setup for setup in grouping.setups}
    known = [b for b in grouping.brackets if b.frames and all(name in by_id for name in b.frames)]
    work = []
    for start in range(0, len(known), TOGETHER):
        asked = [(one, setups.get(one.setup)) for one in known[start : start + TOGETHER]]
        own = [by_id[name] for bracket, _ in asked for name in bracket.frames]
        work.append(on_frames(partial(blended, asked, clean_snr), own))
    told = spread(work)
    found = {id(old): new for old, new in zip(known, chain.from_iterable(told), strict=True)}
    return replace(grouping, brackets=tuple(found.get(id(b), b) for b in grouping.brackets))


def blended(
    asked: Sequence[tuple[Bracket, Setup | None]], clean_snr: float, frames: Sequence[ShootFrame]
) -> list[Bracket]:
    """Tell of some brackets, each with its set-up, which of their frames a blend needs."""
    by_id, found = {frame.id: frame for frame in frames}, []
    for bracket, setup in asked:
        own = [by_id[name] for name in bracket.frames]
        more_stops = [
            exposure_difference_stops(
                frame.facts.exposure, own[0].facts.exposure, absent_is_same=True
            )
            or 0.0
            for frame in own
        ]
        known = [own[place] for place in np.argsort(more_stops, kind="stable")]  # darkest first
        settled = [frame.settled() for frame in known]
        if len({one.maps.shape for one in settled}) != 1:
            found.append(bracket)
            continue
        maps, names = _maps(settled, clean_snr), [frame.id for frame in known]
        chosen = smallest(maps.recorded, maps.best, maps.weight)
        needed = {names[place] for place in chosen}
        noisy: float | None = None
        blend: tuple[BlendFrame, ...] = ()
        if maps.clean is not None:
            # clean in none of the chosen frames, and not blown in all
            members = list(chosen)
            held = maps.whole[members].max(axis=0) - maps.clean[members].max(axis=0)
            noisy = _share(np.clip(held, 0.0, 1.0) * maps.weight)
            blend = _blend(names, chosen, maps, setup)
        found.append(
            replace(
                bracket,
                needed=tuple(name for name in bracket.frames if name in needed),
                not_needed=tuple(name for name in bracket.frames if name not in needed),
                blend=blend,
                noisy_fraction=noisy,
            )
        )
    return found


def _maps(frames: Sequence[SettledFrame], clean_snr: float) -> _Maps:
    clips = [clip_maps(frame) for frame in frames]
    whole = np.stack([1.0 - clip.any_blown for clip in clips]).astype(np.float32)
    unlit, reached = [], []
    for clip, frame in zip(clips, frames, strict=True):
        unlit.append(clip.unlit.astype(np.float32))
        least = [clean_dn(plane, clean_snr) for plane in frame.planes]
        if not any(dn is None for dn in least):
            needed = np.array(least, dtype=np.float64)[:, None, None]
            clean = np.all(frame.maps.mean_dn >= needed, axis=0).astype(np.float32)
            reached.append(np.asarray(upright(clean, frame.orientation), dtype=np.float32))
    recorded = np.stack([np.clip(w - u, 0.0, 1.0) for w, u in zip(whole, unlit, strict=True)])
    return _Maps(
        whole=whole,
        recorded=recorded.astype(np.float32),
        reached=np.stack(reached) if len(reached) == len(frames) else None,
        weight=clips[0].weight,
    )


def smallest(recorded: F32, clean: F32 | None, weight: F64) -> tuple[int, ...]:
    """Return the fewest frames that record as much as all, and as cleanly.

    Among sets as small, the one whose exposures lie nearest, for what is blended then differs
    least; then the one with most that is clean, then the brightest.

    Parameters
    ----------
    recorded, clean : array, shape (frames, rows, cols)
        Shares of each tile, the darkest frame first; no ``clean`` where noise was not measured.
    weight : array, shape (rows, cols)
        Shares of the scene.
    """

    def covered(shares: F32, members: Sequence[int]) -> float:
        return float((shares[list(members)].max(axis=0) * weight).sum())

    every = range(len(recorded))
    cleanly, slack = (recorded, AS_GOOD) if clean is None else (clean, NOISY_SLACK)
    whole, best = covered(recorded, every), covered(cleanly, every)
    for size in range(1, len(every) + 1):
        good = [
            (members[0] - members[-1], round(share, 4), sum(members), members)
            for members in combinations(every, size)
            if covered(recorded, members) >= whole - AS_GOOD
            and (share := covered(cleanly, members)) >= best - slack
        ]
        if good:
            return max(good)[-1]
    return tuple(every)


def _blend(
    names: Sequence[str], chosen: Sequence[int], maps: _Maps, setup: Setup | None
) -> tuple[BlendFrame, ...]:
    # the brightest gives all that it did not blow, and so on; what is blown in all of them comes
    # from the darkest
    left = np.ones_like(maps.whole[0])
    parts: list[F32] = []
    for place in reversed(chosen[1:]):
        part = np.minimum(left, maps.whole[place])
        parts.insert(0, part)
        left = left - part
    taken = [left, *parts]
    jobs = JOBS.get(len(chosen)) or (
        BlendJob.HIGHLIGHTS,
        *(BlendJob.MIDDLE_TONES,) * (len(chosen) - 2),
        BlendJob.SHADOWS,
    )  # fmt: skip
    assert maps.reached is not None, "planned only where noise is known"
    # how far each picture lies from the first, with the standard error
    placed = {frame: (at, error) for frame, at, error in setup.placed()} if setup else {}
    first = placed.get(names[chosen[0]])
    shifts: list[tuple[float, float] | tuple[None, None]] = []
    for place in chosen:
        other = placed.get(names[place])
        if first is None or other is None:
            shifts.append((None, None))
        else:
            apart = 0.0 if place == chosen[0] else math.hypot(first[1], other[1])
            shifts.append((round(math.dist(first[0], other[0]), 2), round(apart, 2)))
    return tuple(
        BlendFrame(
            frame=names[place],
            job=job,
            share=_share(part * maps.weight),
            noisy_fraction=_share(part * (1.0 - maps.reached[place]) * maps.weight),
            shift_px=shift,
            shift_error_px=error,
        )
        for place, job, part, (shift, error) in zip(chosen, jobs, taken, shifts, strict=True)
    )


def _share(tiles: F64) -> float:
    return round(min(1.0, max(0.0, float(tiles.sum()))), 6)
