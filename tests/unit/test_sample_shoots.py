"""The invented shoots hold what they promise, in plausible order, and the same every time."""

from __future__ import annotations

import itertools
import json
from collections import Counter
from pathlib import Path

import pytest

from sample_generation.__main__ import main
from sample_generation.evening import SIX_STOP, TEN_STOP, evening
from sample_generation.frames import expose_shot
from sample_generation.habits import HABITS, SUNSET_ALTITUDE_DEG, UNDER_AFTER_SUNSET_STOPS
from sample_generation.places import BAY
from sample_generation.plans import Plan, Shot, filtered_time, several, third_near
from sample_generation.records import Truth, read_truth
from sample_generation.shoots import SHOOTS, make_shoot

SMALL = 0.06


@pytest.fixture(scope="module")
def plan() -> Plan:
    return evening(7)


@pytest.fixture(scope="module")
def knocked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Truth]:
    out = tmp_path_factory.mktemp("knocked")
    return out, make_shoot("decoy-knock", out, megapixels=SMALL, seed=3, workers=1)


def of_kind(plan: Plan, kind: str) -> list[Shot]:
    return [shot for shot in plan.shots if kind in shot.kinds]


def test_the_evening_holds_every_kind_of_frame(plan: Plan) -> None:
    assert len(plan.shots) >= 40
    kinds = Counter(kind for shot in plan.shots for kind in shot.kinds)
    for kind in ("blown", "one channel blown", "blocked", "dark frame", "cut off", "with grad",
                 "second try", "panned", "dusk"):  # fmt: skip
        assert kinds[kind] >= 1, kind
    assert [len(frames) for frames in plan.brackets] == [5, 5]
    assert [len(frames) for frames in plan.runs] == [4]
    assert any(SIX_STOP in s.filters for s in plan.shots)
    assert any(TEN_STOP in s.filters for s in plan.shots)
    assert sum(shot.copy for shot in plan.shots) == 2
    assert sum(shot.jpeg for shot in plan.shots) == 2
    assert any(shot.orientation == 8 for shot in plan.shots)


@pytest.mark.parametrize("name", sorted(SHOOTS))
def test_no_body_opens_its_shutter_before_it_has_closed(name: str) -> None:
    shots = SHOOTS[name](5).shots
    assert len({shot.name for shot in shots}) == len(shots)
    for earlier, later in itertools.pairwise(shots):
        assert later.at_s >= earlier.at_s + earlier.time_s
        assert later.captured_at > earlier.captured_at


def test_dusk_frames_grow_longer_without_a_filter(plan: Plan) -> None:
    dusk = [shot for shot in of_kind(plan, "dusk") if not shot.filters]
    times = [shot.time_s for shot in dusk]
    assert times == sorted(times)
    assert times[-1] > 3.0 * times[0]


def test_one_channel_alone_is_blown_in_the_red_sky(plan: Plan) -> None:
    truth = expose_shot(of_kind(plan, "one channel blown")[0], 0.2).truth
    assert truth.plane("R").blown_fraction > 0.004
    assert max(truth.plane(name).blown_fraction for name in ("G1", "G2", "B")) < 4e-4


def test_the_blocked_frame_is_blocked_in_every_plane_and_the_blown_one_blown(plan: Plan) -> None:
    blocked = expose_shot(of_kind(plan, "blocked")[0], 0.2).truth
    assert min(plane.blocked_fraction for plane in blocked.planes) > 0.015
    blown = expose_shot(of_kind(plan, "blown")[0], 0.2).truth
    assert blown.blown_all_fraction > 0.1


def test_a_held_frame_is_neither(plan: Plan) -> None:
    held = next(s for s in of_kind(plan, "without grad"))
    truth = expose_shot(held, 0.2).truth
    assert truth.blown_any_fraction < 5e-4
    assert max(plane.blocked_fraction for plane in truth.planes) < 0.01


def test_the_dark_frame_is_dark_but_for_hot_pixels(plan: Plan) -> None:
    exposure = expose_shot(of_kind(plan, "dark frame")[0], 0.2)
    assert all(plane.mean_signal_dn == 0.0 for plane in exposure.truth.planes)
    rows, cols = exposure.truth.hot_positions.T
    assert exposure.mosaic.pixels[rows, cols].min() > 600
    assert exposure.mosaic.pixels.mean() < 525


def test_files_lie_on_the_card_beside_their_truth(knocked: tuple[Path, Truth]) -> None:
    out, truth = knocked
    assert read_truth(out) == truth
    files = [out / frame.card / frame.file for frame in truth.frames]
    assert all(path.stat().st_size > 10_000 for path in files)
    assert [path.name for path in files] == [f"BRK_{n:04d}.DNG" for n in range(1, 5)]
    assert json.loads((out / "truth.json").read_text())["shoot"] == "decoy-knock"


def test_truth_tells_pairs_filters_and_knocks(knocked: tuple[Path, Truth]) -> None:
    truth = knocked[1]
    assert [(pair.long, pair.short) for pair in truth.pairs] == [
        ("BRK_0002", "BRK_0001"),
        ("BRK_0004", "BRK_0003"),
    ]
    assert truth.pairs[0].exposure_difference_stops == pytest.approx(6.0, abs=0.01)
    assert truth.pairs[0].filter_stops == truth.frame("BRK_0002").filter_stops
    assert truth.pairs[0].light_drift_stops == pytest.approx(0.0, abs=1e-9)
    assert all(3 <= abs(px) <= 10 for px in truth.frame("BRK_0002").shift_px)


def test_the_same_seed_makes_the_same_files_in_any_number_of_processes(
    knocked: tuple[Path, Truth], tmp_path: Path
) -> None:
    out, truth = knocked
    again = make_shoot("decoy-knock", tmp_path, megapixels=SMALL, seed=3, workers=2)
    assert again == truth
    for frame in truth.frames:
        path = Path(frame.card) / frame.file
        assert (out / path).read_bytes() == (tmp_path / path).read_bytes()


def test_another_seed_makes_another_shoot() -> None:
    one, two = (SHOOTS["pairs"](seed).shots for seed in (1, 2))
    assert [s.filters for s in one] != [s.filters for s in two]
    assert [s.composition for s in one] != [s.composition for s in two]


def test_progress_is_told_frame_by_frame(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    make_shoot(
        "decoy-stacked",
        tmp_path,
        megapixels=0.03,
        seed=1,
        workers=1,
        progress=lambda done, total: told.append((done, total)),
    )
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_copies_cut_files_and_jpegs_lie_where_they_should(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted = [s for s in plan.shots if s.copy or s.jpeg or s.kept_share < 1.0]
    monkeypatch.setitem(SHOOTS, "some", lambda seed: Plan(tuple(wanted)))
    truth = make_shoot("some", tmp_path, megapixels=0.03, seed=1, workers=1)
    for frame in truth.frames:
        original = (tmp_path / frame.card / frame.file).read_bytes()
        if frame.copy_on:
            assert (tmp_path / frame.copy_on / frame.file).read_bytes() == original
        if frame.jpeg:
            jpeg = (tmp_path / frame.card / frame.jpeg).read_bytes()
            assert jpeg[:2] == b"\xff\xd8"
            assert b"Brackwell F45" in jpeg[:2000]
    assert [frame.readable for frame in truth.frames].count(False) == 1
    assert truth.cards == ("card-1", "card-2")


@pytest.mark.parametrize("name", sorted(HABITS))
def test_habit_evenings_place_frames_lower_after_sunset(name: str) -> None:
    rooms: dict[bool, list[float]] = {True: [], False: []}
    for shot in HABITS[name](2).shots:
        if shot.kinds == ("short",):
            low = shot.dusk.altitude(shot.at_s) < SUNSET_ALTITUDE_DEG
            truth = expose_shot(shot, 0.15).truth
            rooms[low].append(min(plane.headroom_stops or 0.0 for plane in truth.planes))
    before, after = (sorted(rooms[key])[len(rooms[key]) // 2] for key in (False, True))
    assert after - before == pytest.approx(UNDER_AFTER_SUNSET_STOPS, abs=0.35)


def test_times_behind_a_filter_are_set_as_marked() -> None:
    assert filtered_time(1 / 16, 6.0) == 4.0
    assert filtered_time(1 / 16, 10.0) == 64.0
    assert filtered_time(4.0, 6.0) == 256.0  # six stops on 4 s are 4 min 16 s: common practice
    assert third_near(0.02) == pytest.approx(2.0 ** (-17 / 3))


def test_panned_views_go_from_left_to_right() -> None:
    views = several(BAY, 4, 0.25)
    steps = [b.centre_u - a.centre_u for a, b in itertools.pairwise(views)]
    assert steps == pytest.approx([0.75 * BAY.field_of_view] * 3)


def test_the_command_makes_a_shoot_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = [
        str(tmp_path),
        "--shoot",
        "decoy-stacked",
        "--megapixels",
        "0.03",
        "--workers",
        "1",
    ]
    monkeypatch.setattr("sys.argv", ["sample_generation", *arguments])
    main()
    said = capsys.readouterr()
    assert "3 frames of the shoot 'decoy-stacked'" in said.out
    assert "3 of 3 frames" in said.err
    assert len(read_truth(tmp_path).frames) == 3


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--megapixels", "-1"), "more than 0"),
        (("--megapixels", "nan"), "more than 0"),
        (("--megapixels", "inf"), "more than 0"),
        (("--seed", "-1"), "whole number from 0"),
        (("--workers", "0"), "whole number from 1"),
        (("--workers", "many"), "whole number"),
    ],
)
def test_a_wrong_call_is_told_in_a_sentence(
    words: tuple[str, ...],
    complaint: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("sys.argv", ["sample_generation", str(tmp_path / "out"), *words])
    with pytest.raises(SystemExit, match="2"):
        main()
    assert complaint in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_place_that_cannot_be_written_is_told_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "out").write_bytes(b"")
    monkeypatch.setattr("sys.argv", ["sample_generation", str(tmp_path / "out")])
    with pytest.raises(SystemExit, match="out: cannot be written"):
        main()
