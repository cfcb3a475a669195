"""Sectors of a card that hold other data, in pictures that are stored as they are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from auditor.defects.borders import find_breaks, sample_sectors
from auditor.defects.sectors import (
    PlainChunk,
    empty_sectors,
    foreign_sectors,
    foreign_throughout,
    sector_breaks,
    stands_out,
)
from auditor.defects.stuck_bits import moves_some, stuck_runs
from auditor.examine import examine_file
from auditor.model.settings import MeasureSettings
from auditor.read.plain import plain_chunks
from auditor.task import ExamineTask
from auditor.words.notes import DAMAGE_SENTENCES
from tests.built_dng import write_dng

ROWS, COLS = 400, 900
OFFSET = 8 * 512 + 38
"""Of the first sample in the file: sectors begin within rows."""

WHOLE = [PlainChunk(OFFSET, slice(0, ROWS), slice(0, COLS))]


def scene(seed: int = 1, noise_dn: float = 20.0) -> NDArray[np.uint16]:
    """Waves of several sizes in the light, with noise."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:ROWS, :COLS]
    waves = sum(
        np.cos(x * rng.uniform(-0.3, 0.3) + y * rng.uniform(0.01, 0.1) + rng.uniform(0, 6))
        for _ in range(8)
    )
    values = 3000.0 + 120.0 * np.asarray(waves) + rng.normal(0.0, noise_dn, (ROWS, COLS))
    return values.astype(np.uint16)


def sector(values: NDArray[np.uint16], number: int, count: int = 1) -> NDArray[np.uint16]:
    """The samples of some sectors, counted from the first whole one; a view."""
    first = -OFFSET % 512 // 2
    begin = first + 256 * number
    return values.reshape(-1)[begin : begin + 256 * count]


def broken(
    values: NDArray[np.uint16], chunks: Sequence[PlainChunk] = WHOLE
) -> list[tuple[int, int]]:
    return list(sector_breaks(values, chunks, 2))


def place(number: int) -> tuple[int, int]:
    return divmod(-OFFSET % 512 // 2 + 256 * number, COLS)


def test_a_whole_scene_breaks_nowhere() -> None:
    assert not any(broken(scene(seed)) for seed in range(20))


@pytest.mark.parametrize("count", [1, 2, 8, 64])
def test_a_foreign_cluster_is_told_with_its_place(count: int) -> None:
    values = scene()
    sector(values, 400, count)[:] = sector(scene(2), 700, count) + np.uint16(400)
    assert broken(values) == [place(400), place(400 + count)]
    (sign,) = foreign_sectors(values, WHOLE, 2)
    assert sign.kind.certain
    assert f"From row {place(400)[0]}, column {place(400)[1]}" in DAMAGE_SENTENCES[sign.kind](sign)


@pytest.mark.parametrize(("count", "told"), [(40, True), (72, False), (128, True), (272, False)])
def test_what_is_longer_than_a_large_cluster_is_of_large_clusters(count: int, told: bool) -> None:
    values = scene()
    sector(values, 400, count)[:] = sector(scene(2), 700, count) + np.uint16(400)
    assert bool(broken(values)) == told


@pytest.mark.parametrize(("beside_dn", "foreign"), [(0.0, True), (28.0, True), (40.0, False)])
def test_part_of_a_row_that_differs_throughout_is_not_foreign(
    beside_dn: float, foreign: bool
) -> None:
    values = 3000.0 + np.random.default_rng(4).normal(0.0, 3.0, (20, 6000))
    values[10] += beside_dn
    values[10, 2000 : 2000 + 8 * 256] += 60.0 - beside_dn
    begin = 10 * 6000 + 2000
    flat = values.astype(np.uint16).ravel()
    assert foreign_throughout(flat, begin, begin + 8 * 256, 6000, 2) == foreign


@pytest.mark.parametrize("bit", [12, 13])
def test_a_bit_that_is_stuck_in_one_sector_is_told(bit: int) -> None:
    values = scene()
    stuck = sector(values, 401)
    changed = np.flatnonzero(~stuck & np.uint16(1 << bit))
    assert len(changed) > 64
    stuck |= np.uint16(1 << bit)
    assert broken(values) == [place(401), place(402)]


def test_of_many_foreign_clusters_most_are_told() -> None:
    told = 0
    for seed in range(40):
        values, rng = scene(seed), np.random.default_rng(seed)
        number = int(rng.integers(20, 1200))
        sector(values, number, 64)[:] = sector(scene(seed + 100), int(rng.integers(20, 1200)), 64)
        told += bool(broken(values))
    assert told >= 20


def test_a_step_elsewhere_than_at_the_border_of_a_sector_is_of_the_scene() -> None:
    for shift in (3, 40, 128, 250):
        values = scene()
        part = values.reshape(-1)[140_000 + shift : 140_000 + shift + 256]
        assert (140_000 + shift - (-OFFSET % 512 // 2)) % 256 > 2
        part += np.uint16(600)
        assert broken(values) == []


@settings(deadline=None, max_examples=60)
@given(
    st.integers(20, 380), st.integers(2, 360), st.integers(50, 850), st.integers(2, 800),
    st.integers(-2000, 4000),
)  # fmt: skip
def test_a_wall_whose_corners_lie_at_borders_of_sectors_is_no_damage(
    top: int, height: int, left: int, width: int, step_dn: int
) -> None:
    values = scene(3).astype(np.int32)
    first = -OFFSET % 512 // 2
    at_border = left + (first - (top * COLS + left)) % 256
    values[top : top + height, at_border : at_border + width] += step_dn
    assert broken(values.clip(0, 16383).astype(np.uint16)) == []


def test_one_border_alone_is_no_damage() -> None:
    values = scene()
    row, col = place(900)
    values.reshape(-1)[row * COLS + col :] += np.uint16(500)
    assert broken(values) == []


def written(path: Path, values: NDArray[np.uint16]) -> Path:
    return write_dng(path, values)


def test_a_file_with_a_foreign_cluster_is_told_and_a_whole_one_is_not(tmp_path: Path) -> None:
    path = written(tmp_path / "a.dng", scene())
    data = bytearray(path.read_bytes())
    (chunk,) = plain_chunks(bytes(data), "dng", scene())
    assert (
        np.frombuffer(data, "<u2", ROWS * COLS, chunk.offset).tolist() == scene().ravel().tolist()
    )
    task = ExamineTask(str(path), "dng", MeasureSettings())
    assert examine_file(task).mosaic.damage == ()
    middle = (chunk.offset + 2 * (150 * COLS + 300)) // 512 * 512
    data[middle : middle + 4096] = (scene(2) + np.uint16(1500)).tobytes()[:4096]
    path.write_bytes(data)
    (sign,) = examine_file(task).mosaic.damage
    assert sign.kind == "foreign sectors"


def test_packed_or_compressed_pictures_have_no_plain_samples(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", scene(), compression="deflate")
    assert plain_chunks(path.read_bytes(), "dng", scene()) == []
    assert plain_chunks(b"II*\0", "dng", scene()) == []


def packed(zeros: tuple[int, int]) -> bytes:
    data = bytearray(np.random.default_rng(1).integers(1, 256, 40 * 512).astype(np.uint8).tobytes())
    data[zeros[0] : zeros[1]] = bytes(zeros[1] - zeros[0])
    return bytes(data)


@pytest.mark.parametrize(
    ("zeros", "told"),
    [
        ((20 * 512, 24 * 512), True),
        ((20 * 512, 21 * 512), True),
        ((20 * 512 - 3, 24 * 512), False),
        ((20 * 512, 24 * 512 + 5), False),
        ((20 * 512 + 40, 20 * 512 + 500), False),
        ((2 * 512, 4 * 512), False),  # not of the picture
    ],
)
def test_empty_sectors_of_packed_data_begin_and_end_at_their_borders(
    zeros: tuple[int, int], told: bool
) -> None:
    signs = empty_sectors(packed(zeros), [(10 * 512 + 7, 28 * 512)])
    assert [sign.kind for sign in signs] == ["empty sectors"] * told


def test_a_stuck_bit_is_told_where_the_rows_between_are_twice_as_rough() -> None:
    """As those of another colour are: the stuck one is far louder still."""
    whole = [number for number in range(60, 1300, 23) if 32 <= place(number)[1] <= COLS - 288]
    told = 0
    for number in whole:
        values = scene(number)
        rough = np.random.default_rng(number).normal(0.0, 40.0, values[1::2].shape)
        values[1::2] = (values[1::2] + rough).astype(np.uint16)
        even = 2 * (place(number)[0] // 2) == place(number)[0]
        sector(values, number)[:] |= np.uint16(4096)
        found = broken(values)
        told += not even or found == [place(number), place(number + 1)]
    assert len(whole) >= 20
    assert told >= 0.9 * len(whole)


@pytest.mark.parametrize("bit", [0, 3, 5])
def test_a_low_bit_that_is_stuck_among_mixed_ones_is_told(bit: int) -> None:
    values = scene()
    sector(values, 401, 2)[:] |= np.uint16(1 << bit)
    assert broken(values) == [place(401), place(403)]
    values = scene()
    sector(values, 401)[:] &= np.uint16(0xFFFF - (1 << bit))
    assert broken(values) == [place(401), place(402)]


@pytest.mark.parametrize(("every", "told"), [(11, False), (9, True)])
def test_a_bit_is_called_stuck_only_where_it_often_changes_around(every: int, told: bool) -> None:
    """In the rows around it changes 44 and 57 times in a sector: an edge may do the former."""
    values = np.full((ROWS, COLS), 1000, dtype=np.uint16)
    values[:, np.arange(COLS) // 2 % every == 0] -= np.uint16(64)
    sector(values, 401)[:] = 1000
    flat = values.ravel()
    samples = sample_sectors(flat, -OFFSET % 512 // 2, 2 * COLS)
    assert bool(list(stuck_runs(flat, samples, 2 * COLS))) is told


def rates(steps_dn: float, noise_dn: float = 20.0) -> int:
    """Of forty smooth scenes with one sector lighter by so much, how many are told."""
    told = 0
    for number in range(40):
        values = np.random.default_rng(number).normal(3000.0, noise_dn, (ROWS, COLS))
        plain = values.astype(np.uint16)
        sector(plain, 403 + 7 * number)[:] += np.uint16(steps_dn)
        told += bool(broken(plain))
    return told


def test_smooth_data_that_are_lighter_by_three_times_their_noise_are_told() -> None:
    assert rates(24.0) == 0
    assert rates(36.0) >= 10
    assert rates(60.0) >= 36


def test_rough_data_among_smooth_ones_are_told() -> None:
    """Of the same mean: their size alone steps."""
    told = {}
    for times in (1.0, 8.0):
        told[times] = 0
        for number in range(30):
            rng = np.random.default_rng(number)
            values = rng.normal(3000.0, 20.0, (ROWS, COLS)).astype(np.uint16)
            part = sector(values, 403 + 7 * number, 4)
            part[:] = rng.normal(3000.0, 20.0 * times, part.shape).astype(np.uint16)
            told[times] += bool(broken(values))
    assert told[1.0] == 0
    assert told[8.0] >= 25


@pytest.mark.parametrize(
    ("sectors", "times", "share", "foreign"),
    [
        (8, 1.15, 1.0, False),
        (8, 1.4, 1.0, True),
        (8, 4.0, 0.33, False),
        (8, 4.0, 0.47, True),
        (1, 1.6, 1.0, False),
        (1, 1.85, 1.0, True),
    ],
)
def test_a_run_is_foreign_that_differs_so_much_more_than_the_rows_beside_it(
    sectors: int, times: float, share: float, foreign: bool
) -> None:
    """Every row differs by 100 DN from the next of its colours, and the run by so many times that.

    Where only a share of the run does, the rest is as the rows beside it. Its own row does not
    differ before and behind it. Of few sectors more is asked for.
    """
    width, row, begin = 4096, 10, 10 * 4096 + 800
    rows = 1000 + 100 * (np.arange(24) // 2 % 2)
    values = np.repeat(rows[:, None], width, axis=1).astype(np.uint16)
    assert values[row, 0] == 1100
    end, flat = begin + 256 * sectors, values.ravel()
    flat[row * width : begin] = flat[end : (row + 1) * width] = 1000
    flat[begin : begin + round(share * 256 * sectors)] = 1000 + round(100 * times)
    assert foreign_throughout(flat, begin, end, width, 2) is foreign


@pytest.mark.parametrize(
    ("times", "beside", "lone"),
    [(5.0, 1.0, False), (7.0, 1.0, True), (20.0, 6.0, False), (20.0, 4.2, True)],
)
def test_a_cluster_of_one_border_differs_far_more_than_all_around_it(
    times: float, beside: float, lone: bool
) -> None:
    """The rows around differ by 100 DN, the cluster and its own row beside it by so many times."""
    width, begin = 4096, 10 * 4096 + 800
    rows = 1000 + 100 * (np.arange(24) // 2 % 2)
    flat = np.repeat(rows, width).astype(np.uint16)
    flat[10 * width : 11 * width] = 1000 + round(100 * beside)
    flat[begin : begin + 2048] = 1000 + round(100 * times)
    assert stands_out(flat, begin, begin + 2048, width, 2) is lone


def test_a_cluster_that_is_like_its_surroundings_at_one_end_is_told() -> None:
    """Its last 64 pixels are those that were there: no border is found at its end."""
    values = scene()
    flat = values.reshape(-1)
    begin = place(600)[0] * COLS + place(600)[1]
    kept = flat[begin + 2048 - 64 : begin + 2048].copy()
    flat[begin : begin + 2048] = scene(2).reshape(-1)[begin : begin + 2048] + np.uint16(900)
    flat[begin + 2048 - 64 : begin + 2048] = kept
    assert place(608) in broken(values)


def test_courses_of_bricks_are_no_damage_where_rows_begin_at_sectors() -> None:
    """A row of 1024 samples from the start of a sector: every course begins and ends at one."""
    rng = np.random.default_rng(3)
    for course in (4, 7, 16):
        tones = np.repeat(rng.normal(2500.0, 300.0, 400 // course + 1), course)[:400]
        values = rng.normal(tones[:, None], 15.0, (400, 1024)).astype(np.uint16)
        assert broken(values, [PlainChunk(0, slice(0, 400), slice(0, 1024))]) == []


def breaks_at(border: int, values: NDArray[np.uint16]) -> bool:
    samples = sample_sectors(values.ravel(), -OFFSET % 512 // 2, 2 * COLS)
    return border in find_breaks(values.ravel(), samples, COLS, 2)


def lifted(shift: int, lift_dn: int, below_dn: int = 0) -> int:
    """Of twenty even scenes with noise of 20 DN, how many break at a border.

    What is behind it is lifted from so many pixels on, and three rows below by another amount.
    """
    told, border = 0, -OFFSET % 512 // 2 + 256 * 100
    for seed in range(20):
        values = np.random.default_rng(seed).normal(3000.0, 20.0, (60, COLS)).astype(np.uint16)
        flat, below = values.reshape(-1), border + 3 * COLS
        flat[border + shift : border + 256] += np.uint16(lift_dn)
        flat[below : below + 256] += np.uint16(below_dn)
        told += breaks_at(border, values)
    return told


def test_a_break_is_alone_in_its_row() -> None:
    """Three rows below it all but as much steps, or little more than half."""
    assert lifted(0, 400, 300) <= 6
    assert lifted(0, 400, 240) >= 10


def test_a_break_lies_exactly_at_the_border() -> None:
    assert lifted(0, 120) == 20
    assert 3 <= lifted(4, 120) <= 8


def test_data_that_are_three_times_as_rough_break_there() -> None:
    told = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        values = rng.normal(3000.0, 20.0, (60, COLS)).astype(np.uint16)
        part = sector(values, 100, 4)
        part[:] = rng.normal(3000.0, 60.0, part.shape).astype(np.uint16)
        told += breaks_at(-OFFSET % 512 // 2 + 256 * 100, values)
    assert told >= 10


STEP_DN, LONG_PX = 256, 1024


def row_between_even_ones(off: NDArray[np.floating]) -> NDArray[np.uint16]:
    """Five rows of 1,000 DN, of which the third is off by so much."""
    values = np.full((5, LONG_PX), 1000.0)
    values[2] += off
    return values.astype(np.uint16).ravel()


@pytest.mark.parametrize(("lift_dn", "stuck"), [(0.0, True), (80.0, True), (100.0, False)])
def test_a_stuck_bit_moves_some_samples_and_leaves_the_others(lift_dn: float, stuck: bool) -> None:
    some = np.arange(LONG_PX) // 8 % 2
    flat = row_between_even_ones(STEP_DN * some + lift_dn)
    assert moves_some(flat, 2 * LONG_PX, 3 * LONG_PX, 2 * LONG_PX, STEP_DN) == stuck


@pytest.mark.parametrize(("noise_dn", "stuck"), [(10.0, False), (90.0, False), (115.0, True)])
def test_what_holds_a_bit_among_noise_as_wide_is_no_scene(noise_dn: float, stuck: bool) -> None:
    signs = np.random.default_rng(2).choice([-1.0, 1.0], LONG_PX)
    flat = row_between_even_ones(-100.0 + noise_dn * signs)
    assert moves_some(flat, 2 * LONG_PX, 3 * LONG_PX, 2 * LONG_PX, STEP_DN) == stuck


def test_a_ripple_that_lifts_a_row_over_a_bit_is_no_damage() -> None:
    """Noise turns the bit all around, for its step lies there; along the ripple all lie over it."""
    values = 1022.0 + np.random.default_rng(6).normal(0.0, 6.0, (ROWS, COLS))
    begin = -OFFSET % 512 // 2 + 703 * 256
    values.reshape(-1)[begin - 12 : begin + 256 + 12] += 60.0
    assert broken(values.astype(np.uint16)) == []


def hairlines(seed: int, count: int, light_dn: float) -> NDArray[np.uint16]:
    """Level wires, one pixel high, behind a lens that spreads them by half a pixel."""
    rng, wires = np.random.default_rng(seed), np.zeros((ROWS, COLS))
    for _ in range(count):
        row, col = rng.integers(5, ROWS - 5), rng.integers(0, COLS - 300)
        wires[row, col : col + rng.integers(100, 800)] += light_dn * rng.normal()
    spread: NDArray[np.float64] = ndimage.gaussian_filter(wires, 0.5)
    return (scene(seed) + spread).clip(0, 16383).astype(np.uint16)


@pytest.mark.parametrize(("count", "light_dn"), [(10, 4000.0), (200, 4000.0), (200, 800.0)])
def test_hairlines_prove_no_bad_card(count: int, light_dn: float) -> None:
    """Of many some end at a border of a sector: that may be damage, and is never called so."""
    signs = [foreign_sectors(hairlines(seed, count, light_dn), WHOLE, 2) for seed in range(12)]
    kinds = {sign.kind for found in signs for sign in found}
    assert kinds <= {"odd sectors"}
    assert not any(kind.certain for kind in kinds)


def test_a_low_bit_that_stands_still_may_be_damage() -> None:
    values = scene()
    sector(values, 401, 2)[:] |= np.uint16(1 << 3)
    (sign,) = foreign_sectors(values, WHOLE, 2)
    assert (sign.kind, sign.kind.certain) == ("odd sectors", False)
    assert "a hairline of the scene" in DAMAGE_SENTENCES[sign.kind](sign)
