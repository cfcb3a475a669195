"""What is known of one set-up when its pairs are sought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from auditor.group.aligned import AlignedFrame
from auditor.group.drift import Series, filtered, moments
from auditor.group.grads import GradPair, find_grads
from auditor.group.levels import Levels, levels_of, tints_of
from auditor.group.refusals import Refusals
from auditor.group.setups import SetupShots
from auditor.model.arrays import F64, Bool
from auditor.model.settings import GroupSettings


@dataclass(frozen=True, slots=True, eq=False)
class SetupView:
    """One set-up with the levels of its frames.

    Parameters
    ----------
    seen : sequence of AlignedFrame or None
        What is compared, None for frames whose settings or whose place is not known.
    flagged : array of bool
        Frames with a filter before the lens.
    setup_id : str
        Empty until the set-ups of all evenings are numbered.
    """

    setup: SetupShots
    seen: Sequence[AlignedFrame | None]
    levels: Levels
    series: Series
    flagged: Bool
    grads: Sequence[GradPair]
    setup_id: str = ""

    @property
    def main(self) -> str:
        """Name of the colour that levels are told by."""
        image = self.setup.shots[0].image
        return image.colours[image.main]

    def minutes_between(self, i: int, j: int) -> float:
        """Minutes between the middles of two exposures."""
        return abs(float(self.series.middle_s[i] - self.series.middle_s[j])) / 60.0

    def moved_px(self, i: int, j: int) -> float:
        """By how many pixels the picture moved between two frames."""
        a, b = (self.setup.shifts[place] or (0.0, 0.0) for place in (i, j))
        return float(np.hypot(a[0] - b[0], a[1] - b[1])) * self.setup.shots[0].image.tile_px

    def density(self, long: int, others: Sequence[tuple[int, float]]) -> F64 | None:
        """Return the stops over the height of graduated filters that only some frames had.

        Parameters
        ----------
        others : sequence of (place, weight)
            What the long frame is held against.
        """
        with_ = {pair.with_: pair.curve for pair in self.grads}
        places = [long, *(place for place, _ in others)]
        graded = [place for place in places if place in with_]
        if not graded or len(graded) == len(places):
            return None
        y = self.setup.shots[0].image.row_shares()
        weights = {long: 1.0, **{place: -weight for place, weight in others}}
        densities = [weights[place] * with_[place].stops(y) for place in graded]
        return np.asarray(np.sum(densities, axis=0), dtype=np.float64)


def view_of(setup: SetupShots, settings: GroupSettings, refusals: Refusals) -> SetupView:
    """Work out levels, filtered frames and graduated filters of one set-up."""
    levels = levels_of(setup)
    middles_s = [shot.middle_s for shot in setup.shots]
    series = Series(
        moments(middles_s),
        np.array([shot.time_s for shot in setup.shots]),
        levels.level_stops,
        timed=None not in middles_s,
    )
    flagged = filtered(series, settings.filter_least_stops)
    series = replace(series, tint_stops=tints_of(setup, ~flagged))
    seen = [
        AlignedFrame(shot.image, float(stops), shift)
        if shift is not None and np.isfinite(stops)
        else None
        for shot, stops, shift in zip(setup.shots, levels.settings_stops, setup.shifts, strict=True)
    ]
    grads = find_grads(setup, seen, levels, flagged, refusals)
    return SetupView(setup, seen, levels, series, flagged, grads)
