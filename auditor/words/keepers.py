"""Why a frame is kept, in words: how it stands, and what speaks against its siblings."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.advise.keeper_kinds import Against, Choice, Judged
from auditor.model.audit import Bracket, Keeper, RankedBehind
from auditor.model.codes import Verdict
from auditor.model.numbers import counted_stops, share_text, time_text
from auditor.model.text import listed

SOFT_SHARE = 0.85
"""Contrast against the short sibling below which a frame is called softer."""

TOLD_OTHERS = 4

WELL_GIVEN_STOPS = 0.5
"""Headroom up to which light counts as given."""

_CALLED = {"short": "short", "long": "filtered"}


def keeper_of(choice: Choice) -> Keeper:
    """Make the public record of a choice; what is told of others stands at the end of its why."""
    behind = tuple(
        RankedBehind(frame=other.id, why=_in_words(choice, other))
        for other in choice.judged[1 : 1 + TOLD_OTHERS]
    )
    return Keeper(
        choice.setup,
        choice.best.id,
        choice.kind.kind,
        (*_reasons(choice), *(f"{one.frame}: {one.why}." for one in behind)),
        tuple(one.id for one in choice.judged),
        behind,
    )


def _reasons(choice: Choice) -> Iterator[str]:
    """Yield why the first frame is kept, a sentence each."""
    kind = choice.kind
    behind = f" behind the {kind.filter}" if kind.filter else ""
    behind += f" near {time_text(kind.near_s)}" if kind.near_s else ""
    several = len(kind.frames) > 1
    of = f"{_CALLED[kind.kind]} frame{'s' if several else ''} of this composition{behind}"
    yield f"Best of {len(kind.frames)} {of}." if several else f"The only {of}."
    yield from _held_reasons(choice)
    # a frame that lost an area may go before one that held
    if choice.best.id in choice.blown and len(choice.judged) > 1:
        held = next((one for one in choice.judged[1:] if one.id not in choice.blown), None)
        yield (
            "Every frame of its kind is blown."
            if held is None
            else "What it lost is accepted, for the best frame that is not blown is worse off: "
            f"{held.id} ({_in_words(choice, held)})."
        )
    if choice.focus is not None:
        front, back = choice.focus
        yield (
            f"Focus was moved: {front} is the sharpest in front, {back} at the back. Keep both "
            "for a focus stack."
        )
    if choice.softer is not None and choice.softer < SOFT_SHARE:
        yield (
            f"{share_text(1.0 - choice.softer)} softer than its short sibling where nothing moves: "
            "the camera shook during the exposure."
        )
    elif choice.softer is not None:
        yield "As sharp as its short sibling where nothing moves."
    for bracket in choice.brackets:
        yield from _bracket_reasons(choice, bracket)


def _held_reasons(choice: Choice) -> Iterator[str]:
    result = choice.results[choice.best.id]
    blown, blocked, spare = result.blown_fraction, result.blocked_fraction, result.headroom_stops
    if blown is not None:
        dark, begin = "blocked share not measured", "Bright end held"
        if blocked is not None:
            dark, begin = f"{share_text(blocked)} blocked", "Both ends held"
        if result.verdict != Verdict.HELD:
            begin = "Not all tones held"
        yield f"{begin}: {_blown_text(choice, choice.best.id, blown)}, {dark}."
    if spare is not None and spare > WELL_GIVEN_STOPS:
        yield f"Could take {counted_stops(spare)} more."
    elif spare is not None and spare >= 0.05:
        yield f"Exposed to within {counted_stops(spare)} of clipping."


def _blown_text(choice: Choice, frame: str, blown: float) -> str:
    """Say whether an area is lost or points are: the same share is a loss or is none."""
    patch = choice.patches.get(frame)
    if patch is not None:
        return f"{share_text(blown)} blown with a patch of {share_text(patch)}"
    return f"{share_text(blown)} blown{' in scattered points' if blown else ''}"


def _bracket_reasons(choice: Choice, bracket: Bracket) -> Iterator[str]:
    """Reconcile the one frame with what the bracket as a whole needs."""
    judged = {one.id: one for one in choice.judged}
    others = [name for name in bracket.needed if name in judged and name != choice.best.id]
    if not others:
        return
    if len(bracket.needed) > 1:
        also = " too" if choice.best.id in bracket.needed else ""
        yield (
            f"To put the bracket together keep {listed(others)}{also}: this is the best single "
            "frame."
        )
        return
    yield (
        f"The bracket's own choice is {others[0]}, which alone records all that the bracket does; "
        "as a single picture it stands behind this one "
        f"({_in_words(choice, judged[others[0]])})."
    )


def _in_words(choice: Choice, judged: Judged) -> str:
    """Say in what a frame is worse than the best."""
    worse = judged.worse_than(choice.best)
    said = []
    for value, what in ((one.value, one.what) for one in worse):
        texts = {
            Against.DAMAGE: "data damaged",
            Against.HEADROOM: f"could take {counted_stops(value)} more",
            Against.NOISE: f"middle tones {counted_stops(value)} nearer to the noise",
            Against.HOT: f"{value:.0f} hot pixels per megapixel",
            Against.BLOWN: _blown_text(choice, judged.id, value),
            Against.BLOCKED: f"{share_text(value)} blocked",
            Against.SOFT: f"{share_text(value)} softer where nothing moves: the camera shook",
            Against.WIND: f"{share_text(value)} of the structure blurred by itself: wind",
        }
        said.append(texts[what])
    if said:
        return "; ".join(said)
    return "as good, taken later" if judged.order == choice.best.order else "hardly worse"
