"""Why a frame is kept, in words: how it stands, and what speaks against its siblings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from auditor.advise.keeper_kinds import KeeperKind
from auditor.detail.steadiness import Contrast, softer_than
from auditor.figures.frame import is_blown
from auditor.findings.base import may_be_sun
from auditor.model.audit import Bracket, FrameResult, SiblingPair
from auditor.model.numbers import counted_stops, share_text
from auditor.model.settings import JudgeSettings

TOLD_HARM = 0.05
"""A sibling is told to be worse by something from this much more penalty on."""

SOFT_SHARE = 0.85
"""Contrast against the sharpest sibling below which a frame is called softer."""

TOLD_OTHERS = 4

WELL_GIVEN_STOPS = 0.5
"""Headroom up to which light counts as given."""


@dataclass(frozen=True, slots=True)
class Penalty:
    """One thing that speaks against a frame: penalty in about stops, and words."""

    what: str
    penalty: float
    words: str


@dataclass(frozen=True, slots=True)
class Judged:
    """One frame of a kind, with what speaks against it."""

    id: str
    against: tuple[Penalty, ...]

    @property
    def penalty(self) -> float:
        """All that speaks against it, in about stops."""
        return sum(one.penalty for one in self.against)

    @property
    def order(self) -> float:
        """What frames are ordered by: of those as good the one taken first goes before."""
        return round(self.penalty, 2)


@dataclass(frozen=True, slots=True, eq=False)
class FrameContrast:
    """What is fetched of one frame."""

    contrast: Contrast
    damaged: bool


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One kind of frames of a set-up in their order, and what the reasons are taken from.

    Parameters
    ----------
    judged : sequence of Judged
        The best first.
    pairs : mapping of frame id to SiblingPair
        Each filtered frame with its best short sibling.
    brackets : sequence of Bracket
        Those of the set-up.
    """

    kind: KeeperKind
    judged: Sequence[Judged]
    results: Mapping[str, FrameResult]
    limits: JudgeSettings
    pairs: Mapping[str, SiblingPair]
    looks: Mapping[str, FrameContrast]
    brackets: Sequence[Bracket]

    @property
    def best(self) -> Judged:
        """The frame to keep."""
        return self.judged[0]

    def blown(self, frame_id: str) -> bool:
        """Whether more than points of a frame is blown."""
        result = self.results[frame_id]
        return is_blown(result.blown_fraction or 0.0, result.largest_blown_area, self.limits)


def reasons(choice: Choice) -> Iterator[str]:
    """Yield why the first frame is kept, a sentence each; those on others begin with their id."""
    yield _first_reason(choice.kind)
    yield from _held_reasons(choice.results[choice.best.id], choice.limits)
    yield from _accepted_reasons(choice)
    yield from _steady_reasons(choice)
    for bracket in choice.brackets:
        yield from _bracket_reasons(choice, bracket)
    for other in choice.judged[1 : 1 + TOLD_OTHERS]:
        yield f"{other.id}: {_in_words(other, choice.best)}."


def _first_reason(kind: KeeperKind) -> str:
    if len(kind.frames) == 1:
        return f"The only {kind.called} frame of this composition{kind.behind}."
    return f"Best of {len(kind.frames)} {kind.called} frames of this composition{kind.behind}."


def _held_reasons(result: FrameResult, limits: JudgeSettings) -> Iterator[str]:
    blown, blocked, spare = result.blown_fraction, result.blocked_fraction, result.headroom_stops
    if blown is not None:
        dark, begin = "blocked share not measured", "Bright end held"
        if blocked is not None:
            dark, begin = f"{share_text(blocked)} blocked", "Both ends held"
        if result.verdict != "held":
            begin = "Not all tones held"
        yield f"{begin}: {share_text(blown)} blown{how_blown(result, limits)}, {dark}."
    if spare is not None and spare > WELL_GIVEN_STOPS:
        yield f"{counted_stops(spare)} more light still to be had."
    elif spare is not None and spare >= 0.05:
        yield f"Light given to within {counted_stops(spare)} of clipping."


def how_blown(result: FrameResult, limits: JudgeSettings) -> str:
    """Say whether an area is lost or points are: the same share is a loss or is none."""
    patch = result.largest_blown_area
    if patch is not None and patch.share >= limits.patch_limit:
        return f" with a patch of {share_text(patch.share)}"
    return " in scattered points" if result.blown_fraction else ""


def _accepted_reasons(choice: Choice) -> Iterator[str]:
    """Say why a frame that lost an area goes before one that held."""
    best = choice.best
    if not choice.blown(best.id) or len(choice.judged) == 1:
        return
    held = next((one for one in choice.judged[1:] if not choice.blown(one.id)), None)
    if held is None:
        sun = ": it may be the sun or its reflection" if may_be_sun(choice.results[best.id]) else ""
        yield f"Every frame of its kind is blown{sun}."
        return
    sun = " may be the sun or its reflection, and" if may_be_sun(choice.results[best.id]) else ""
    yield (
        f"What it lost{sun} is accepted, for the best frame that is not blown is worse off: "
        f"{held.id} ({_in_words(held, best)})."
    )


def _steady_reasons(choice: Choice) -> Iterator[str]:
    pair = choice.pairs.get(choice.best.id)
    frame = choice.looks.get(choice.best.id)
    sibling = choice.looks.get(pair.short) if pair else None
    if frame is None or sibling is None:
        return
    softness = softer_than(frame.contrast, sibling.contrast)
    if softness is None:
        return
    if softness < SOFT_SHARE:
        yield (
            f"{share_text(1.0 - softness)} softer than its short sibling where both hold still: "
            "the camera shook during the exposure."
        )
    else:
        yield "As sharp as its short sibling where both hold still."


def _bracket_reasons(choice: Choice, bracket: Bracket) -> Iterator[str]:
    """Reconcile the one frame with what the bracket as a whole needs."""
    judged = {one.id: one for one in choice.judged}
    others = [name for name in bracket.needed if name in judged and name != choice.best.id]
    if not others:
        return
    if len(bracket.needed) > 1:
        names = " and ".join((", ".join(others[:-1]), others[-1])) if others[1:] else others[0]
        also = " too" if choice.best.id in bracket.needed else ""
        yield f"To put the bracket together keep {names}{also}: this is the best single frame."
        return
    worse = _in_words(judged[others[0]], choice.best)
    yield (
        f"The bracket's own choice is {others[0]}, which alone records all that the bracket does; "
        f"as a single picture it stands behind this one ({worse})."
    )


def _in_words(judged: Judged, best: Judged) -> str:
    """Say in what a frame is worse than the best."""
    harms = {one.what: one.penalty for one in best.against}
    worse = [one for one in judged.against if one.penalty - harms.get(one.what, 0.0) >= TOLD_HARM]
    if worse:
        return "; ".join(one.words for one in worse[:3])
    return "as good, taken later" if judged.order == best.order else "hardly worse"
