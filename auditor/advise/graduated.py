"""The graduated filter for next time: by the line where the sky ends, else as it was measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from statistics import median, mode

from auditor.light.graduated import DENSITY_PER_STOP, balancing_strength, nearest_strength
from auditor.model.advice import GradAdvice
from auditor.model.audit import SkyBalance
from auditor.model.grouping import Grouping


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
            return None if strength is None else _advised(strength, lines)
        if used is None or (skies and not lines):
            return None
        return GradAdvice(
            stops=(stops := nearest_strength(used.stops_at_top)),
            density=round(DENSITY_PER_STOP * stops, 2),
            kind="",
            edge_at=used.edge_at,
        )


def _advised(strength: float, lines: Sequence[SkyBalance]) -> GradAdvice:
    return GradAdvice(
        stops=strength,
        density=round(DENSITY_PER_STOP * strength, 2),
        kind=mode(sky.kind for sky in lines),
        edge_at=median(sky.horizon_at for sky in lines if sky.horizon_at is not None),
    )


def _median(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median(known) if known else None
