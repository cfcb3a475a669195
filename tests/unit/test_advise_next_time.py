"""Settings for next time, on set-ups whose bright end and light are known."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.figures.frame import loss_of
from auditor.light.filters import steady_equivalent_s
from auditor.model.advice import FilterVerdict, NextTime
from auditor.model.audit import (
    Bracket,
    FrameResult,
    Grad,
    Marking,
    Panorama,
    Patch,
    Setup,
    SiblingPair,
    SkyBalance,
    StopHistogram,
)
from auditor.model.codes import Cast, FrameStatus, GradKind, Loss, TimeSource, Verdict
from auditor.model.facts import CameraFacts, ExposureFacts, LensFacts
from auditor.model.grouping import Grouping
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import JudgeSettings
from auditor.words.next_time import counted_time
from tests.evenings import frame_at
from tests.told import with_next_time

START = datetime(2031, 9, 14, 19, 0, 0, tzinfo=UTC)
THIRD = 1.0 / 3.0
TEN = FilterVerdict(
    name="10-stop filter", pairs=2, frames=("L",), stops=9.7, spread_stops=0.0,
    cast_stops={"R": 0.0, "B": 0.0}, cast=Cast.NEUTRAL, marking_stops=10.0, off_marking_stops=-0.3,
)  # fmt: skip
SIX = replace(TEN, name="6-stop filter", stops=6.2)


def frame(
    name: str, at_s: float, time_s: float, headroom: float, *, loss: str = "none",
    f_number: float = 16.0, iso: float = 100.0, verdict: str = "held",
) -> FrameResult:  # fmt: skip
    return FrameResult(
        id=name, input=0, file=name, status=FrameStatus.MEASURED, error=None,
        camera=CameraFacts("B", "F"),
        lens=LensFacts("L", 24.0), orientation=1,
        captured_at=(START + timedelta(seconds=at_s)).isoformat(),
        exposure=ExposureFacts(time_s, TimeSource.APEX, time_s, f_number, iso), blown_fraction=0.0,
        headroom_stops=headroom, loss=Loss(loss), verdict=Verdict(verdict),
    )  # fmt: skip


def advice(
    *frames: FrameResult, grouping: Grouping | None = None, filters: tuple[FilterVerdict, ...] = ()
) -> NextTime | None:
    results = {one.id: one for one in frames}
    setup = Setup("S01", tuple(results), None, 24.0, (None,) * len(frames))
    given = grouping or Grouping()
    told = with_next_time(results, replace(given, setups=given.setups or (setup,)), filters)
    return told.setups[0].next_time


def told(*frames: FrameResult, **more: object) -> NextTime:
    found = advice(*frames, **more)  # type: ignore[arg-type]
    assert found is not None
    return found


@given(
    bright=st.floats(-3.0, 6.0),
    steps=st.lists(st.floats(0.4, 4.0), min_size=1, max_size=6),
    fall=st.floats(-0.4, 0.2),
)
@settings(deadline=None)
def test_the_bright_end_comes_to_lie_a_third_of_a_stop_under_saturation(
    bright: float, steps: list[float], fall: float
) -> None:
    """``bright``: stops by which the scene's bright end overshoots at 1 s, f/16, at the start."""
    shots, levels = [], {}
    for number, step in enumerate(steps):
        light = fall * number
        time_s = 2.0 ** -(bright + light + step)
        shots.append(frame(f"F{number}", 60.0 * number, time_s, step))
        levels[f"F{number}"] = light
    found = told(*shots, grouping=Grouping(levels=levels))
    now = bright + fall * (len(steps) - 1)
    gain = math.log2(256.0 / found.f_number**2) if found.f_number else 0.0
    left = -(now + math.log2(found.time_s) + round(6 * gain) / 6 + math.log2(found.iso / 100))  # type: ignore[operator]
    assert left == pytest.approx(THIRD, abs=1 / 6 + 0.03)
    assert found.headroom_stops == pytest.approx(left, abs=0.03)


@pytest.mark.parametrize(("headroom", "third"), [(THIRD + 0.13, 0), (THIRD - 0.13, 0)])
def test_the_margin_is_a_third(headroom: float, third: int) -> None:
    assert told(frame("A", 0, 0.25, headroom)).time_s == pytest.approx(0.25 * 2.0 ** (third / 3))


def test_the_least_headroom_decides_and_is_named() -> None:
    found = told(frame("A", 0, 0.25, 1.5), frame("B", 20, 0.25, THIRD + 1), frame("C", 40, 0.25, 2))
    assert found.time_s == 0.5
    assert "B (1/4 s) has 1.3 stops of headroom, the least of this set-up." in found.why
    assert found.change_stops == pytest.approx(1.0)


def test_a_panorama_is_set_by_its_brightest_frame_in_all_its_set_ups() -> None:
    shots = [frame(name, n * 5, 0.5, room) for n, (name, room) in
             enumerate([("A", 1.5), ("B", THIRD), ("C", 1.2)])]  # fmt: skip
    setups = tuple(Setup(f"S0{n}", (one.id,), None, 24.0, (None,)) for n, one in enumerate(shots))
    told = with_next_time(
        {one.id: one for one in shots},
        Grouping(setups=setups, panoramas=(Panorama(("A", "B", "C"), 0.0),)), (),
    )  # fmt: skip
    texts = {setup.next_time.text for setup in told.setups if setup.next_time}
    assert texts == {"0.5 s, f/16, ISO 100"}
    assert all(s.next_time and s.next_time.joint == ("A", "B", "C") for s in told.setups)
    assert "the brightest of the panorama's 3 frames" in told.setups[0].next_time.why[0]  # type: ignore[union-attr]


def test_a_retake_is_known_and_not_blamed() -> None:
    lost = frame("A", 0, 1.0, 0.0, loss=Loss.ALL_CHANNELS, verdict=Verdict.BLOWN)
    found = told(lost, frame("B", 15, 0.25, THIRD))
    assert (found.frame, found.time_s) == ("B", 0.25)
    assert "A (1 s) was too long and was taken again at once." in found.why


def test_the_frames_of_a_bracket_are_meant() -> None:
    shots = [frame("A", 0, 0.25, THIRD), frame("B", 1, 0.0625, 2 + THIRD),
             frame("C", 2, 1.0, 0.0, loss=Loss.CHANNEL, verdict=Verdict.BLOWN),
             frame("D", 3, 0.25, THIRD)]  # fmt: skip
    bracket = Bracket("S01", ("A", "B", "C"), 2.0, 1.0, {}, ("A",), ("B", "C"))
    found = told(*shots, grouping=Grouping(brackets=(bracket,)))
    assert found.time_s == 0.25
    assert not any("taken again" in line for line in found.why)


def test_glints_let_a_frame_stay_as_it_was() -> None:
    found = told(frame("A", 0, 1 / 128, 0.1), frame("B", 1, 1 / 32, 0.0, loss=Loss.GLINTS))
    assert found.time_s == 1 / 32
    assert found.why[0].startswith("Only glints clip in B (1/32 s)")


def test_an_area_lost_forbids_what_glints_would_allow() -> None:
    found = told(
        frame("A", 0, 1 / 8, 0.0, loss=Loss.CHANNEL, verdict=Verdict.BLOWN),
        frame("B", 1, 1 / 4, 0.0, loss=Loss.GLINTS),
        frame("C", 2, 1 / 32, THIRD),
    )
    assert found.time_s == 1 / 32


def test_where_every_frame_lost_an_area_it_says_so() -> None:
    found = told(frame("A", 0, 1 / 4, 0.0, loss=Loss.CHANNEL, verdict=Verdict.BLOWN))
    assert found.time_s == 1 / 8
    assert found.why[0].startswith("A (1/4 s) lost an area: take a stop less")
    lost = [frame(name, at_s, 1 / 4, 0.0, loss=Loss.CHANNEL, verdict=Verdict.BLOWN)
            for name, at_s in (("A", 0), ("B", 30))]  # fmt: skip
    assert told(*lost).why[0].startswith("Every frame lost an area, least of them A (1/4 s)")


def test_a_frame_far_away_in_time_has_no_say_where_nothing_measures_the_light() -> None:
    late = frame("B", 400, 0.25, 2 + THIRD)
    assert told(frame("A", 0, 0.25, THIRD), late).time_s == 1.0
    assert told(frame("A", 180, 0.25, THIRD), late).time_s == 0.25
    assert told(frame("A", 100, 0.25, THIRD), late).time_s == 1.0


def test_a_frame_that_was_given_more_and_held_outweighs_the_headroom_of_another() -> None:
    """A wave that shone in the dark frame of a bracket is no reason to give less light."""
    dark, given = frame("A", 0, 1 / 32, 1.2), frame("B", 1, 1 / 8, 0.1 + THIRD)
    assert told(dark, given).time_s == 1 / 8
    setups = tuple(Setup(name, (name,), None, 24.0, (None,)) for name in "AB")
    panorama = Grouping(setups=setups, panoramas=(Panorama(("A", "B"), 2.0),))
    assert told(dark, given, grouping=panorama).time_s == 1 / 16, "another view"


def test_a_bracket_is_held_against_its_middle_frame() -> None:
    """Its dark end was meant: nobody is told to give two stops more than that."""
    shots = [frame("A", 0, 0.25, THIRD), frame("B", 1, 1 / 16, 2 + THIRD),
             frame("C", 2, 1.0, 0.0, loss=Loss.CHANNEL, verdict=Verdict.BLOWN)]  # fmt: skip
    bracket = Bracket("S01", ("A", "B", "C"), 2.0, 1.0, {}, ("A",), ("B", "C"))
    found = told(*shots, grouping=Grouping(brackets=(bracket,)))
    assert (found.frame, found.time_s, found.change_stops) == ("A", 0.25, 0.0)
    assert told(*shots).frame == "B", "three single frames: the latest that held"


def test_where_all_lost_an_area_the_change_is_that_against_the_least_of_them() -> None:
    shots = [
        replace(frame(name, at_s, time_s, 0.0, loss="channel", verdict="blown"), blown_fraction=by)
        for name, at_s, time_s, by in (("A", 0, 1 / 8, 0.01), ("B", 30, 2.0, 0.6))
    ]
    found = told(*shots)
    assert (found.frame, found.time_s, found.change_stops) == ("A", 1 / 16, -1.0)


def test_an_iso_counts_by_the_gain_that_it_has_in_truth() -> None:
    """ISO 125 that is read as 100 gives the same picture at 100: no longer a time."""
    named = frame("A", 0, 1 / 8, THIRD, iso=125)
    pulled = replace(named, exposure=replace(named.exposure, gain_iso=100.0))
    assert (told(pulled).time_s, told(pulled).iso) == (1 / 8, 100)
    assert "ISO 100 instead of 125 costs no time" in " ".join(told(pulled).why)
    assert told(named).time_s == pytest.approx(2.0 ** (-8 / 3)), "a third more than an eighth"


def test_base_iso_comes_back() -> None:
    found = told(frame("A", 0, 1 / 32, THIRD, iso=1600))
    assert (found.time_s, found.iso) == (0.5, 100)
    assert any("ISO 100 instead of 1600 costs 4.0 stops" in line for line in found.why)
    assert any("needs still air" in line for line in found.why)


def test_an_iso_that_the_metadata_do_not_hold_is_not_changed() -> None:
    """A compact that records none has no other to dial; the decoder tells it from its model."""
    shot = frame("A", 0, 1 / 32, THIRD, iso=160)
    assert told(shot).iso == 100
    for facts, iso in ((("ISO",), 160), (("f-number",), 100)):
        answered = replace(shot, remarks=(remark(RemarkCode.FROM_DECODER, facts=facts),))
        assert told(answered).iso == iso


def test_the_aperture_opens_before_the_iso_rises_where_the_time_runs_away() -> None:
    wide = told(frame("A", 0, 32.0, 2 + THIRD))
    assert (wide.f_number, wide.iso, round(wide.time_s)) == (8.0, 100, 32)
    assert (
        "f/8 instead of f/16 keeps the time on the dial, at some cost in depth of field."
        in wide.why
    )
    wider = told(frame("A", 0, 32.0, 3 + THIRD))
    assert (wider.f_number, wider.iso, round(wider.time_s)) == (8.0, 200, 32)
    assert (
        "ISO 200 keeps the time on the dial; on Bulb, 1 min 5 s at ISO 100 has less noise."
    ) in wider.why
    high = told(frame("A", 0, 32.0, 6 + THIRD))
    assert (high.f_number, high.iso) == (8.0, 1600)
    assert "ISO 1600 keeps the time on the dial; on Bulb, 8 min 30 s at ISO 100" in high.why[-1]
    assert told(frame("A", 0, 32.0, THIRD, f_number=4.0)).f_number == 4.0, "as it was taken"
    assert told(frame("A", 0, 32.0, 9 + THIRD)).iso == 1600
    assert told(frame("A", 0, 32.0, 9 + THIRD, iso=64)).iso == 1024
    assert told(frame("A", 0, 24.0, THIRD)).f_number == 16.0


@pytest.mark.parametrize(("lowest", "iso"), [(56.0, 100.0), (72.0, 72.0)])
def test_a_speed_that_is_reached_by_calculation_is_not_advised(lowest: float, iso: float) -> None:
    found = told(frame("A", 0, 1 / 8, 1.0, iso=lowest), frame("B", 20, 1 / 8, 1.0, iso=200))
    assert found.iso == iso


@pytest.mark.parametrize(("drift", "told_of"), [(-0.015, False), (-0.025, True)])
def test_light_that_hardly_changes_is_steady(drift: float, *, told_of: bool) -> None:
    shot = frame("A", 0, 1 / 4, THIRD)
    found = told(shot, grouping=Grouping(drifts={"A": drift}), filters=(SIX,))
    assert any("stop a minute" in line for line in found.why) == told_of


def test_by_starlight_the_time_stays_where_stars_are_points() -> None:
    """500 over the focal length, 24 mm; a photographer who let them draw trails meant it."""
    night = told(frame("A", 0, 8.0, 3.0, f_number=2.8, iso=6400))
    assert (round(night.time_s), night.f_number, night.iso) == (20, 2.8, 6400)
    assert "From 21 s on stars draw trails at 24 mm" in " ".join(night.why)
    trails = told(frame("A", 0, 32.0, THIRD, f_number=2.8, iso=3200))
    assert (round(trails.time_s), trails.iso) == (32, 3200)


@pytest.mark.parametrize(("ev100", "stars"), [(-1.9, False), (-2.1, True)])
def test_from_which_light_on_stars_are_thought_of(ev100: float, *, stars: bool) -> None:
    exposed_s = 2.8284**2 / 2.0**ev100 * 100 / 400
    found = told(frame("A", 0, exposed_s, 4.0, f_number=2.8, iso=400))
    assert ("stars" in " ".join(found.why)) == stars


@pytest.mark.parametrize(
    ("time_s", "headroom", "wind"),
    [
        (1 / 500, 2.0, False),
        (1 / 500, 2.7, True),
        (0.8, 1.5, True),
        (1.3, 1.5, False),
        (0.5, 1.0, False),
        (0.5, 4 / 3, True),
    ],
)
def test_wind_is_spoken_of_where_a_longer_time_blurs_what_a_shorter_one_froze(
    time_s: float, headroom: float, *, wind: bool
) -> None:
    found = told(frame("A", 0, time_s, headroom))
    assert ("needs still air" in " ".join(found.why)) == wind
    assert ("ISO 100 in still air" in found.text) == wind


def test_at_night_the_dial_ends_and_the_iso_that_was_used_may_stay() -> None:
    end = told(frame("A", 0, 32.0, 1.1, f_number=2.8, iso=1600))
    assert (end.time_s, end.iso, round(end.change_stops, 2)) == (32.0, 1600, 0.0)


def test_a_frame_longer_than_the_dial_has_no_say() -> None:
    """Behind a filter that no pair measured, or held open by hand."""
    assert advice(frame("A", 0, 3251.0, 0.0, loss="channel", verdict="blown")) is None
    found = told(frame("A", 0, 25.0, THIRD), frame("B", 200, 2048.0, 3.1))
    assert (found.frame, round(found.time_s)) == ("A", 25)


def test_rows_of_one_view_share_the_settings_of_the_brightest() -> None:
    setups = tuple(Setup(f"S{n}", (n,), None, 24.0, (None,)) for n in "ABCD")
    rooms = {"A": 1.5, "B": 1.8, "C": THIRD, "D": 2.4}
    shots = [frame(n, 5.0 * at, 1 / 15, room) for at, (n, room) in enumerate(rooms.items())]
    grouping = Grouping(
        setups=setups, panoramas=(Panorama(("A", "B"), 0.0), Panorama(("C", "D"), 0.0))
    )
    found = told(*shots, grouping=grouping)
    assert found.joint == ("A", "B", "C", "D")
    assert found.time_s == pytest.approx(1 / 15, rel=0.13)
    for gap_s, joint in ((50, ("A", "B", "C", "D")), (70, ("A", "B"))):
        begins = (START + timedelta(seconds=5 + gap_s)).isoformat()
        later = [replace(one, captured_at=begins) if one.id in "CD" else one for one in shots]
        assert told(*later, grouping=grouping).joint == joint


def test_glints_are_let_go_only_until_they_would_grow_to_an_area() -> None:
    """Under the glints 0.2 % of the picture ends half a stop under saturation."""
    counts = (10, 0, 0, 0, 2000, 1_000_000)
    histogram = StopHistogram(0.0, 0.125, counts)
    channels = tuple(replace(one, histogram=histogram) for one in frame_at("B", None).channels)
    glints = replace(frame("B", 5, 1 / 8, 0.0, loss=Loss.GLINTS), channels=channels)
    held = frame("A", 0, 1 / 8, 2.0)
    found = told(held, glints)
    assert math.log2(found.time_s * 8) == pytest.approx(0.5, abs=0.2)
    assert found.why[0].startswith("Only glints clip in B (1/8 s)")
    assert math.log2(told(held).time_s * 8) == pytest.approx(2 - THIRD, abs=0.2)


def test_the_drift_is_solved_for_each_filters_own_length() -> None:
    found = told(
        frame("A", 0, 1 / 4, THIRD), grouping=Grouping(drifts={"A": -0.3}), filters=(SIX, TEN)
    )
    for behind, stops in zip(found.behind, (6.2, 9.7), strict=True):
        assert behind.time_s is not None
        assert steady_equivalent_s(behind.time_s, -0.3) == pytest.approx(0.25 * 2**stops)
    assert any("falls by 0.30 stop a minute" in line for line in found.why)
    assert "behind the 6-stop filter" in found.text


def test_beyond_ten_minutes_an_aperture_or_a_weaker_filter_is_named() -> None:
    def why(time_s: float, f_number: float = 16.0) -> str:
        found = told(frame("A", 0, time_s, THIRD, f_number=f_number), filters=(SIX, TEN))
        return " ".join(found.why)

    assert "Behind" not in why(2.0 ** (-2 / 3))  # 8 min 44 s
    assert "10-stop filter it takes 11 min. At f/11, 5 min 30 s" in why(2.0 ** (-1 / 3))
    assert "10-stop filter it takes 14 min. At f/11, 7 min will do" in why(1.0)
    assert "Take the 6-stop filter: 5 min." in why(4.0, 8.0)


def test_where_the_time_runs_away_the_line_tells_what_would_do() -> None:
    open_up = told(frame("A", 0, 1.0, THIRD, f_number=16.0), filters=(SIX, TEN))
    assert open_up.text.endswith("10-stop filter 7 min at f/11")
    weaker = told(frame("A", 0, 4.0, THIRD, f_number=8.0), filters=(SIX, TEN))
    assert weaker.text.endswith("behind the 6-stop filter 5 min; too dark for the 10-stop filter")


@given(time_s=st.floats(36.0, 7200.0))
@settings(deadline=None)
def test_times_are_told_as_they_are_counted_within_a_tenth_of_a_stop(time_s: float) -> None:
    units = {"h": 3600, "min": 60, "s": 1}
    parts = counted_time(time_s).split()
    told_s = sum(int(n) * units[unit] for n, unit in zip(parts[::2], parts[1::2], strict=True))
    assert abs(math.log2(told_s / time_s)) <= 0.07


def test_a_panorama_is_told_no_times_behind_filters() -> None:
    """Minutes a frame: the light, the water and the clouds of neighbours would not join."""
    setups = tuple(Setup(f"S{n}", (n,), None, 24.0, (None,)) for n in "AB")
    grouping = Grouping(setups=setups, panoramas=(Panorama(("A", "B"), 0.0),))
    found = told(
        frame("A", 0, 0.5, THIRD), frame("B", 9, 0.5, THIRD), grouping=grouping, filters=(TEN,)
    )
    assert found.joint == ("A", "B")
    assert not found.behind


def test_behind_a_grad_its_own_frame_tells_and_the_grad_is_advised() -> None:
    grad = Grad("S01", "A", "B", 0.36, 3.001, 0.2)
    found = told(
        frame("A", 0, 1 / 8, THIRD), frame("B", 20, 0.5, THIRD), grouping=Grouping(grads=(grad,))
    )
    assert found.time_s == 0.5
    assert found.text.endswith("; 3-stop (0.9) grad, its edge 36 % from the top")
    assert found.grad is not None
    assert found.grad.edge_at == 0.36


def sky(name: str, over: float, strength: float | None, at_line: float = 9.0) -> SkyBalance:
    return SkyBalance(name, over, 1.0, strength, 0.41, at_line_stops=at_line, kind=GradKind.HARD)


def test_a_grad_is_advised_where_no_frame_held_both_ends() -> None:
    for verdict, wanted in (("blown", "; 2-stop (0.6) hard grad, its edge 41 % from the top"),
                            ("held", ", ISO 100")):  # fmt: skip
        found = told(
            frame("A", 0, 1 / 8, 0.0, loss="channel", verdict=verdict),
            grouping=Grouping(skies=(sky("A", 3.2, 2.0),)),
        )
        assert found.text.endswith(wanted)
    bright_water = told(
        frame("A", 0, 1 / 8, 0.0, loss="channel", verdict=Verdict.BLOWN),
        grouping=Grouping(skies=(sky("A", 3.2, None, at_line=0.3),)),
    )
    assert bright_water.grad is None


@pytest.mark.parametrize(
    ("over", "strength", "wanted", "time_s"),
    [(4.0, 3.0, 3.0, 0.5), (2.2, 1.0, 1.0, 1 / 8), (1.0, None, None, 1 / 8)],
)
def test_a_grad_that_was_used_is_named_again_only_where_it_fitted(
    over: float, strength: float | None, wanted: float | None, time_s: float
) -> None:
    """The times of frames behind it go with it; else those of the frames without it are told."""
    found = told(
        frame("A", 0, 1 / 8, THIRD), frame("B", 20, 0.5, THIRD),
        grouping=Grouping(
            grads=(Grad("S01", "A", "B", 0.36, 3.001, 0.2),), skies=(sky("A", over, strength),)
        ),
    )  # fmt: skip
    assert (found.grad.stops if found.grad else None) == wanted
    assert found.time_s == time_s


def test_no_grad_is_named_where_the_sky_ends_on_no_line() -> None:
    broken = SkyBalance("A", notes=("The columns disagree.",))
    found = told(
        frame("A", 0, 1 / 8, THIRD), frame("B", 20, 0.5, THIRD),
        grouping=Grouping(grads=(Grad("S01", "A", "B", 0.36, 3.0, 0.2),), skies=(broken,)),
    )  # fmt: skip
    assert found.grad is None


def test_nothing_is_said_of_a_set_up_without_an_unfiltered_frame() -> None:
    pair = SiblingPair("S01", "X", "A", 0, 10, {}, {}, None, Marking(10, 3, 1000), 0, 1, 0, 1, ())
    assert advice(frame("A", 0, 30, 1.0), grouping=Grouping(siblings=(pair,))) is None
    assert advice(frame("A", 0, 30, 9.0, verdict=Verdict.DARK_FRAME)) is None


@pytest.mark.parametrize(
    ("blown", "everywhere", "patch", "grade"),
    [
        (0.0, 0.0, None, "none"),
        (1e-4, 0.0, 5e-5, "glints"),
        (9e-4, 0.0, 8e-4, "patch"),
        (8e-4, 1e-4, 2.2e-4, "patch"),
        (1.1e-3, 2e-4, 9e-4, "channel"),
        (0.3, 9e-4, 0.2, "channel"),
        (0.3, 1.1e-3, 0.2, "all channels"),
        (1.5e-3, 9e-4, 1.4e-3, "patch"),
    ],
)
def test_losses_are_graded(
    blown: float, everywhere: float, patch: float | None, grade: str
) -> None:
    """The last may be the sun: small, and lost in every channel."""
    where = None if patch is None else Patch(patch, (0.5, 0.5), (0.4, 0.4, 0.6, 0.6))
    assert loss_of(blown, everywhere, where, JudgeSettings()) == grade
