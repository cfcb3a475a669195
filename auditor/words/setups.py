"""What is said of a set-up and of its pairs, brackets, graduated filters and panoramas."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from auditor.group.setups import least_moved_px
from auditor.light.nominal import nominal_name
from auditor.model.audit import Bracket, Grad, MovedPlaces, Panorama, Setup, SiblingPair
from auditor.model.findings import Finding
from auditor.model.numbers import (
    counted,
    counted_stops,
    pixels_text,
    share_text,
    whole_share_text,
)
from auditor.model.text import listed
from auditor.words import values
from auditor.words.pairs import blend_text

Naming = Callable[[str], str]
"""Names a frame, safe to show, by its id."""


def setup_about(setup: Setup) -> str:
    """Say when a set-up began, through which lens, of how many frames, and how far it moved."""
    started = values.moment(setup.started_at)
    told = ((math.hypot(*shift), error) for _, shift, error in setup.placed())
    moved, error = max(
        (one for one in told if one[0] >= least_moved_px(one[1])), default=(0.0, None)
    )
    parts = [
        f"from {values.clock(started)}" if started else "",
        values.focal(setup.focal_mm),
        counted(len(setup.frames), "frame"),
        f"the camera moved by up to {pixels_text(moved, error)} px" if moved else "",
    ]
    return " · ".join(filter(None, parts))


def moved_sentence(moved: MovedPlaces | None, knock: Finding | None) -> str:
    """Say how far a frame's picture was shifted, and what share of it blurred by itself."""
    told = [knock.text] if knock else []
    if moved is not None:
        told.append(
            f"{share_text(moved.share)} of what is static and has structure blurred by itself: "
            "leaves or grass in wind, or something that moved."
        )
    return " ".join(told)


def pair_sentence(pair: SiblingPair, named: Naming) -> str:
    """Say what the filter measures, how the long frame is placed, and what would have matched."""
    off, matched_s = pair.placement_difference_stops, pair.matched_time_s
    level = abs(off) < values.LEVEL_STOPS
    way = values.over_under(off, over="brighter than", under="darker than")
    if matched_s is None:
        matching = "no shutter time would have matched it, for the light fell too fast"
    elif level:
        matching = "its shutter time was right"
    else:
        matching = f"{nominal_name(matched_s)} would have matched it"
    return (
        f"The filter measures {counted_stops(pair.filter_stops)}. {named(pair.long)} "
        f"{'matches' if level else f'is {way}'} {named(pair.short)}; {matching}."
    )


def light_between(pair: SiblingPair, short_s: float | None, long_s: float | None) -> str:
    """Say how the light went from the earlier frame of a pair to the later one, by their clocks."""
    drift = pair.light_drift_stops
    if drift is None:
        return "not measured"
    if abs(drift) < values.LEVEL_STOPS:
        return values.changed(drift)
    if short_s is not None and long_s is not None and long_s < short_s:
        return f"{values.changed(-drift)} from the long frame to the short one"
    return f"{values.changed(drift)} from the short frame to the long one"


def off_marking(pair: SiblingPair) -> str:
    """Say by how much a filter is off its marking."""
    if abs(pair.off_marking_stops) < values.LEVEL_STOPS:
        return "as marked"
    return f"{values.over_under(pair.off_marking_stops, over='more', under='less')} than marked"


def bracket_sentence(bracket: Bracket, clean_snr: float, named: Naming) -> str:
    """Say how much of the scene a bracket records, and which of its frames are needed for it."""
    told = f"Together the frames record {values.share(bracket.covered_fraction)} of the scene"
    if bracket.blend:
        named_blend = tuple(replace(one, frame=named(one.frame)) for one in bracket.blend)
        return f"{told}. {blend_text(replace(bracket, blend=named_blend), clean_snr)}"
    if not bracket.needed:
        return f"{told}."
    if not bracket.not_needed:
        return f"{told}, and all of them are needed."
    verb = "is" if len(bracket.not_needed) == 1 else "are"
    return (
        f"{told}; {listed([named(frame) for frame in bracket.needed])} would do, and "
        f"{counted(len(bracket.not_needed), 'frame')} {verb} not needed."
    )


def grad_sentence(grad: Grad) -> str:
    """Say what a graduated filter measures and where its edge lies."""
    edge, width = whole_share_text(grad.edge_at), whole_share_text(grad.transition)
    return (
        f"The filter measures {counted_stops(grad.stops_at_top)} at the top; its edge lies {edge} "
        f"of the height from the top and takes {width} of the height."
    )


def panorama_sentence(run: Panorama) -> str:
    """Say how many frames a panorama has, how alike they are exposed, and how far they overlap."""
    overlaps = [part for part in run.overlaps if part is not None]
    spread = run.exposure_spread_stops
    even = (
        "evenly exposed"
        if abs(spread) < values.LEVEL_STOPS
        else f"{counted_stops(spread)} apart in exposure"
    )
    told = f"{counted(len(run.frames), 'frame')}, {even}."
    if overlaps:
        told += f" Neighbours overlap by {whole_share_text(min(overlaps))} or more."
    return told
