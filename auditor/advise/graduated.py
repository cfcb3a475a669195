"""The graduated filter for next time: by the line where the sky ends, else as it was measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median, mode

from auditor.advise.limits import SAME_EDGE
from auditor.light.graduated import DENSITY_PER_STOP, balancing_strength, nearest_strength
from auditor.model.advice import GradAdvice
from auditor.model.audit import FrameResult, Grad
from auditor.model.codes import GradKind
from auditor.model.grouping import Grouping


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedGrad:
    """A graduated filter that was used, and what it did.

    Parameters
    ----------
    with_ : FrameResult or None
        The frame that was taken with it.
    before_stops, after_stops : float or None
        How much brighter the sky is than the foreground without it and with it; None where the
        picture does not tell.
    frames : tuple of str
        All that were taken with it in its set-up, its edge at the same height.
    off_stops : float
        How many stops stronger it is than what is advised; 0 where that is the same, or not known.
    advised : GradAdvice or None
        What is advised in its place; None with stops off where none was needed.
    """

    grad: Grad
    with_: FrameResult | None
    frames: tuple[str, ...]
    before_stops: float | None = None
    after_stops: float | None = None
    off_stops: float = 0.0
    advised: GradAdvice | None = None


def used_grads(grouping: Grouping, results: Mapping[str, FrameResult]) -> tuple[UsedGrad, ...]:
    """Hold each graduated filter that was used against the one that is advised for its set-up.

    Frames of a set-up behind one filter at the same height are told once, by the first of them.
    """
    # how much brighter a sky is, where that is more than the least it can be
    over = {
        sky.frame: sky.sky_over_ground_stops
        for sky in grouping.skies
        if sky.horizon_at is not None and not sky.at_least
    }
    advices = {setup.id: setup.next_time for setup in grouping.setups}
    used: list[UsedGrad] = []
    for grad in grouping.grads:
        strength = nearest_strength(grad.stops_at_top)
        same = next(
            (
                place
                for place, one in enumerate(used)
                if one.grad.setup == grad.setup
                and abs(one.grad.edge_at - grad.edge_at) <= SAME_EDGE
                and nearest_strength(one.grad.stops_at_top) == strength
            ),
            None,
        )
        if same is not None:
            used[same] = replace(used[same], frames=(*used[same].frames, grad.with_))
            continue
        before, after = (over.get(frame) for frame in (grad.without, grad.with_))
        told = UsedGrad(
            grad=grad, with_=results.get(grad.with_), frames=(grad.with_,), before_stops=before,
            after_stops=after,
        )  # fmt: skip
        advice = advices.get(grad.setup)
        if advice is not None and before is not None:
            needed = advice.grad.stops if advice.grad else 0.0
            off = strength - needed
            told = replace(told, off_stops=off, advised=advice.grad)
        used.append(told)
    return tuple(used)


class Graduated:
    """The graduated filters and the skies of a shoot."""

    def __init__(self, grouping: Grouping) -> None:
        self._grads = grouping.grads
        self._skies = {sky.frame: sky for sky in grouping.skies}
        self.behind = {grad.with_: nearest_strength(grad.stops_at_top) for grad in grouping.grads}

    def advice(
        self, setups: Sequence[str], bare: Sequence[str], *, held: bool
    ) -> GradAdvice | None:
        """Return the filter for some set-ups that share their settings.

        The one that leaves the sky about a stop brighter than the foreground: where a graduated
        filter was used, or where no frame without one held both ends. A filter that was used
        is named again only where no line says that it was not needed.

        Parameters
        ----------
        setups : sequence of str
            Their ids.
        bare : sequence of str
            Their frames without any filter.
        held : bool
            Whether one of these held highlights and shadows.
        """
        used = next((grad for grad in self._grads if grad.setup in setups), None)
        skies = [sky for frame in bare if (sky := self._skies.get(frame)) is not None]
        lines = [sky for sky in skies if sky.horizon_at is not None]
        over = _median(sky.sky_over_ground_stops for sky in lines if not sky.at_least)
        if over is not None and (used is not None or not held):
            strength = balancing_strength(over, _median(sky.at_line_stops for sky in lines))
            if strength is None:
                return None
            return GradAdvice(
                stops=strength,
                density=round(DENSITY_PER_STOP * strength, 2),
                kind=mode(sky.kind for sky in lines),
                edge_at=median(sky.horizon_at for sky in lines if sky.horizon_at is not None),
            )
        if used is None or (skies and not lines):
            return None
        return GradAdvice(
            stops=(stops := nearest_strength(used.stops_at_top)),
            density=round(DENSITY_PER_STOP * stops, 2),
            kind=GradKind.UNTOLD,
            edge_at=used.edge_at,
        )


def _median(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median(known) if known else None
