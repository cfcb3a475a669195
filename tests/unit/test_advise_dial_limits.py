"""On either side of the numbers that settings are advised by."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from auditor.advise.dial import Dialled, base_iso, dial, remedies, trail_s, wider_apertures
from auditor.advise.graduated import used_grads
from auditor.advise.lessons import _third
from auditor.advise.most_light import PlainShot, _light_change, settings_stops
from auditor.advise.next_time import _changes, _together
from auditor.advise.suggestions import is_usable
from auditor.model.audit import Grad, Panorama, Setup
from auditor.model.facts import ExposureFacts
from auditor.model.grouping import Grouping
from auditor.model.remark import RemarkCode
from auditor.words.light import _rate


def shot(
    *, at_s: float | None = 0.0, setup: str = "s1", ev100: float | None = None, **exposure: Any
) -> PlainShot:
    """A frame of which nothing is known but its time, its set-up and its settings."""
    frame: Any = SimpleNamespace(
        id="a", exposure=ExposureFacts(**{"time_s": 1.0, "f_number": 8.0, "iso": 100.0} | exposure),
        lens=SimpleNamespace(focal_35mm=None, focal_mm=20.0), camera="B", captured_at=None,
        remarks=(),
    )  # fmt: skip
    if ev100 is not None:
        frame.exposure = SimpleNamespace(ev100=ev100)
    return PlainShot(frame=frame, setup=setup, at_s=at_s, stops=0.0, level=None, drift=None)


@pytest.mark.parametrize(("iso", "base"), [(80.0, 80.0), (50.0, 100.0)])
def test_the_lowest_isos_are_calculated(iso: float, base: float) -> None:
    assert base_iso([shot(iso=iso)]) == base


@pytest.mark.parametrize(("ev100", "stars"), [(-1.7, False), (-2.3, True)])
def test_under_a_full_moon_stars_are_seen(ev100: float, *, stars: bool) -> None:
    assert (trail_s(shot(ev100=ev100).frame) is not None) == stars


def test_from_f_11_the_aperture_opens_by_a_stop_at_most() -> None:
    assert wider_apertures(11.0) == [10.0, 9.0, 8.0]


def dialled(wanted_s: float, iso: float) -> Dialled:
    """Settings for light that would take so long at f/8."""
    return dial(settings_stops(wanted_s, 8.0, iso), shot(iso=iso), iso, {})


@pytest.mark.parametrize(("wanted_s", "iso"), [(26.0, 100.0), (38.0, 200.0)])
def test_a_time_beyond_the_dial_asks_for_more_iso(wanted_s: float, iso: float) -> None:
    assert dialled(wanted_s, 100.0).iso == iso


@pytest.mark.parametrize(("base", "highest"), [(64.0, 1024.0), (80.0, 1280.0)])
def test_by_doubling_no_iso_over_1600_is_reached(base: float, highest: float) -> None:
    assert dialled(4000.0, base).iso == highest


@pytest.mark.parametrize(("stops", "named"), [(9.0, False), (9.4, True)])
def test_beyond_ten_minutes_behind_a_filter_something_else_is_named(
    stops: float, *, named: bool
) -> None:
    """A second becomes 512, or 676."""
    settings = Dialled(time_s=1.0, f_number=8.0, iso=100.0, stops=0.0)
    assert bool(list(remedies(settings, [("a", stops)], 0.0))) == named


@pytest.mark.parametrize(
    ("before_s", "time_s", "asked"),
    [
        (1 / 500, 1 / 150, False), (1 / 500, 1 / 105, True),
        (0.8, 4.0, True), (1.2, 4.0, False),
        (1 / 10, 2.0**0.75 / 10, False), (1 / 10, 2.0**1.05 / 10, True),
    ],
)  # fmt: skip
def test_a_longer_time_asks_for_still_air(before_s: float, time_s: float, *, asked: bool) -> None:
    """Where leaves begin to blur, not where all is blurred already, from twice the time on."""
    settings = Dialled(time_s=time_s, f_number=8.0, iso=100.0, stops=0.0)
    told = [one.code for one in _changes(shot(time_s=before_s), settings, {})]
    assert (RemarkCode.STILL_AIR in told) == asked


@pytest.mark.parametrize(("apart_s", "known"), [(200.0, True), (-280.0, False)])
def test_frames_near_in_time_share_their_light(apart_s: float, *, known: bool) -> None:
    change = _light_change(shot(at_s=apart_s, setup="s2"), shot())
    assert change == (0.0 if known else None)


@pytest.mark.parametrize(("gap_s", "one_view"), [(50, True), (70, False)])
def test_panoramas_one_after_the_other_are_rows_of_one_view(gap_s: int, *, one_view: bool) -> None:
    names, results = ("a", "b", "c", "d"), {}
    for name, second in zip(names, (0, 10, 10 + gap_s, 20 + gap_s), strict=True):
        frame = shot().frame
        clock = f"2031-09-14T18:{second // 60:02d}:{second % 60:02d}"
        results[name] = SimpleNamespace(**{**vars(frame), "id": name, "captured_at": clock})
    anyone: Any = results
    grouping = Grouping(
        setups=tuple(Setup(name, (name,), None, None, (None,)) for name in names),
        panoramas=(Panorama(("a", "b"), 0.0), Panorama(("c", "d"), 0.0)),
    )
    assert (len(list(_together(grouping, anyone))) == 1) == one_view


@pytest.mark.parametrize(("apart", "same"), [(0.042, True), (0.058, False)])
def test_a_filter_at_nearly_one_height_was_not_moved(apart: float, *, same: bool) -> None:
    grads = tuple(
        Grad("s1", "a", name, edge, 2.0, 0.1, ()) for name, edge in (("b", 0.4), ("c", 0.4 + apart))
    )
    setup = Setup("s1", ("a", "b", "c"), None, None, (None,) * 3)
    assert (len(used_grads(Grouping(setups=(setup,), grads=grads), {})) == 1) == same


@pytest.mark.parametrize(
    ("blown", "blocked", "room", "usable"),
    [
        (0.05, 0.04, 1.0, True), (0.06, 0.05, 1.0, False),
        (0.0, 0.0, 3.5, True), (0.0, 0.0, 4.5, False),
    ],
)  # fmt: skip
def test_what_would_do_as_a_picture(
    blown: float, blocked: float, room: float, *, usable: bool
) -> None:
    assert is_usable(blown, blocked, room) == usable


@pytest.mark.parametrize(("stops", "within"), [(0.34, True), (-0.38, False)])
def test_settings_a_step_of_the_dial_off_are_good(stops: float, *, within: bool) -> None:
    assert _third(stops) == within


@pytest.mark.parametrize(("rate", "steady"), [(-0.017, True), (-0.023, False)])
def test_light_that_hardly_changes_is_steady(rate: float, *, steady: bool) -> None:
    assert ("was steady" in _rate(rate, "The light ")) == steady
