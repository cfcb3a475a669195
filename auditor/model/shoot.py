"""Where measurements are fetched from, and a frame of a shoot as light as thousands need it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Generic, Protocol, TypeVar, runtime_checkable

from auditor.model.facts import CardFile, FileFacts
from auditor.model.measurement import FrameMeasurement, Level, NoiseEstimate
from auditor.model.outcome import Engine, done
from auditor.model.settled import SettledFrame, settle

Answer = TypeVar("Answer")


class MeasurementLost(Exception):
    """A measurement that was there cannot be read, and was dropped: its file is to be measured."""


class MeasurementSource(Protocol):
    """Gives the whole measurement of a frame by its id, from memory or from the store.

    Reporters and grouping go through it frame by frame, so that a shoot of thousands needs
    no more memory than a shoot of ten.
    """

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a measured frame.

        Raises
        ------
        KeyError
            The frame was not measured.
        MeasurementLost
            It was, and that is lost; the audit is to begin again.
        """
        ...


@runtime_checkable
class LightMeasurementSource(MeasurementSource, Protocol):
    """A source that can leave the heavy parts of a measurement lying."""

    def without_maps(self, frame_id: str) -> FrameMeasurement:
        """Return a measurement whose maps and pictures are empty; raises as the whole one."""
        ...


@runtime_checkable
class SharedMeasurementSource(MeasurementSource, Protocol):
    """A source whose measurements other processes of this machine can fetch for themselves."""

    def apart(self, frame_ids: Collection[str]) -> MeasurementSource | None:
        """Return a source of some frames that may be sent to another process, if there can be."""
        ...


def apart(measurements: MeasurementSource, frame_ids: Collection[str]) -> MeasurementSource | None:
    """Return a source of some frames that may be sent to another process, if there can be."""
    if isinstance(measurements, SharedMeasurementSource):
        return measurements.apart(frame_ids)
    return None


def without_maps(measurements: MeasurementSource, frame_id: str) -> FrameMeasurement:
    """Return what settling over a shoot needs, without the maps where the source can."""
    if isinstance(measurements, LightMeasurementSource):
        return measurements.without_maps(frame_id)
    return measurements.measurement(frame_id)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ShootFrame:
    """One measured frame of the shoot; its heavy part is fetched when it is asked for.

    Parameters
    ----------
    source : CardFile
    facts : FileFacts
        Those of its measurement, with what the shoot tells of them; at hand without fetching the
        heavy part.
    levels : tuple of Level
        Settled saturation, one a plane, in the order of the mosaic's planes.
    noise : tuple of NoiseEstimate
        Settled noise, likewise.
    measurements : MeasurementSource
        Where the heavy part is fetched from, under the frame's id.
    """

    source: CardFile
    facts: FileFacts
    levels: tuple[Level, ...]
    noise: tuple[NoiseEstimate, ...]
    measurements: MeasurementSource

    @property
    def id(self) -> str:
        """The frame's id in the audit."""
        return self.source.id

    def settled(self) -> SettledFrame:
        """Fetch the measurement and join it with levels and noise; take it once where used."""
        measured = replace(self.measurements.measurement(self.source.id), facts=self.facts)
        return settle(measured, self.levels, self.noise)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetching(Generic[Answer]):
    """Some work on frames whose measurements are fetched, here or by another process.

    Parameters
    ----------
    given : callable
        Given a source, returns the work as it is done with it.
    measurements : MeasurementSource
        The source that is used here.
    frame_ids : sequence of str
        What is fetched.
    """

    given: Callable[[MeasurementSource], Callable[[], Answer]]
    measurements: MeasurementSource
    frame_ids: Sequence[str]


def on_frames(
    one: Callable[[Sequence[ShootFrame]], Answer], frames: Sequence[ShootFrame]
) -> Fetching[Answer]:
    """Return some work on frames of one source, which goes with them."""

    def given(source: MeasurementSource) -> Callable[[], Answer]:
        return partial(one, [replace(frame, measurements=source) for frame in frames])

    ids = [frame.id for frame in frames]
    return Fetching(given=given, measurements=frames[0].measurements, frame_ids=ids)


def done_with_frames(
    engine: Engine | None, work: Sequence[Fetching[Answer]]
) -> Iterator[tuple[int, Answer]]:
    """Do some work and yield each place and what came of it, as it ends.

    An engine's processes fetch for themselves, if all can.
    """
    here = [one.given(one.measurements) for one in work]
    there = []
    for one in work if engine is not None else ():
        source = apart(one.measurements, one.frame_ids)
        there += [] if source is None else [one.given(source)]
    yield from done(engine, here, there if len(there) == len(here) else ())


class Spread(Protocol):
    """Whoever does work on frames, here or elsewhere."""

    def __call__(self, work: Sequence[Fetching[Answer]]) -> list[Answer]:
        """Do some work; return what came of it in that order."""
        ...


def all_here(work: Sequence[Fetching[Answer]]) -> list[Answer]:
    """Do all work in this process."""
    return [one.given(one.measurements)() for one in work]
