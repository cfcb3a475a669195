"""Set-up sheets: pairs, brackets, grads, runs, keepers and prints in words."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import TypeVar

from auditor.group.setups import least_moved_px
from auditor.light.nominal import nominal_name
from auditor.model.advice import NextTime
from auditor.model.audit import (
    Audit,
    Bracket,
    Grad,
    Keeper,
    Panorama,
    Setup,
    SiblingPair,
)
from auditor.model.text import listed
from auditor.report import words
from auditor.report.frame_names import with_short_names
from auditor.report.page_optics import print_sheet
from auditor.report.page_records import (
    BracketSheet,
    BracketStep,
    Fact,
    FrameSheet,
    GradSheet,
    KeeperSheet,
    NextTimeSheet,
    PairSheet,
    PanoramaSheet,
    PrintSheet,
    SetupSheet,
    ToneBar,
)
from auditor.report.page_skies import grad_outcome, sky_lines
from auditor.words.page import BLEND_JOBS
from auditor.words.pairs import blend_text, density_words, match_words

Frames = Mapping[str, FrameSheet]
Names = Mapping[str, str]
OfSetup = TypeVar("OfSetup", SiblingPair, Bracket, Grad, Keeper)


def setup_sheets(audit: Audit, frames: Frames, names: Names) -> tuple[SetupSheet, ...]:
    """Word all set-ups, numbered in their order; ``names`` are the frames' short ones."""
    parts = _Parts(audit, names)
    return tuple(
        _setup(number, setup, parts, frames) for number, setup in enumerate(audit.setups, 1)
    )


class _Parts:
    """What was found, gathered by the set-up or frame that it belongs to."""

    def __init__(self, audit: Audit, names: Names) -> None:
        self.names = names
        self.clean_snr = audit.settings.judge.clean_snr
        self.pairs = _by_setup(audit.siblings)
        self.brackets = _by_setup(audit.brackets)
        self.grads = _by_setup(audit.grads)
        self.keepers = _by_setup(audit.keepers)
        self.prints = {fit.frame: print_sheet(fit, audit.settings.print) for fit in audit.prints}
        self.skies = {sky.frame: sky for sky in audit.skies}
        self.graded = {grad.with_ for grad in audit.grads}


def _by_setup(found: Iterable[OfSetup]) -> dict[str, list[OfSetup]]:
    gathered: dict[str, list[OfSetup]] = defaultdict(list)
    for record in found:
        gathered[record.setup].append(record)
    return gathered


def _setup(number: int, setup: Setup, parts: _Parts, frames: Frames) -> SetupSheet:
    skies = [parts.skies[frame] for frame in setup.frames if frame in parts.skies]
    return SetupSheet(
        number=number,
        title=f"Set-up {number}",
        about=_about(setup),
        short_about=_short_about(setup),
        frames=setup.frames,
        pairs=tuple(_pair(pair, frames, parts.names) for pair in parts.pairs.get(setup.id, ())),
        brackets=tuple(
            _bracket(found, frames, parts) for found in parts.brackets.get(setup.id, ())
        ),
        grads=tuple(_grad(grad, parts) for grad in parts.grads.get(setup.id, ())),
        skies=tuple(sky_lines(skies, parts.graded)),
        horizon=next(((one.frame, one.horizon_ends) for one in skies if one.horizon_ends), None),
        keepers=tuple(
            _keeper(keeper, parts.prints.get(keeper.frame), parts.names)
            for keeper in parts.keepers.get(setup.id, ())
        ),
        notes=_noted(setup.notes, parts.names),
        shifts=setup.shift_px,
        next_time=next_time_sheet(f"Set-up {number}", number, setup.next_time, parts.names)
        if setup.next_time
        else None,
    )


def _noted(notes: Iterable[str], names: Names) -> tuple[str, ...]:
    return tuple(words.plain(with_short_names(note, names)) for note in notes)


def _about(setup: Setup) -> str:
    started = words.moment(setup.started_at)
    told = ((math.hypot(*shift), error) for _, shift, error in setup.placed())
    moved = max((far for far, error in told if far >= least_moved_px(error)), default=0.0)
    parts = [
        f"from {words.clock(started)}" if started else "",
        words.focal(setup.focal_mm),
        words.counted(len(setup.frames), "frame"),
        f"the camera moved by up to {moved:.0f} px" if moved >= 1 else "",
    ]
    return " · ".join(part for part in parts if part)


def next_time_sheet(setups: str, first: int, advice: NextTime, names: Names) -> NextTimeSheet:
    """Word the settings advised for some set-ups."""
    return NextTimeSheet(
        setups=setups, first=first, text=words.plain(advice.text), why=_noted(advice.why, names)
    )


def _short_about(setup: Setup) -> str:
    started = words.moment(setup.started_at)
    parts = [words.clock(started)[:5] if started else "", words.counted(len(setup.frames), "frame")]
    return " · ".join(part for part in parts if part)


def _named(frame: str, frames: Frames) -> str:
    return frames[frame].name if frame in frames else words.name(frame)


def _pair(pair: SiblingPair, frames: Frames, names: Names) -> PairSheet:
    return PairSheet(
        short=pair.short,
        long=pair.long,
        title=words.marking(pair.nearest_marking),
        sentence=_pair_sentence(pair, frames),
        by_channel=tuple(
            (channel, value, words.stops(value))
            for channel, value in pair.filter_stops_by_channel.items()
        ),
        facts=tuple(_pair_facts(pair, frames)),
        reasons=_noted(pair.reasons, names),
        best=pair.best,
        filter_stops=pair.filter_stops,
        density=pair.density_map,
        density_text=density_words(pair.density_map),
    )


def _pair_sentence(pair: SiblingPair, frames: Frames) -> str:
    placed = _placed(pair.placement_difference_stops)
    return (
        f"The filter measures {words.stops(pair.filter_stops)}. "
        f"{_named(pair.long, frames)} {placed} {_named(pair.short, frames)}; "
        f"{_matching(pair)}."
    )


def _placed(difference_stops: float) -> str:
    if abs(difference_stops) < words.LEVEL_STOPS:
        return "matches"
    return f"is {words.over_under(difference_stops, over='brighter than', under='darker than')}"


def _matching(pair: SiblingPair) -> str:
    """Say which setting would have placed the long frame as the short one."""
    if pair.matched_time_s is None:
        return "no shutter time would have matched it, for the light fell too fast"
    if abs(pair.placement_difference_stops) < words.LEVEL_STOPS:
        return "its shutter time was right"
    return f"{nominal_name(pair.matched_time_s)} would have matched it"


def _between(pair: SiblingPair, frames: Frames) -> str:
    """Say how the light went from the earlier frame of a pair to the later one."""
    drift = pair.light_drift_stops
    if drift is None:
        return "could not be told"
    if abs(drift) < words.LEVEL_STOPS:
        return words.changed(drift)
    short_s, long_s = (
        frames[frame].taken_s if frame in frames else None for frame in (pair.short, pair.long)
    )
    if short_s is not None and long_s is not None and long_s < short_s:
        return f"{words.changed(-drift)} from the long frame to the short one"
    return f"{words.changed(drift)} from the short frame to the long one"


def _pair_facts(pair: SiblingPair, frames: Frames) -> list[Fact]:
    off = words.over_under(pair.off_marking_stops, over="more", under="less")
    matched_s = pair.matched_time_s
    return [
        Fact("Filter", words.stops(pair.filter_stops), "measured on what is static"),
        Fact("Nearest marking", words.marking(pair.nearest_marking), f"{off} than marked"
             if off != "level with" else "as marked"),
        Fact("Cast against green", words.cast(pair.cast_stops)),
        Fact("Shutter that would have matched", "none: the light fell too fast"
             if matched_s is None else nominal_name(matched_s)),
        Fact("Placement of the long frame", words.stops(pair.placement_difference_stops,
             signed=True), "against the short one, as recorded"),
        Fact("To match the unfiltered frame", match_words(pair.match) if pair.match else "–"),
        Fact("Difference by the settings", words.stops(pair.exposure_difference_stops)),
        Fact("The light between the two", _between(pair, frames)),
        Fact("Known filter", words.name(pair.known_filter)),
        Fact("Confidence", words.sureness(pair.confidence)),
    ]  # fmt: skip


def _bracket(bracket: Bracket, frames: Frames, parts: _Parts) -> BracketSheet:
    needed = set(bracket.needed)
    evs = [frames[f].ev100 for f in bracket.frames if f in frames]
    top = max((ev for ev in evs if ev is not None), default=None)
    return BracketSheet(
        title=f"Bracket of {len(bracket.frames)} in steps of {words.stops(bracket.step_stops)}",
        sentence=_bracket_sentence(bracket, frames, parts),
        steps=tuple(
            _step(frame, bracket, frames, top, needed=frame in needed) for frame in bracket.frames
        ),
        facts=(
            Fact("Covered", words.share(bracket.covered_fraction), "between floor and saturation"),
            Fact("Bright part left out", words.share(bracket.lost_bright_fraction)),
            Fact("Dark part left out", words.share(bracket.lost_dark_fraction)),
            Fact("Order", words.plain(bracket.order) or "–"),
        ),
        notes=_noted(bracket.notes, parts.names),
    )


def _bracket_sentence(bracket: Bracket, frames: Frames, parts: _Parts) -> str:
    names = listed([_named(frame, frames) for frame in bracket.needed])
    told = f"Together the frames record {words.share(bracket.covered_fraction)} of the scene"
    if bracket.blend:
        blend = blend_text(bracket, parts.clean_snr)
        return f"{told}. {with_short_names(blend, parts.names)}"
    if not bracket.needed:
        return f"{told}."
    if not bracket.not_needed:
        return f"{told}, and all of them are needed."
    spared = words.counted(len(bracket.not_needed), "frame")
    verb = "is" if len(bracket.not_needed) == 1 else "are"
    return f"{told}; {names} would do, and {spared} {verb} not needed."


def _step(
    frame: str, bracket: Bracket, frames: Frames, top: float | None, *, needed: bool
) -> BracketStep:
    sheet = frames.get(frame)
    ev100 = sheet.ev100 if sheet else None
    return BracketStep(
        frame=frame,
        offset_stops=None if ev100 is None or top is None else top - ev100,
        bar=sheet.bar if sheet else ToneBar(),
        covered_text=words.share(bracket.covered_by_frame.get(frame)),
        needed=needed,
        job=next((BLEND_JOBS.get(p.job, p.job) for p in bracket.blend if p.frame == frame), ""),
    )


def _grad(grad: Grad, parts: _Parts) -> GradSheet:
    edge, width = words.whole_share(grad.edge_at), words.whole_share(grad.transition)
    skies = (parts.skies.get(frame) for frame in (grad.without, grad.with_))
    outcome = " ".join(grad_outcome(grad, *skies))
    return GradSheet(
        without=grad.without,
        with_=grad.with_,
        sentence=f"The filter measures {words.stops(grad.stops_at_top)} at the top; its edge lies "
        f"{edge} of the height from the top and takes {width} of the height. {outcome}".rstrip(),
        profile_stops=grad.profile_stops,
        edge_at=grad.edge_at,
        facts=(
            Fact("At the top", words.stops(grad.stops_at_top)),
            Fact("Edge", edge, "of the height from the top, where the density is half"),
            Fact("Transition", width, "of the height, from 90 % to 10 % of the density"),
        ),
        notes=_noted(grad.notes, parts.names),
        horizon=bare.horizon_ends if (bare := parts.skies.get(grad.without)) else None,
    )


def panorama_sheets(audit: Audit, names: Names) -> tuple[PanoramaSheet, ...]:
    """Word the panoramas."""
    return tuple(_run(number, run, names) for number, run in enumerate(audit.panoramas, 1))


def _run(number: int, run: Panorama, names: Names) -> PanoramaSheet:
    overlaps = [part for part in run.overlaps if part is not None]
    overlap = (
        f" Neighbours overlap by {words.whole_share(min(overlaps))} or more." if overlaps else ""
    )
    spread = run.exposure_spread_stops
    even = "evenly exposed" if abs(spread) < 0.05 else f"{words.stops(spread)} apart in exposure"
    return PanoramaSheet(
        title=f"Panorama {number}",
        sentence=f"{words.counted(len(run.frames), 'frame')}, {even}.{overlap}",
        frames=run.frames,
        notes=_noted(run.notes, names),
    )


def _keeper(keeper: Keeper, fit: PrintSheet | None, names: Names) -> KeeperSheet:
    kinds = {"short": "Best unfiltered frame", "long": "Best filtered frame"}
    return KeeperSheet(
        frame=keeper.frame,
        kind_text=kinds.get(keeper.kind, words.name(keeper.kind)),
        why=tuple(
            words.sentence(words.plain(with_short_names(reason, names)))
            for reason in keeper.why[: len(keeper.why) - len(keeper.behind)]
        ),
        others=tuple(frame for frame in keeper.rank if frame != keeper.frame),
        against=tuple(
            (one.frame, words.sentence(words.plain(with_short_names(one.why, names))))
            for one in keeper.behind
        ),
        print_fit=fit,
    )
