"""Exposure arithmetic against published tables; the source stands beside each check."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from auditor.light import exposure as ex
from auditor.light.nominal import (
    nominal_name,
    nominal_times,
    true_time,
)
from auditor.model.apertures import nominal_f_numbers, true_f_number
from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts

# Exposure value article (theinfolist.com), wolframcloud FormulaRepository, probsee.com.
EV_TABLE = [
    (1.0, 1.0, 0.0),
    (1 / 128, 16.0, 15.0),
    (1 / 125, 16.0, 14.9658),
    (1 / 500, 8.0, 14.9658),
    (1 / 250, 11.0, 14.8846),
]


@pytest.mark.parametrize(("time_s", "f_number", "ev"), EV_TABLE)
def test_exposure_value_as_published(time_s: float, f_number: float, ev: float) -> None:
    assert ex.ev100(time_s, f_number) == pytest.approx(ev, abs=5e-5)


@pytest.mark.parametrize(
    ("name", "f_name"), [("1/60", "8"), ("1/30", "11"), ("1/4", "32")]
)  # optyczne.pl dictionary: all three are EV 12
def test_equal_exposure_values_by_true_settings(name: str, f_name: str) -> None:
    ev = ex.ev100(nominal_times()[name], nominal_f_numbers()[f_name])
    assert ev == pytest.approx(12.0, abs=1e-12)


def test_sunny_sixteen() -> None:
    # wiki.polaire.nl; ANSI PH2.7 excerpt at apug.org 1284033: f/16 and one over the ISO speed.
    assert ex.ev100(1 / 100, 16.0, 100.0) == pytest.approx(14.6439, abs=5e-5)
    for iso in (50.0, 200.0, 400.0):
        assert ex.ev100(1 / iso, 16.0, iso) == pytest.approx(ex.ev100(1 / 100, 16.0, 100.0))


# colour-hdri 0.2.6 (BSD-3), exposure_value_100.
METER_TABLE = [
    (1, 1, 100, 0.0),
    (8, 1, 100, 6.0),
    (16, 1 / 125, 100, 14.965784),
    (16, 1 / 128, 100, 15.0),
    (16, 1 / 100, 100, 14.643856),
    (8, 1 / 250, 400, 11.965784),
    (11, 30, 100, 2.011973),
    (11, 32, 100, 1.918863),
    (5.6, 1 / 60, 200, 9.877744),
    (2.8, 1 / 4000, 64, 15.580494),
]


@pytest.mark.parametrize(("n", "t", "s", "ev"), METER_TABLE)
def test_exposure_values_against_an_independent_library(
    n: float, t: float, s: float, ev: float
) -> None:
    assert ex.ev100(t, n, s) == pytest.approx(ev, abs=1e-6)


def test_where_a_metered_grey_lies() -> None:
    # colour-hdri dsc.py citing ISO 12232:2006: 18 % over sqrt 2.
    share = ex.GREY_SHARE
    assert share == pytest.approx(0.127279, abs=5e-7)


def test_scene_value_of_a_metered_frame_is_the_exposure_value() -> None:
    # ISO 12232, saturation-based, by definition: grey at 12.73 % means metered exactly.
    metered = ExposureFacts(time_s=1 / 128, f_number=16.0, iso=100.0)
    assert ex.scene_ev100(0.18 / math.sqrt(2.0), metered) == pytest.approx(15.0)
    assert ex.scene_ev100(0.09 / math.sqrt(2.0), metered) == pytest.approx(14.0)


# Third-stop tables: scantips.com/lights/fstop2.html for the idea; denominators recomputed.
TRUE_TIMES = {
    "30": 32, "25": 25.398, "20": 20.159, "15": 16, "13": 12.699, "10": 10.079, "8": 8,
    "6": 6.3496, "5": 5.0397, "4": 4, "3.2": 3.1748, "2.5": 2.5198, "2": 2, "1.6": 1.5874,
    "1.3": 1.2599, "1": 1, "0.8": 0.79370, "0.6": 0.62996, "0.5": 0.5, "0.4": 0.39685,
    "0.3": 0.31498, "1/4": 1 / 4, "1/5": 1 / 5.0397, "1/6": 1 / 6.3496, "1/8": 1 / 8,
    "1/10": 1 / 10.079, "1/13": 1 / 12.699, "1/15": 1 / 16, "1/20": 1 / 20.159,
    "1/25": 1 / 25.398, "1/30": 1 / 32, "1/40": 1 / 40.317, "1/50": 1 / 50.797, "1/60": 1 / 64,
    "1/80": 1 / 80.635, "1/100": 1 / 101.59, "1/125": 1 / 128, "1/160": 1 / 161.27,
    "1/200": 1 / 203.19, "1/250": 1 / 256, "1/320": 1 / 322.54, "1/400": 1 / 406.37,
    "1/500": 1 / 512, "1/640": 1 / 645.08, "1/800": 1 / 812.75, "1/1000": 1 / 1024,
    "1/2000": 1 / 2048, "1/4000": 1 / 4096, "1/8000": 1 / 8192,
}  # fmt: skip


@pytest.mark.parametrize(("name", "true_s"), TRUE_TIMES.items())
def test_true_times_of_the_dial(name: str, true_s: float) -> None:
    assert nominal_times()[name] == pytest.approx(true_s, rel=1e-4)
    top, _, bottom = name.partition("/")
    assert true_time(float(top) / float(bottom or 1)) == pytest.approx(true_s, rel=1e-4)
    assert nominal_name(true_s) == f"{name} s"


def test_largest_errors_of_the_dial() -> None:
    # Recomputed from the same tables; 30 s is really 32 s: 0.0931 stop.
    shown = {name: float(Fraction(name)) for name in TRUE_TIMES}
    errors = {name: math.log2(nominal_times()[name] / shown[name]) for name in shown}
    assert max(abs(error) for error in errors.values()) == pytest.approx(0.0931, abs=5e-5)
    assert errors["30"] == errors["15"] == pytest.approx(0.0931, abs=5e-5)
    assert errors["1/30"] == errors["1/60"] == pytest.approx(-0.0931, abs=5e-5)
    assert abs(errors["1/125"]) == pytest.approx(0.0342, abs=5e-5)
    assert errors["6"] == pytest.approx(0.0817, abs=5e-5)
    assert errors["1/6"] == pytest.approx(-0.0817, abs=5e-5)


# The same sources, apertures: N = 2^(i/6).
F_NUMBERS = {
    "1.4": 1.41421, "2.8": 2.82843, "3.5": 3.56359, "4.5": 4.48985, "5.6": 5.65685,
    "6.3": 6.34960, "7.1": 7.12719, "9": 8.97970, "11": 11.31371, "13": 12.69921,
    "14": 14.25438, "18": 17.95939, "20": 20.15874, "22": 22.62742,
}  # fmt: skip


@pytest.mark.parametrize(("name", "exact"), F_NUMBERS.items())
def test_true_f_numbers(name: str, exact: float) -> None:
    assert nominal_f_numbers()[name] == pytest.approx(exact, abs=5e-6)
    assert true_f_number(float(name)) == pytest.approx(exact, abs=5e-6)


@pytest.mark.parametrize(("written", "exact"), [(1.2, 1.2), (1.189, 1.189), (1.26, 1.26)])
def test_the_widest_aperture_counts_as_marked(written: float, exact: float) -> None:
    """Thirds (2^(2/6)) and halves of a stop (2^(1/4)) share the name 1.2."""
    assert true_f_number(written) == exact
    assert abs(2 * math.log2(written / 2 ** (2 / 6))) <= 0.17
    scale = {name for name, n in nominal_f_numbers().items() if true_f_number(float(name)) != n}
    assert scale == {"1.2"}, "all others by the third-stop scale"


def test_largest_errors_of_the_aperture_scale() -> None:
    off = {name: 2 * math.log2(n / float(name)) for name, n in nominal_f_numbers().items()}
    assert off["11"] == off["22"] == pytest.approx(0.0811, abs=5e-5)
    assert off["1.2"] == pytest.approx(0.1406, abs=5e-5)


def test_bodies_measured_in_a_published_post_keep_to_the_powers_of_two() -> None:
    # dpreview post 31437081, one body timed: 30 -> 32.0, 25 -> 26.1 ... 1 -> 1.030.
    timed = {"30": 32.0, "25": 26.1, "20": 20.8, "15": 16.5, "13": 13.1, "10": 10.4, "8": 8.24,
             "6": 6.54, "5": 5.19, "4": 4.12, "2": 2.06, "1": 1.030}  # fmt: skip
    off = [math.log2(seconds / nominal_times()[name]) for name, seconds in timed.items()]
    assert max(abs(stops) for stops in off) < 0.06
    nominal_off = [math.log2(seconds / float(name)) for name, seconds in timed.items()]
    assert max(nominal_off) == pytest.approx(0.1375, abs=5e-4)


@pytest.mark.parametrize(
    ("f_number", "time_s", "ev"),
    [(11.0, 1 / 32, 12.0), (22.0, 1 / 8, 12.0), (5.6, 1 / 128, 12.0), (16.0, 1 / 16, 12.0)],
)
def test_exposure_values_of_frames_count_by_the_true_f_number(
    f_number: float, time_s: float, ev: float
) -> None:
    """Powers of two (common practice): f/11 is 11.31, f/22 is 22.63."""
    assert ExposureFacts(time_s, TimeSource.APEX, time_s, f_number, 100.0).ev100 == pytest.approx(
        ev
    )
