from __future__ import annotations

import pytest

from auditor.light.exposure import ev100, exposure_difference_stops, scene_ev100
from auditor.light.nominal import dial_of, nominal_name, nominal_times, true_time
from auditor.model.facts import ExposureFacts


def settings(
    time_s: float | None = 1.0, f_number: float | None = 8.0, iso: float | None = 100.0
) -> ExposureFacts:
    return ExposureFacts(time_s=time_s, f_number=f_number, iso=iso)


@pytest.mark.parametrize(
    ("long", "short", "stops"),
    [
        (settings(time_s=64.0), settings(), 6.0),
        (settings(f_number=4.0), settings(), 2.0),
        (settings(iso=400.0), settings(), 2.0),
        # nominal: f/11 is 11.31, f/5.6 is 5.66
        (settings(f_number=5.6), settings(f_number=11.0), 2.0),
        (settings(time_s=32.0, f_number=16.0, iso=50.0), settings(), 2.0),
    ],
)
def test_exposure_difference_adds_time_aperture_and_speed(
    long: ExposureFacts, short: ExposureFacts, stops: float
) -> None:
    assert exposure_difference_stops(long, short) == pytest.approx(stops)
    assert exposure_difference_stops(short, long) == pytest.approx(-stops)


def test_an_absent_part_makes_the_difference_unknown() -> None:
    lacking = settings(f_number=None)
    assert exposure_difference_stops(lacking, settings()) is None
    assert exposure_difference_stops(lacking, lacking) is None
    assert exposure_difference_stops(settings(time_s=None), settings(time_s=None)) is None


def test_a_lens_without_contacts_counts_as_unchanged_only_with_leave() -> None:
    long, short = settings(64.0, None), settings(1.0, None)
    assert exposure_difference_stops(long, short, absent_is_same=True) == pytest.approx(6.0)
    assert exposure_difference_stops(long, settings(), absent_is_same=True) is None


@pytest.mark.parametrize("bad", [(0.0, 8.0, 100.0), (1.0, -8.0, 100.0), (1.0, 8.0, 0.0)])
def test_exposure_value_refuses_what_cannot_be(bad: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="positive"):
        ev100(*bad)


def test_scene_value_is_unknown_without_signal_or_settings() -> None:
    assert scene_ev100(0.0, settings()) is None
    assert scene_ev100(0.1, settings(iso=None)) is None


def test_times_no_dial_bears_stay_as_they_are() -> None:
    assert true_time(47.0) == 47.0
    assert true_time(240.0) == 240.0
    assert nominal_name(240.0) == "4 min"


def test_half_stop_dials_are_known_too() -> None:
    assert true_time(1 / 45) == pytest.approx(1 / 45.2548, rel=1e-5)
    assert true_time(0.7) == pytest.approx(2**-0.5)
    assert true_time(0.333, "half") == pytest.approx(2**-1.5)
    assert true_time(20.0) == pytest.approx(20.159, abs=1e-3)
    assert true_time(20.0, "half") == pytest.approx(22.627, abs=1e-3)
    assert dial_of(1 / 45) == ("half", "1/45")
    assert dial_of(20.0) == ("third", "20")
    assert dial_of(47.0) is None
    assert list(nominal_times("full"))[:4] == ["30", "15", "8", "4"]


@pytest.mark.parametrize(
    ("written_s", "stops"), [(1 / 3, 5 / 3), (0.333, 5 / 3), (1 / 1.3, 1 / 3), (0.625, 2 / 3)]
)
def test_bodies_that_show_fractions_name_third_stops_by_them(
    written_s: float, stops: float
) -> None:
    """1/3 s is a third stop over 0.25 s there, and half a stop where the dial goes in halves."""
    assert true_time(written_s) == pytest.approx(2.0**-stops)


@pytest.mark.parametrize("time_s", [30.2, 31.0, 29.9, 1 / 7, 1 / 61, 1 / 128, 0.87])
def test_a_figure_that_is_no_rounded_name_was_timed(time_s: float) -> None:
    assert dial_of(time_s) is None
    assert true_time(time_s) == time_s


@pytest.mark.parametrize(
    ("time_s", "name"), [(0.333, "0.3"), (0.167, "1/6"), (0.017, "1/60"), (0.0166667, "1/60")]
)
def test_a_name_rounded_by_a_file_is_still_that_name(time_s: float, name: str) -> None:
    found = dial_of(time_s)
    assert found is not None
    assert found[1] == name
