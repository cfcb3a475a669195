"""The figures in the tutorial are those of the sample evening."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from statistics import median

import pytest

from auditor.model.audit import FrameResult, SiblingPair
from auditor.model.codes import FrameStatus, Verdict
from auditor.model.numbers import stops_text
from tests.docs_text import DOCS, command_lines, prose
from tests.evening_audit import Evening

TEXT = prose(DOCS / "tutorial.md") + " ".join(command_lines(DOCS / "tutorial.md"))


def frame(evening: Evening, name: str) -> FrameResult:
    return next(
        one for one in evening.end.audit.frames if one.input == 0 and evening.name(one.id) == name
    )


def behind(evening: Evening, marked: float) -> list[SiblingPair]:
    return [
        pair
        for pair in evening.end.audit.siblings
        if pair.best and pair.nearest_marking.stops == marked
    ]


def signed(stops: float) -> str:
    return f"{stops:+.2f}".replace("-", "−")


def filter_row(evening: Evening, marked: float) -> str:
    """The row of the tutorial's table for one of the two filters."""
    pairs = behind(evening, marked)
    stops = median(pair.filter_stops for pair in pairs)
    red, blue = (median(pair.cast_stops[name] for pair in pairs) for name in ("R", "B"))
    turn = "warmer" if blue > red else "cooler"
    return (
        f"| {marked:g} stops | {stops_text(stops)} stops | red {signed(red)}, "
        f"blue {signed(blue)}: the picture turns {turn} |"
    )


def filter_stops(evening: Evening, marked: float) -> str:
    return stops_text(median(pair.filter_stops for pair in behind(evening, marked)))


def preview_phrase(evening: Evening) -> str:
    told = [one.preview for one in evening.end.audit.frames if one.preview is not None]
    green = [one.early_by_channel_stops["G"] for one in told if "G" in one.early_by_channel_stops]
    red = [one.early_by_channel_stops["R"] for one in told if "R" in one.early_by_channel_stops]
    assert 0.3 < median(green) < 0.7 < median(red)
    return "about half a stop before the sensor does in green, and more in red"


FACTS: dict[str, Callable[[Evening], str]] = {
    "files": lambda e: f"it counts {len(e.end.audit.frames)} files",
    "frames": lambda e: f"{len(e.truth['frames'])} frames from the first card",
    "set-ups": lambda e: f"The evening has {len(e.end.audit.setups)} of them",
    "pairs": lambda e: f"There are {sum(p.best for p in e.end.audit.siblings)} pairs",
    "six stops": lambda e: filter_row(e, 6),
    "ten stops": lambda e: filter_row(e, 10),
    "kit": lambda e: (
        f"--filter six={filter_stops(e, 6)} --filter ten={filter_stops(e, 10)} --card kit.pdf"
    ),
    "brackets": lambda e: f"The evening has {len(e.end.audit.brackets)}, each of five frames",
    "grad": lambda e: f"{stops_text(e.end.audit.grads[0].stops_at_top)} stops at the top",
    "edge": lambda e: f"the edge {100 * e.end.audit.grads[0].edge_at:.0f} % of the height",
    "preview": preview_phrase,
}
"""What a sentence says, made from the audit."""


@pytest.mark.parametrize("fact", FACTS)
def test_the_tutorial_says_what_the_audit_found(fact: str, evening: Evening) -> None:
    assert FACTS[fact](evening) in TEXT


def test_what_the_tutorial_says_in_words_is_so(evening: Evening) -> None:
    audit = evening.end.audit
    assert [round(b.step_stops) for b in audit.brackets] == [1, 2], "one stop and two"
    assert all(len(b.frames) == 5 and b.not_needed for b in audit.brackets), "fewer would have done"
    assert len({one.id for one in audit.frames if one.status == FrameStatus.UNREADABLE}) == 1
    assert Counter(one.input for one in audit.frames)[1] == 2, "two of them a second time"
    assert (frame(evening, "BRK_0011").blown_fraction or 0.0) == pytest.approx(0.5, abs=0.12)
    assert frame(evening, "BRK_0012").verdict == Verdict.HELD
    (grad,) = audit.grads
    assert (evening.name(grad.without), evening.name(grad.with_)) == ("BRK_0012", "BRK_0013")
    (run,) = audit.panoramas
    assert [evening.name(one) for one in run.frames] == [f"BRK_00{n}" for n in range(28, 32)]
    assert run.exposure_spread_stops == pytest.approx(1 / 3, abs=0.02)
    first_try = next(p for p in behind(evening, 10) if evening.name(p.long) == "BRK_0008")
    taken = frame(evening, "BRK_0008").exposure.time_s
    assert taken is not None
    assert first_try.matched_time_s is not None
    assert first_try.matched_time_s > 1.8 * taken, "the first try was far too short"
    assert all(pair.light_drift_stops is not None for pair in audit.siblings)
    assert len(audit.lessons) == 5
