"""What each ISO of a body loses: full well, range, and where more is in vain."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise

from auditor.advise.limits import (
    GAIN_STEP_STOPS,
    ISO_COSTS_STOPS,
    ISO_IN_VAIN,
    ISO_LOSS_STOPS,
)
from auditor.findings.base import ShootView, finding
from auditor.history.shots import retaken, sensor_of
from auditor.model.advice import IsoFigures
from auditor.model.codes import Verdict
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.model.history import SensorRow

Rows = Mapping[str, SensorRow]
"""Of one sensor at one ISO, by channel."""

_Body = tuple[str, str]
"""A camera, and which of its sensors."""


def iso_figures(
    shoot: Sequence[SensorRow], earlier: Sequence[SensorRow] = ()
) -> tuple[IsoFigures, ...]:
    """Compare the ISOs of each body, by the channel that loses most.

    A channel that keeps to ISO 12232's saturation-based speed (78 over the exposure that
    saturates) holds half the electrons at twice the ISO: ``full well x ISO`` is constant. What
    is less than at the next lower whole stop is lost beyond that.

    Parameters
    ----------
    shoot : sequence of SensorRow
        From the frames of this shoot; all its ISOs are told.
    earlier : sequence of SensorRow
        From earlier shoots: the same bodies' other ISOs, and what this shoot does not tell of its
        own.
    """
    own, past = _by_iso(shoot), _by_iso(earlier)
    found: list[IsoFigures] = []
    for body, isos in own.items():
        known = {iso: dict(past.get(body, {}).get(iso, {})) for iso in {*isos, *past.get(body, {})}}
        for iso, rows in isos.items():
            telling = (row for row in rows.values() if row.full_well_e and row.read_noise_e)
            known[iso] |= {row.channel: row for row in telling}
        found += _of_body(body, dict(sorted(known.items())), isos)
    return tuple(found)


def _by_iso(rows: Sequence[SensorRow]) -> dict[_Body, dict[float, dict[str, SensorRow]]]:
    bodies: dict[_Body, dict[float, dict[str, SensorRow]]] = defaultdict(lambda: defaultdict(dict))
    for row in rows:
        bodies[row.body, row.sensor][row.iso][row.channel] = row
    return bodies


def _of_body(
    body: _Body, known: Mapping[float, Rows], own: Mapping[float, Rows]
) -> Iterator[IsoFigures]:
    best = {
        channel: max(ranges)
        for channel in {name for rows in known.values() for name in rows}
        if (ranges := [r for rows in known.values() if (r := _range(rows.get(channel)))])
    }
    # read noise in electrons, where it was measured, by the worst channel
    told = {iso: [row.read_noise_e for row in rows.values() if row.read_noise_e]
            for iso, rows in known.items()}  # fmt: skip
    reads = [(iso, max(noise)) for iso, noise in told.items() if noise]
    steps = _gain_steps(known, reads)
    # the lowest ISO from which on no other measured a stop or more higher reads quieter
    vain = None
    for iso, noise in reads:
        higher = [less for other, less in reads if other >= 1.9 * iso]
        if higher and min(higher) >= noise * ISO_IN_VAIN:
            vain = iso
            break
    whole_stops = [iso for iso in known if abs(math.log2(iso / 100.0) % 1.0 - 0.5) > 0.45]
    for iso, rows in known.items():
        lower = max((one for one in whole_stops if one < iso * 0.99), default=None)
        reference = known[lower] if lower is not None else {}
        # by how much less a channel holds than ISO's own cost leaves, which keeps well x ISO
        full = [
            max(0.0, math.log2(other.full_well_e * other.iso / (row.full_well_e * row.iso)))
            for name, row in rows.items()
            if (other := reference.get(name)) and row.full_well_e and other.full_well_e
        ]
        lost = [best[name] - r for name, row in rows.items() if (r := _range(row))]
        yield IsoFigures(
            body=body[0],
            sensor=body[1],
            iso=iso,
            frames=max((row.frames for row in own.get(iso, {}).values()), default=0),
            full_well_e=_rounded(min, [row.full_well_e for row in rows.values()], 0),
            read_noise_e=_rounded(max, [row.read_noise_e for row in rows.values()], 2),
            range_stops=_rounded(min, [_range(row) for row in rows.values()], 2),
            full_well_loss_stops=_rounded(max, full, 2),
            range_loss_stops=_rounded(max, lost, 2),
            gain_step=iso in steps,
            more_in_vain=vain is not None and iso >= vain,
        )


def _range(row: SensorRow | None) -> float | None:
    return None if row is None else row.dynamic_range_stops


def _gain_steps(known: Mapping[float, Rows], reads: Sequence[tuple[float, float]]) -> set[float]:
    """Return the ISOs at which a second gain sets in: the read noise drops, the range rises."""
    ranges = {
        iso: min(found)
        for iso, rows in known.items()
        if (found := [r for row in rows.values() if (r := _range(row))])
    }
    return {
        upper
        for (lower, noise), (upper, less) in pairwise(reads)
        if math.log2(noise / less) >= GAIN_STEP_STOPS
        and ranges.get(upper, -math.inf) > ranges.get(lower, math.inf)
    }


def _rounded(
    choose: Callable[[Sequence[float]], float], values: Sequence[float | None], digits: int
) -> float | None:
    known = [value for value in values if value is not None]
    return round(choose(known), digits) if known else None


def find_iso_costs(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of frames that lost an end, for good, to an ISO that holds less than a lower one."""
    bracketed = {frame for bracket in view.grouping.brackets for frame in bracket.frames}
    spared = bracketed | retaken(list(view.results.values()))
    figures = {(one.body, one.sensor, one.iso): one for one in view.isos}
    for frame, result in view.results.items():
        used = figures.get((result.camera.body, sensor_of(result), result.exposure.iso or 0.0))
        if used is None or frame in spared or result.verdict not in ("blown", "blocked", "both"):
            continue
        full, range_ = used.full_well_loss_stops or 0.0, used.range_loss_stops or 0.0
        if result.verdict != Verdict.BLOCKED and full >= ISO_LOSS_STOPS:
            yield frame, _costs(full, ISO_LOSS_STOPS, "full well", used)
        elif result.verdict == Verdict.BOTH and range_ >= ISO_COSTS_STOPS:
            yield frame, _costs(range_, ISO_COSTS_STOPS, "range", used)


def _costs(stops: float, limit: float, of: str, used: IsoFigures) -> Finding:
    return finding(
        FindingCode.ISO_COSTS,
        Severity.NOTE,
        stops,
        limit=limit,
        unit="stops",
        of=of,
        iso=used.iso,
    )
