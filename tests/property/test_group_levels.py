"""What must hold for any light and any values: no filter out of drift, a core that is a core."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.advise.blend import smallest
from auditor.group.brackets import LEAST_FRAMES
from auditor.group.drift import Series, filtered
from auditor.group.limits import FASTEST_STOPS_PER_S
from auditor.group.shots import counter_of
from auditor.model.half_sample_mode import half_sample_mode

LEAST = 0.8
GAPS = st.lists(st.floats(20.0, 1500.0), min_size=1, max_size=12)
RATES = st.lists(st.floats(-1.0, 1.0), min_size=12, max_size=12)


def drifting(gaps: list[float], rates: list[float]) -> Series:
    """Return frames in light that never drifts faster than daylight can."""
    at = np.concatenate([[0.0], np.cumsum(gaps)])
    change = np.array(rates[: len(gaps)]) * FASTEST_STOPS_PER_S * np.array(gaps)
    level = np.concatenate([[0.0], np.cumsum(change)])
    return Series(at, 0.125 * 2.0**-level, level)


@given(gaps=GAPS, rate=st.floats(-1.0, 1.0))
def test_evenly_drifting_light_is_never_a_filter(gaps: list[float], rate: float) -> None:
    assert not filtered(drifting(gaps, [rate] * 12), LEAST).any()


@given(gaps=GAPS, rates=st.lists(st.floats(-1.0, 0.0), min_size=12, max_size=12))
def test_light_that_only_falls_at_any_pace_is_never_a_filter(
    gaps: list[float], rates: list[float]
) -> None:
    assert not filtered(drifting(gaps, rates), LEAST).any()


@given(gaps=st.lists(st.floats(20.0, 300.0), min_size=2, max_size=12), rates=RATES,
       stops=st.floats(6.0, 20.0), where=st.integers(1, 12))  # fmt: skip
def test_a_strong_filter_among_near_frames_is_always_seen(
    gaps: list[float], rates: list[float], stops: float, where: int
) -> None:
    series = drifting(gaps, rates)
    place = min(where, len(gaps))
    level, time_s = series.level_stops.copy(), series.time_s.copy()
    level[place] -= stops
    time_s[place] = time_s[place - 1] * 2.0**stops
    flags = filtered(Series(series.middle_s, time_s, level), LEAST)
    assert flags[place]


@given(
    values=st.lists(st.integers(-1280, 1280).map(lambda n: n / 64), min_size=12, max_size=300),
    shift=st.integers(-10, 10),
)
def test_the_core_lies_among_the_values_and_moves_with_them(
    values: list[float], shift: int
) -> None:
    """Values and shifts are whole 64ths, so that adding them rounds nothing."""
    line = np.array(values)
    core, moved = half_sample_mode(line), half_sample_mode(line + shift)
    assert core is not None
    assert moved is not None
    assert line.min() <= core.value <= line.max()
    assert 0 < core.count <= core.of == len(values)
    assert moved.value == pytest.approx(core.value + shift, abs=1e-9)
    assert (moved.count, moved.of) == (core.count, core.of)


@given(
    st.integers(3, 6).flatmap(
        lambda n: st.lists(
            st.lists(st.floats(0.0, 1.0), min_size=6, max_size=6), min_size=n, max_size=n
        )
    ),
    st.lists(st.integers(1, 32), min_size=6, max_size=6),
)
def test_the_smallest_set_covers_what_all_cover(
    shares: list[list[float]], sizes: list[int]
) -> None:
    held = np.array(shares, dtype=np.float32)[:, :, None]
    areas = np.array(sizes, dtype=np.float64)[:, None] / sum(sizes)

    def covered(frames: Sequence[int]) -> float:
        return float((held[list(frames)].max(axis=0) * areas).sum())

    needed = smallest(held, None, areas)
    assert len(shares) >= LEAST_FRAMES
    whole = covered(range(len(shares)))
    assert covered(needed) >= whole - 1.1e-4
    for left_out in needed if len(needed) > 1 else ():
        fewer = [n for n in needed if n != left_out]
        assert covered(fewer) < whole - 0.9e-4, "a smaller set would have done"


@given(st.text(max_size=40))
def test_any_file_name_has_a_count_or_none(name: str) -> None:
    counter = counter_of(name)
    assert counter is None or (isinstance(counter[0], str) and counter[1] >= 0)
