"""The simulated camera does what its formulas say."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from auditor.model.orientation import upright
from sample_generation.camera import Exposure, SimulatedCamera
from sample_generation.filters import GraduatedFilter, NeutralFilter, stacked_stops
from sample_generation.layouts import LAYOUT_NAMES, colour_layout
from sample_generation.sensor import fixed_pattern
from sample_generation.truth_of_exposure import plane_values

HEIGHT, WIDTH = 240, 360
FULL_E = (15872.0 - 512.0) / 0.3


def camera(**changes: Any) -> SimulatedCamera:
    return SimulatedCamera(width=WIDTH, height=HEIGHT, **changes)


def flat(electrons: float, height: int = HEIGHT, width: int = WIDTH) -> np.ndarray:
    """Radiance that gives so many electrons in 1/64 s at f/8 (t / N² = 1/4096)."""
    return np.full((height, width, 3), electrons * 4096.0, dtype=np.float32)


def expose(taken: SimulatedCamera, electrons: float, **more: Any) -> Exposure:
    return taken.expose(flat(electrons), 1 / 64, 8.0, **more)


def signal(exposure: Exposure, plane: int = 0) -> np.ndarray:
    parts = plane_values(exposure.mosaic.pixels, exposure.sensor, plane)
    values = np.concatenate([part.ravel() for part in parts]).astype(float)
    return values - exposure.truth.planes[plane].black_dn


@pytest.mark.parametrize("name", LAYOUT_NAMES)
def test_every_layout_records_the_light_of_each_plane(name: str) -> None:
    light = flat(1.0) * np.array([4000.0, 10000.0, 6000.0], dtype=np.float32)
    taken = camera(layout=name).expose(light, 1 / 64)
    expected = {"R": 1200.0, "G": 3000.0, "G1": 3000.0, "G2": 3000.0, "B": 1800.0, "L": 2000.0}
    assert taken.mosaic.plane_pixels() == tuple(p.pixels for p in taken.truth.planes)
    for plane, truth in enumerate(taken.truth.planes):
        assert truth.name == taken.mosaic.plane_names[plane]
        assert signal(taken, plane).mean() == pytest.approx(expected[truth.name], rel=2e-3)


@pytest.mark.parametrize("order", ["RGGB", "GRBG", "GBRG", "BGGR"])
def test_g1_shares_its_rows_with_red(order: str) -> None:
    pattern = colour_layout(order).pattern
    red_row = pattern[np.any(pattern == 0, axis=1)]
    assert sorted(red_row.ravel()) == [0, 1]
    assert "".join("RGGB"[p] for p in pattern.ravel()) == order


def test_xtrans_has_twenty_green_places_and_eight_of_each_other() -> None:
    pattern = colour_layout("XTRANS").pattern
    assert np.bincount(pattern.ravel()).tolist() == [8, 20, 8]


def test_unknown_layout_is_refused() -> None:
    with pytest.raises(ValueError, match="no layout"):
        colour_layout("HEXAGON")


def test_noise_of_a_pair_gives_the_gain() -> None:
    taken = camera()
    first, second = (expose(taken, 12000.0, rng=n) for n in (1, 2))
    truth = first.truth.planes[1]
    variance = np.var(signal(first, 1) - signal(second, 1)) / 2.0
    gain = (variance - truth.read_noise_dn**2) / truth.mean_signal_dn
    assert gain == pytest.approx(truth.gain_dn_per_e, rel=0.03)


def test_few_electrons_follow_poisson() -> None:
    taken = expose(camera(read_noise_e=0.0, adc_noise_dn=0.0, prnu=0.0), 3.0, iso=1600.0)
    gain = taken.truth.planes[0].gain_dn_per_e
    values = signal(taken) / gain
    assert values.mean() == pytest.approx(3.0, rel=0.02)
    assert values.var() == pytest.approx(3.0, rel=0.04)
    assert np.mean(values < 0.5) == pytest.approx(math.exp(-3.0), abs=0.006)


def test_read_noise_is_that_of_a_dark_frame_and_of_the_border() -> None:
    dark = camera().expose(flat(1000.0), 1 / 1000, cap_on=True, iso=400.0)
    truth = dark.truth.planes[0]
    sound = np.abs(signal(dark)) < 8.0 * truth.read_noise_dn
    assert signal(dark)[sound].std() == pytest.approx(truth.read_noise_dn, rel=0.02)
    border = dark.mosaic.masked[1].pixels[::2, ::2]
    assert border.std() == pytest.approx(truth.read_noise_dn, rel=0.04)


def test_response_is_uneven_and_the_same_every_time() -> None:
    taken = camera(prnu=0.01)
    frames = [signal(expose(taken, 40000.0, rng=n)) for n in range(8)]
    mean = np.mean(frames, axis=0)
    assert mean.std() / mean.mean() == pytest.approx(0.01, rel=0.08)


def test_at_the_floor_signal_and_noise_are_equal() -> None:
    gain = 1.2
    taken = camera(prnu=0.0)
    dark = taken.expose(flat(0.0), 1 / 64, iso=400.0)
    floor = dark.truth.planes[0].noise_floor_dn
    at_floor = expose(taken, floor / gain, iso=400.0)
    values = signal(at_floor)
    values = values[values < 30.0 * floor]
    assert values.mean() / values.std() == pytest.approx(1.0, abs=0.03)


def test_clipping_lies_under_the_claim_and_is_spread_over_few_values() -> None:
    blown = expose(camera(), 2.0 * FULL_E)
    for plane, truth in enumerate(blown.truth.planes):
        raw = signal(blown, plane) + truth.black_dn
        assert truth.blown_fraction == 1.0
        assert raw.min() >= truth.saturation_from_dn
        assert raw.max() < blown.mosaic.white_dn[plane] - 400
        assert raw.mean() == pytest.approx(truth.saturation_dn, abs=0.1)
        assert raw.std() == pytest.approx(truth.saturation_spread_dn, rel=0.06)
        assert truth.headroom_recorded_stops == 0.0


def test_blown_share_counts_the_pixels_that_were_cut() -> None:
    light = flat(0.3 * FULL_E)
    light[: HEIGHT // 4] *= 8.0
    taken = camera(hot_per_megapixel=0.0).expose(light, 1 / 64)
    for truth in taken.truth.planes:
        assert truth.blown_fraction == 0.25
    assert taken.truth.blown_any_fraction == taken.truth.blown_all_fraction == 0.25


def test_one_channel_alone_can_be_blown() -> None:
    light = flat(0.3 * FULL_E) * np.array([8.0, 1.0, 1.0], dtype=np.float32)
    taken = camera(hot_per_megapixel=0.0).expose(light, 1 / 64)
    assert [p.blown_fraction for p in taken.truth.planes] == [1.0, 0.0, 0.0, 0.0]
    assert (taken.truth.blown_any_fraction, taken.truth.blown_all_fraction) == (1.0, 0.0)


@pytest.mark.parametrize("stops", [0.5, 1.0, 3.0])
def test_headroom_is_in_stops_under_the_true_clip(stops: float) -> None:
    taken = expose(camera(prnu=0.0), FULL_E * 2.0**-stops)
    assert taken.truth.planes[0].headroom_stops == pytest.approx(stops, abs=1e-3)


def test_headroom_of_darkness_is_not_a_number() -> None:
    assert camera().expose(flat(9.0), 1.0, cap_on=True).truth.planes[0].headroom_stops is None


def test_blocked_share_is_the_area_under_the_floor() -> None:
    light = flat(5000.0)
    light[: HEIGHT // 3] = flat(1.0, HEIGHT // 3)
    taken = camera(prnu=0.0).expose(light, 1 / 64)
    assert [p.blocked_fraction for p in taken.truth.planes] == pytest.approx([1 / 3] * 4)


def test_hot_pixels_stay_in_place_and_grow_with_time() -> None:
    taken = camera(hot_per_megapixel=400.0)
    dark = [taken.expose(flat(0.0), time, rng=int(time), cap_on=True) for time in (2.0, 8.0)]
    rows, cols = dark[0].truth.hot_positions.T
    assert np.array_equal(dark[0].truth.hot_positions, dark[1].truth.hot_positions)
    excess = [d.mosaic.pixels[rows, cols].astype(float) - 512.0 for d in dark]
    bright = (dark[0].truth.hot_signal_dn > 60.0) & (dark[1].truth.hot_signal_dn < 12000.0)
    assert np.count_nonzero(bright) > 5
    assert np.median(excess[1][bright] / excess[0][bright]) == pytest.approx(4.0, rel=0.05)


def test_every_place_of_the_pattern_has_its_black_in_the_border_too() -> None:
    taken = camera(black_step_dn=6.0, margin_top=9, margin_left=7).expose(flat(0.0), 1 / 64)
    above, left = taken.mosaic.masked
    pattern = taken.mosaic.black.pattern_dn
    for area in (above, left):
        for y in range(2):
            for x in range(2):
                place = area.pixels[y::2, x::2].mean()
                expected = pattern[(area.top + y) % 2, (area.left + x) % 2]
                assert place == pytest.approx(expected, abs=0.25)


def test_the_file_may_be_wrong_about_its_black() -> None:
    taken = camera(black_tag_error_dn=7.0).expose(flat(0.0), 1 / 64)
    wrong = taken.mosaic.black.pattern_dn.mean() - taken.truth.planes[0].black_dn
    assert wrong == pytest.approx(7.0, abs=2.0)


def test_thirds_of_iso_leave_gaps_or_a_lower_clip() -> None:
    pushed = expose(camera(), 0.2 * FULL_E, iso=125.0)
    used = np.unique(np.rint(signal(pushed)).astype(int))
    tops = used[len(used) // 4 : 3 * len(used) // 4]
    assert np.mean(np.diff(tops) == 2) == pytest.approx(0.25, abs=0.05)
    pulled = expose(camera(), 2.0 * FULL_E, iso=160.0)
    clip = pulled.truth.planes[0].saturation_dn
    assert clip == pytest.approx(512 + (15872 - 512) * 0.8)
    assert abs(signal(pulled) + pulled.truth.planes[0].black_dn - clip).max() < 8.0


def test_filters_hold_back_what_they_truly_do_in_each_channel() -> None:
    six = NeutralFilter.off_marking(6.0, 6.2, red=-0.12, blue=0.10)
    plain, behind = expose(camera(), 30000.0), expose(camera(), 30000.0, filters=(six,))
    for plane, stops in enumerate((6.08, 6.2, 6.2, 6.3)):
        ratio = signal(plain, plane).mean() / signal(behind, plane).mean()
        assert math.log2(ratio) == pytest.approx(stops, abs=0.01)


def test_stacked_filters_add() -> None:
    one, two = NeutralFilter(6.0, (6.1, 6.2, 6.3)), NeutralFilter(3.0, (2.9, 3.0, 3.1))
    assert stacked_stops((one, two)) == pytest.approx((9.0, 9.2, 9.4))


def test_grad_has_its_strength_edge_and_transition() -> None:
    grad = GraduatedFilter(3.0, 0.4, 0.2)
    y = np.linspace(0.0, 1.0, 20001)
    stops = grad.stops(y)
    assert stops[0] == pytest.approx(3.0)
    assert y[np.argmax(stops <= 1.5)] == pytest.approx(0.4, abs=2e-4)
    between = y[np.argmax(stops <= 0.3)] - y[np.argmax(stops <= 2.7)]
    assert between == pytest.approx(0.2, abs=2e-3)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_upright_light_is_upright_again_after_the_camera_is_turned(orientation: int) -> None:
    size = (WIDTH, HEIGHT) if orientation >= 5 else (HEIGHT, WIDTH)
    light = flat(1000.0, *size)
    light[: size[0] // 4, : size[1] // 4] *= 20.0
    taken = camera().expose(light, 1 / 64, orientation=orientation)
    picture = upright(taken.mosaic.pixels, orientation)
    corner = picture[: size[0] // 4, : size[1] // 4].mean() - 512.0
    rest = picture[size[0] // 2 :].mean() - 512.0
    assert corner / rest == pytest.approx(20.0, rel=0.05)


def test_a_grad_darkens_the_upright_top_of_a_turned_camera() -> None:
    light = flat(20000.0, WIDTH, HEIGHT)
    grad = GraduatedFilter(2.0, 0.5, 0.1)
    taken = camera().expose(light, 1 / 64, orientation=8, grad=grad)
    picture = upright(taken.mosaic.pixels, 8).astype(float) - 512.0
    stops = math.log2(picture[-40:].mean() / picture[:40].mean())
    assert stops == pytest.approx(2.0, abs=0.02)


def test_vignetting_takes_what_it_says_from_the_corners() -> None:
    taken = camera(vignetting_stops=1.0)
    open_, down = (taken.expose(flat(20000.0) * n**2, 1 / 4096, n) for n in (4.0, 16.0))
    for exposure, loss in ((open_, 1.0), (down, 0.4375)):
        pixels = exposure.mosaic.pixels.astype(float) - 512.0
        middle = pixels[100:140, 160:200].mean()
        stops = math.log2(middle / pixels[:8, :8].mean())
        assert stops == pytest.approx(loss, abs=0.07)


def test_the_same_seeds_give_the_same_frame() -> None:
    first, again = (expose(camera(), 8000.0, rng=5) for _ in range(2))
    other = expose(camera(), 8000.0, rng=6)
    assert np.array_equal(first.stored, again.stored)
    assert not np.array_equal(first.stored, other.stored)


def test_another_body_has_other_defects() -> None:
    one, two = (fixed_pattern(camera(seed=n).sensor) for n in (1, 2))
    assert not np.array_equal(one.hot_index, two.hot_index)


def test_light_of_another_size_is_refused() -> None:
    with pytest.raises(ValueError, match="on a sensor of"):
        camera().expose(flat(1.0, 10, 10), 1.0)


def test_noiseless_signal_is_kept_on_request_only() -> None:
    taken = expose(camera(prnu=0.0), 1000.0, keep_noiseless=True)
    assert taken.truth.noiseless_dn is not None
    assert taken.truth.noiseless_dn == pytest.approx(300.0)
    assert expose(camera(), 1000.0).truth.noiseless_dn is None
