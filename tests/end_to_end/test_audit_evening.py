"""The whole path on the sample evening, against what the simulated camera knows."""

from __future__ import annotations

import csv
import hashlib
import json
import math
from pathlib import Path
from typing import Any

import pytest

from auditor.audit import run_audit
from auditor.model.audit import FrameResult
from auditor.model.codes import FrameStatus
from auditor.request import AuditRequest
from tests.evening_audit import Evening, KeepingListener


def frames(evening: Evening) -> dict[str, FrameResult]:
    return {evening.name(frame.id): frame for frame in evening.end.audit.frames if frame.input == 0}


def truths(evening: Evening, kind: str | None = None) -> list[dict[str, Any]]:
    return [
        frame
        for frame in evening.truth["frames"]
        if frame["readable"] and (kind is None or kind in frame["kinds"])
    ]


def names(evening: Evening, ids: tuple[str, ...]) -> set[str]:
    return {evening.name(frame_id) for frame_id in ids}


def test_every_file_is_accounted_for(evening: Evening) -> None:
    audit = evening.end.audit
    copies = sum(bool(frame["copy_on"]) for frame in evening.truth["frames"])
    assert len(audit.frames) == len(evening.truth["frames"]) + copies
    assert evening.end.exit_status == 1, "one file is cut off"
    unread = [frame for frame in audit.frames if frame.status == FrameStatus.UNREADABLE]
    assert names(evening, tuple(f.id for f in unread)) == {
        frame["name"] for frame in evening.truth["frames"] if not frame["readable"]
    }
    assert unread[0].error is not None
    assert unread[0].error.code in {"cut-off", "damaged", "no-pixels"}
    # its header is whole: when, with what and how it was taken is told all the same
    assert unread[0].captured_at is not None
    assert unread[0].camera.model is not None
    assert unread[0].exposure.time_s is not None


def test_blown_shares_are_recovered_within_five_hundredths_of_a_point(evening: Evening) -> None:
    found = frames(evening)
    for truth in truths(evening):
        for plane, channel in zip(truth["planes"], found[truth["name"]].channels, strict=True):
            assert channel.name == plane["name"]
            assert channel.blown_fraction == pytest.approx(plane["blown_fraction"], abs=5e-4), (
                f"{truth['name']} {channel.name}"
            )


def test_the_share_blown_in_any_and_in_every_plane_is_recovered(evening: Evening) -> None:
    found = frames(evening)
    for truth in truths(evening):
        frame = found[truth["name"]]
        told = (frame.blown_fraction, frame.blown_all_fraction)
        known = (truth["blown_any_fraction"], truth["blown_all_fraction"])
        assert told == pytest.approx(known, abs=1e-3), truth["name"]


def test_blocked_is_what_every_plane_has_blocked(evening: Evening) -> None:
    """Fine dark structure within a local mean is not blocked, so the truth is an upper bound."""
    found = frames(evening)
    for truth in truths(evening):
        frame = found[truth["name"]]
        planes = [channel.blocked_fraction or 0.0 for channel in frame.channels]
        bounds = [*planes, *(plane["blocked_fraction"] for plane in truth["planes"])]
        assert frame.blocked_fraction is not None
        assert frame.blocked_fraction <= min(bounds) + 1e-9, truth["name"]
    for truth in (*truths(evening, "blocked"), *truths(evening, "dark frame")):
        least = min(plane["blocked_fraction"] for plane in truth["planes"])
        assert (found[truth["name"]].blocked_fraction or 0.0) > least / 4, truth["name"]


def test_headroom_is_recovered_within_three_hundredths_of_a_stop(evening: Evening) -> None:
    found, checked = frames(evening), 0
    for truth in truths(evening):
        if "dark frame" in truth["kinds"]:
            continue
        for plane, channel in zip(truth["planes"], found[truth["name"]].channels, strict=True):
            if plane["headroom_recorded_stops"] is None:
                continue
            assert channel.headroom_stops == pytest.approx(
                plane["headroom_recorded_stops"], abs=0.03
            ), f"{truth['name']} {channel.name}"
            checked += 1
    assert checked > 100


def true_range_stops(plane: dict[str, Any]) -> float:
    """Bright end over dark end of the noiseless light, cut at saturation."""
    full_dn = plane["saturation_dn"] - plane["black_dn"]
    return math.log2(full_dn / plane["dark_signal_dn"]) - float(plane["headroom_stops"])


def test_the_tone_range_is_that_of_the_widest_plane_well_over_the_floor(evening: Evening) -> None:
    found, apart, checked = frames(evening), 0.0, 0
    for truth in truths(evening):
        planes = truth["planes"]
        if any(plane["dark_signal_dn"] < 30 * plane["noise_floor_dn"] for plane in planes):
            continue
        ranges = [true_range_stops(plane) for plane in planes]
        assert found[truth["name"]].tone_range_stops == pytest.approx(max(ranges), abs=0.1), truth[
            "name"
        ]
        apart, checked = max(apart, max(ranges) - min(ranges)), checked + 1
    assert checked >= 5
    assert apart > 0.3, "the widest is not any of them"


def test_saturation_is_settled_over_the_shoot(evening: Evening) -> None:
    for truth in truths(evening):
        for plane, channel in zip(
            truth["planes"], frames(evening)[truth["name"]].channels, strict=True
        ):
            assert channel.saturation_source in {"measured", "shoot"}, truth["name"]
            assert channel.saturation_dn == pytest.approx(plane["saturation_dn"], rel=0.002)


@pytest.mark.parametrize(
    ("kind", "verdicts"),
    [
        ("blown", {"blown"}),
        ("one channel blown", {"blown"}),
        ("blocked", {"blocked"}),
        ("dark frame", {"dark frame"}),
    ],
)
def test_each_kind_gets_its_verdict(evening: Evening, kind: str, verdicts: set[str]) -> None:
    wanted = truths(evening, kind)
    assert wanted
    for truth in wanted:
        assert frames(evening)[truth["name"]].verdict in verdicts, truth["name"]


def test_one_blown_channel_is_told_apart(evening: Evening) -> None:
    told = {
        evening.name(frame.id): finding.channel
        for frame in evening.end.audit.frames
        for finding in frame.findings
        if finding.code == "blown-channel"
    }
    for truth in truths(evening, "one channel blown"):
        worst = max(truth["planes"], key=lambda plane: plane["blown_fraction"])
        assert told[truth["name"]] == worst["name"]


def test_set_ups_are_exact(evening: Evening) -> None:
    truth = evening.truth
    lost = {f["name"] for f in truth["frames"] if not f["readable"] or f["cap_on"]}
    wanted = {frozenset(members) - lost for members in truth["setups"].values()}
    found = {frozenset(names(evening, setup.frames)) for setup in evening.end.audit.setups}
    assert found == wanted


def test_each_pair_is_found_and_no_false_one(evening: Evening) -> None:
    wanted = {pair["long"]: set(pair["shorts"]) for pair in evening.truth["pairs"]}
    found = {(evening.name(p.short), evening.name(p.long)) for p in evening.end.audit.siblings}
    assert {long for _, long in found} == set(wanted)
    for short, long in found:
        assert short in wanted[long], f"{short} is no sibling of {long}"


def test_filters_are_recovered_within_a_tenth_of_a_stop_a_channel(evening: Evening) -> None:
    wanted = {pair["long"]: pair for pair in evening.truth["pairs"]}
    for pair in evening.end.audit.siblings:
        if not pair.best:
            continue
        truth = wanted[evening.name(pair.long)]
        for colour, stops in truth["filter_stops"].items():
            assert pair.filter_stops_by_channel[colour] == pytest.approx(stops, abs=0.1), (
                f"{truth['long']} {colour}"
            )


def test_brackets_are_found_and_none_invented(evening: Evening) -> None:
    found = {frozenset(names(evening, b.frames)) for b in evening.end.audit.brackets}
    assert found == {frozenset(b["frames"]) for b in evening.truth["brackets"]}


def test_the_graduated_filter_is_measured(evening: Evening) -> None:
    (grad,) = evening.end.audit.grads
    (truth,) = evening.truth["grads"]
    assert evening.name(grad.with_) == truth["with_"]
    assert grad.stops_at_top == pytest.approx(truth["stops_at_top"], abs=0.1)
    assert grad.edge_at == pytest.approx(truth["edge_at"], abs=0.03)


def test_the_panned_run_is_found(evening: Evening) -> None:
    (run,) = evening.end.audit.panoramas
    (truth,) = evening.truth["runs"]
    assert names(evening, run.frames) == set(truth["frames"])
    assert run.exposure_spread_stops == pytest.approx(truth["exposure_spread_stops"], abs=0.05)


def test_copies_and_companions_are_told(evening: Evening) -> None:
    for truth in evening.truth["frames"]:
        frame = frames(evening)[truth["name"]]
        assert bool(frame.also_at) == bool(truth["copy_on"]), truth["name"]
        assert bool(frame.companions) == bool(truth["jpeg"]), truth["name"]


def test_the_preview_is_caught_crying_out_early(evening: Evening) -> None:
    checked = 0
    for truth in truths(evening):
        story = frames(evening)[truth["name"]].preview
        for colour, stops in (story.early_by_channel_stops if story else {}).items():
            assert stops == pytest.approx(truth["preview_early_stops"][colour], abs=0.1), (
                f"{truth['name']} {colour}"
            )
            checked += 1
    assert checked > 10


def test_all_reports_are_there_and_agree(evening: Evening) -> None:
    audit = json.loads((evening.out / "audit.json").read_text(encoding="utf-8"))
    assert len(audit["frames"]) == len(evening.end.audit.frames)
    with (evening.out / "frames.csv").open(encoding="utf-8-sig", newline="") as stream:
        assert len(list(csv.DictReader(stream))) == len(audit["frames"])
    for name in ("report.html", "report.md", "contact-sheet.png"):
        assert (evening.out / name).stat().st_size > 1000
    assert list((evening.out / "sheets").glob("*.png"))


def test_a_second_audit_reads_only_what_failed_and_says_the_same(
    evening: Evening, tmp_path: Path
) -> None:
    listener = KeepingListener()
    request = AuditRequest(
        evening.cards, tmp_path / "again", formats=("json",), store=evening.store, workers=1
    )
    end = run_audit(request, listener)
    failed = [frame.file for frame in evening.end.audit.frames if frame.error]
    assert listener.examined_files == failed
    for again, before in zip(end.audit.frames, evening.end.audit.frames, strict=True):
        assert again.channels == before.channels
        assert again.verdict == before.verdict
    assert end.audit.setups == evening.end.audit.setups
    assert end.audit.brackets == evening.end.audit.brackets


def test_the_card_is_never_written_to(evening: Evening, tmp_path: Path) -> None:
    def digests() -> dict[str, str]:
        return {
            str(path): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(evening.root.rglob("*"))
            if path.is_file()
        }

    before = digests()
    request = AuditRequest(
        evening.cards, tmp_path / "out", formats=("csv",), keep_store=False, workers=2
    )
    run_audit(request, KeepingListener())
    assert digests() == before
