"""Why two frames belong together or not, a sentence each, from what grouping found and refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from auditor.model.audit import Bracket, Grad, Panorama, Setup, SiblingPair
from auditor.model.codes import FrameStatus
from auditor.model.numbers import counted_stops, share_text, time_text
from auditor.model.rejected import GroupKind, Reason, Rejected


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditedFile:
    """What became of a file, for one that belongs to no set-up."""

    id: str
    status: FrameStatus
    also_at: Sequence[str] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Groups:
    """What an audit says of groups of frames."""

    setups: Sequence[Setup] = ()
    siblings: Sequence[SiblingPair] = ()
    brackets: Sequence[Bracket] = ()
    grads: Sequence[Grad] = ()
    panoramas: Sequence[Panorama] = ()
    rejected: Sequence[Rejected] = ()
    frames: Sequence[AuditedFile] = ()


_ARTICLES = {
    GroupKind.SETUP: "one set-up",
    GroupKind.PAIR: "a filtered pair",
    GroupKind.BRACKET: "a bracket",
    GroupKind.GRAD: "a pair without and with a graduated filter",
    GroupKind.PANORAMA: "neighbours in a panorama",
}


def between_frames(groups: Groups, first: str, second: str) -> Iterator[str]:
    """Yield what two frames are to each other, and why they are not more.

    Parameters
    ----------
    groups : Groups
    first, second : str
        Ids of frames in the audit.
    """
    home = {frame: setup for setup in groups.setups for frame in setup.frames}
    one, other = home.get(first), home.get(second)
    if one is None or other is None:
        for lone in [name for name in (first, second) if name not in home]:
            yield f"{lone} belongs to no set-up: {_why_alone(groups, lone, home)}."
    elif one is other:
        yield f"{first} and {second} belong to one set-up, {one.id}, of {len(one.frames)} frames."
    else:
        yield f"{first} and {second} belong to different set-ups, {one.id} and {other.id}."
    both = {first, second}
    yield from _taken(groups, both)
    told = [one for one in groups.rejected if both <= set(one.frames)]
    told += [r for r in groups.rejected if len(r.frames) == 1 and set(r.frames) <= both]
    if one is not None and other is not None and one is not other:
        across = {frozenset(pair) for pair in product(one.frames, other.frames)}
        kinds = (GroupKind.SETUP, GroupKind.PANORAMA)
        told += [r for r in groups.rejected if frozenset(r.frames) in across and r.what in kinds
                 and r not in told]  # fmt: skip
    for rejected in told:
        yield refusal_sentence(rejected)
    if not told and one is not other and one is not None and other is not None:
        yield (
            "They were not compared: a frame is compared with the set-ups just before it, and "
            "only the nearest refusals are kept."
        )


def _why_alone(groups: Groups, lone: str, home: Mapping[str, Setup]) -> str:
    """Set-ups hold what was measured and is not dark all over, of copies the first."""
    file = next((one for one in groups.frames if one.id == lone), None)
    if file is not None and file.status is FrameStatus.UNREADABLE:
        return "it could not be read"
    for copy in file.also_at if file is not None else ():
        if copy in home:
            return f"it is a copy of {copy}, which belongs to {home[copy].id}"
    return "it is dark all over"


def _taken(groups: Groups, both: set[str]) -> Iterator[str]:
    for pair in groups.siblings:
        if {pair.short, pair.long} == both:
            yield (
                f"They are a filtered pair: the filter before {pair.long} measures "
                f"{counted_stops(pair.filter_stops, digits=2)}, confidence {pair.confidence:.2f}."
            )
    for grad in groups.grads:
        if {grad.without, grad.with_} == both:
            yield (
                f"{grad.with_} has a graduated filter of {counted_stops(grad.stops_at_top)} "
                f"that {grad.without} has not."
            )
    for kind, sets in (("bracket", groups.brackets), ("panorama", groups.panoramas)):
        for frames in sets:
            if both <= set(frames.frames):
                yield f"They belong to one {kind} of {len(frames.frames)} frames."


def refusal_sentence(rejected: Rejected) -> str:
    """Say why some frames are not what they might have been together."""
    if len(rejected.frames) == 1:
        return f"{rejected.frames[0]} has no sibling: {_why(rejected)}."
    names = rejected.frames
    listed = f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{listed} are not {_ARTICLES[rejected.what]}: {_why(rejected)}."


def _why(rejected: Rejected) -> str:
    phrase, figures, written = _PHRASES[rejected.reason]
    value, limit = rejected.value, rejected.limit
    if value is None or not figures:
        return phrase
    told = figures.format(value=written(value), limit="" if limit is None else written(limit))
    return f"{phrase} ({told})"


def _stops(value: float) -> str:
    return counted_stops(value, digits=2)


def _number(value: float) -> str:
    return f"{value:.2f}"


def _count(value: float) -> str:
    return f"{value:.0f}"


MOST, LEAST = "{value}; at most {limit}", "{value}; at least {limit}"

_PHRASES: dict[Reason, tuple[str, str, Callable[[float], str]]] = {
    Reason.TOO_LATE: ("they are too far apart in time", MOST, time_text),
    Reason.OTHER_LENS: ("their files name two lenses", "", _number),
    Reason.OTHER_FOCAL_LENGTH: ("their focal lengths differ", MOST, share_text),
    Reason.OTHER_SIZE: ("their pictures are not of one size", "", _number),
    Reason.NOTHING_TO_COMPARE: (
        "too little structure is recorded by both", "{value} blocks; at least {limit}", _count),
    Reason.PICTURE_MOVED: (
        "the picture was framed anew", "{value} of the longer side; at most {limit}", share_text),
    Reason.LITTLE_ALIKE: (
        "the pictures are too little alike", "correlation {value}; at least {limit}", _number),
    Reason.PARTS_DISAGREE: (
        "too few parts of the pictures agree", "{value} blocks; at least {limit}", _count),
    Reason.CAMERA_TURNED: (
        "the camera was turned between them",
        "correlation {value} as neighbours; from {limit}", _number),
    Reason.NO_FILTER: (
        "the longer frame recorded what its settings say",
        "within {value}; a filter takes at least {limit}", _stops),
    Reason.NO_SHORT_FRAME: (
        "no shorter frame without a filter records the same parts of the scene", "", _number),
    Reason.LITTLE_SHARED: (
        "too little is well recorded by both",
        "{value} of the picture; at least {limit}", share_text),
    Reason.UNEVEN: ("parts of the picture disagree, as under a cloud", MOST, _stops),
    Reason.TOO_WEAK: ("what was measured is too weak", LEAST, _stops),
    Reason.SETTINGS_UNKNOWN: ("a file does not tell its exposure", "", _number),
    Reason.TOO_FEW_FRAMES: ("there are too few of them", LEAST, _count),
    Reason.UNEVEN_STEPS: (
        "their exposures are not evenly stepped", "{value} off; at most {limit}", _stops),
    Reason.STEP_TOO_SMALL: ("there is no step between them", LEAST, _number),
    Reason.STEP_TOO_LARGE: ("the steps are too large", MOST, _stops),
    Reason.LIGHT_CHANGED: ("the light changed between them", MOST, _stops),
    Reason.NO_EDGE: ("the light lost does not follow a graduated filter", "", _number),
    Reason.COLUMNS_DISAGREE: (
        "the sky does not end on one straight line",
        "{value} of the columns; at least {limit}", share_text),
    Reason.SKY_BELOW: (
        "the sky goes on below the line, the top of a headland",
        "in {value} of the columns; at most {limit}", share_text),
    Reason.SIDES_DISAGREE: ("left, middle and right differ, as under clouds", MOST, _stops),
    Reason.FOLLOWS_THE_SCENE: (
        "bright and dark parts side by side did not lose the same light", "", _number),
    Reason.ASLANT: (
        "the camera rose or sank while it turned",
        "{value} of the frame; at most {limit}", share_text),
    Reason.UNLIKE_STEP: (
        "the camera turned by another angle than before",
        "{value} of the frame; at most {limit}", share_text),
}  # fmt: skip
"""Each reason as a phrase, and how its figures are written; nothing where there are none."""
