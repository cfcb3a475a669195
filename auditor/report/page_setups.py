"""Set-up sheets: pairs, brackets, graduated filters, skies and keepers in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import TypeVar

from auditor.light.nominal import nominal_name
from auditor.model.advice import NextTime
from auditor.model.audit import Audit, Bracket, Grad, Keeper, Setup, SiblingPair
from auditor.model.findings import FindingCode
from auditor.model.numbers import counted, counted_stops, whole_share_text
from auditor.report.frame_names import plain_named
from auditor.report.frame_records import FrameSheet, ToneBar
from auditor.report.page_frames import print_sheet
from auditor.report.setup_records import (
    Behind,
    BracketSheet,
    BracketStep,
    ChannelStops,
    DensityMap,
    GradSheet,
    Horizon,
    KeeperSheet,
    MovedSheet,
    NextTimeSheet,
    PairSheet,
    SetupSheet,
)
from auditor.words import values as words
from auditor.words.next_time import bare_text, behind_texts, grad_text
from auditor.words.page import BLEND_JOBS, KEEPER_KINDS
from auditor.words.pairs import density_words, match_words
from auditor.words.setups import (
    bracket_sentence,
    grad_sentence,
    light_between,
    moved_sentence,
    off_marking,
    pair_sentence,
    setup_about,
)
from auditor.words.skies import grad_outcome, sky_lines
from auditor.words.values import Fact

OfSetup = TypeVar("OfSetup", SiblingPair, Bracket, Grad, Keeper)


def setup_sheets(
    audit: Audit, frames: Mapping[str, FrameSheet], names: Mapping[str, str]
) -> tuple[SetupSheet, ...]:
    """Word all set-ups, numbered in their order; ``names`` are the frames' short ones."""
    words_on = _SetupWords(audit, frames, names)
    return tuple(words_on.sheet(number, setup) for number, setup in enumerate(audit.setups, 1))


def next_time_sheet(
    setups: str, first: int, advice: NextTime, names: Mapping[str, str], filters: Sequence[str] = ()
) -> NextTimeSheet:
    """Word the settings advised for some set-ups, of which ``first`` is the first's number.

    The time behind each of the ``filters`` stands by itself.
    """
    behind = behind_texts(advice) if filters else {}
    return NextTimeSheet(
        setups=setups,
        first=first,
        text=words.plain(advice.text),
        why=tuple(plain_named(reason, names) for reason in advice.why),
        bare=bare_text(advice),
        behind=tuple(words.plain(behind.get(name, "")) for name in filters),
        grad=grad_text(advice),
    )


def _by_setup(found: Iterable[OfSetup]) -> dict[str, list[OfSetup]]:
    gathered: dict[str, list[OfSetup]] = defaultdict(list)
    for record in found:
        gathered[record.setup].append(record)
    return gathered


class _SetupWords:
    """Words each set-up, with what was found gathered by the set-up or frame it belongs to."""

    def __init__(
        self, audit: Audit, frames: Mapping[str, FrameSheet], names: Mapping[str, str]
    ) -> None:
        self.frames, self.names = frames, names
        self.clean_snr = audit.settings.judge.clean_snr
        self.pairs, self.brackets = _by_setup(audit.siblings), _by_setup(audit.brackets)
        self.grads, self.keepers = _by_setup(audit.grads), _by_setup(audit.keepers)
        self.prints = {fit.frame: print_sheet(fit, audit.settings.print) for fit in audit.prints}
        self.skies = {sky.frame: sky for sky in audit.skies}
        self.graded = {grad.with_ for grad in audit.grads}
        self.knocks = {
            frame.id: finding
            for frame in audit.frames
            for finding in frame.findings
            if finding.code == FindingCode.TRIPOD_MOVED
        }

    def sheet(self, number: int, setup: Setup) -> SetupSheet:
        """Word one set-up."""
        title, started = f"Set-up {number}", words.moment(setup.started_at)
        skies = [self.skies[frame] for frame in setup.frames if frame in self.skies]
        ends = [Horizon(frame=s.frame, ends=s.horizon_ends) for s in skies if s.horizon_ends]
        clock, frames = words.clock(started)[:5], counted(len(setup.frames), "frame")
        next_time = None
        if setup.next_time:
            next_time = next_time_sheet(title, number, setup.next_time, self.names)
        return SetupSheet(
            number=number,
            title=title,
            about=setup_about(setup),
            short_about=f"{clock} · {frames}" if started else frames,
            frames=setup.frames,
            shifts=setup.shift_px,
            shift_errors=setup.shift_error_px,
            pairs=tuple(map(self._pair, self.pairs[setup.id])),
            brackets=tuple(map(self._bracket, self.brackets[setup.id])),
            grads=tuple(map(self._grad, self.grads[setup.id])),
            skies=tuple(sky_lines(skies, self.graded)),
            horizon=ends[0] if ends else None,
            keepers=tuple(map(self._keeper, self.keepers[setup.id])),
            moved=tuple(self._moved(setup)),
            next_time=next_time,
            notes=self._plain(setup.notes),
        )

    def _moved(self, setup: Setup) -> Iterator[MovedSheet]:
        """Word where the picture moved, frame by frame."""
        blurred = {one.frame: one for one in setup.moved}
        steps = {
            frame: (at[0] - before[0], at[1] - before[1])
            for (_, before, _), (frame, at, _) in pairwise(setup.placed())
        }
        for frame in setup.frames:
            moved, knock = blurred.get(frame), self.knocks.get(frame)
            if moved is not None or knock is not None:
                yield MovedSheet(
                    frame=frame,
                    text=plain_named(moved_sentence(moved, knock), self.names),
                    places=moved.places if moved else (),
                    shift=steps.get(frame) if knock else None,
                )

    def _plain(self, texts: Iterable[str]) -> tuple[str, ...]:
        """Return sentences with their frames' short names, safe to show."""
        return tuple(plain_named(text, self.names) for text in texts)

    def _named(self, frame: str) -> str:
        """Name one frame, safe to show."""
        return self.frames[frame].name if frame in self.frames else words.name(frame)

    def _pair(self, pair: SiblingPair) -> PairSheet:
        """Word a pair without and with a filter."""
        short, long = self.frames.get(pair.short), self.frames.get(pair.long)
        light = light_between(pair, *(sheet.taken_s if sheet else None for sheet in (short, long)))
        matched = "none: the light fell too fast"
        if pair.matched_time_s is not None:
            matched = nominal_name(pair.matched_time_s)
        channels = pair.filter_stops_by_channel.items()
        placed = counted_stops(pair.placement_difference_stops, signed=True)
        density = density_words(pair.density_map) if pair.best else ""
        return PairSheet(
            short=pair.short,
            long=pair.long,
            title=words.marking(pair.nearest_marking),
            sentence=pair_sentence(pair, self._named),
            stops=pair.filter_stops,
            channels=tuple(
                ChannelStops(name=channel, stops=value, text=counted_stops(value))
                for channel, value in channels
            ),
            facts=(
                Fact("Filter", counted_stops(pair.filter_stops), "measured on what is static"),
                Fact("Nearest marking", words.marking(pair.nearest_marking), off_marking(pair)),
                Fact("Cast against green", words.cast(pair.cast_stops)),
                Fact("Shutter that would have matched", matched),
                Fact("Long frame against the short one", placed, "as recorded"),
                Fact(
                    "To match the unfiltered frame", match_words(pair.match) if pair.match else "–"
                ),
                Fact("Difference by the settings", counted_stops(pair.exposure_difference_stops)),
                Fact("The light between the two", light),
                Fact("Known filter", words.name(pair.known_filter)),
                Fact("Confidence", words.sureness(pair.confidence)),
            ),
            reasons=self._plain(pair.reasons),
            best=pair.best,
            density=DensityMap(rows=pair.density_map, text=density) if density else None,
        )

    def _bracket(self, bracket: Bracket) -> BracketSheet:
        """Word a bracket; its frames stand on the axis of the scene's own light."""
        sheets = [self.frames.get(frame) for frame in bracket.frames]
        evs = [sheet.ev100 if sheet else None for sheet in sheets]
        top = max((ev for ev in evs if ev is not None), default=None)
        jobs = {one.frame: BLEND_JOBS.get(one.job, one.job) for one in reversed(bracket.blend)}
        steps = tuple(
            BracketStep(
                frame=frame,
                offset=None if ev is None or top is None else top - ev,
                bar=sheet.bar if sheet else ToneBar(),
                covered=words.share(bracket.covered_by_frame.get(frame)),
                needed=frame in bracket.needed,
                job=jobs.get(frame, ""),
            )
            for frame, sheet, ev in zip(bracket.frames, sheets, evs, strict=True)
        )
        covered, step = words.share(bracket.covered_fraction), counted_stops(bracket.step_stops)
        return BracketSheet(
            title=f"Bracket of {len(bracket.frames)} in steps of {step}",
            sentence=bracket_sentence(bracket, self.clean_snr, self._named),
            steps=steps,
            facts=(
                Fact("Covered", covered, "between floor and saturation"),
                Fact("Bright part left out", words.share(bracket.lost_bright_fraction)),
                Fact("Dark part left out", words.share(bracket.lost_dark_fraction)),
                Fact("Order", words.plain(bracket.order) or "–"),
            ),
            notes=self._plain(bracket.notes),
        )

    def _grad(self, grad: Grad) -> GradSheet:
        """Word a graduated filter, with what it did to the sky."""
        bare = self.skies.get(grad.without)
        outcome = grad_outcome(grad, bare, self.skies.get(grad.with_))
        edge, width = whole_share_text(grad.edge_at), whole_share_text(grad.transition)
        return GradSheet(
            without=grad.without,
            with_=grad.with_,
            sentence=" ".join((grad_sentence(grad), *outcome)),
            edge=grad.edge_at,
            horizon=bare.horizon_ends if bare else None,
            profile=grad.profile_stops,
            facts=(
                Fact("At the top", counted_stops(grad.stops_at_top)),
                Fact("Edge", edge, "of the height from the top, where the density is half"),
                Fact("Transition", width, "of the height, from 90 % to 10 % of the density"),
            ),
            notes=self._plain(grad.notes),
        )

    def _keeper(self, keeper: Keeper) -> KeeperSheet:
        """Word the frame to keep; why others came after it stands at the end of its reasons."""
        why = self._plain(keeper.why[: len(keeper.why) - len(keeper.behind)])
        return KeeperSheet(
            frame=keeper.frame,
            kind=KEEPER_KINDS.get(keeper.kind, words.name(keeper.kind)),
            why=tuple(map(words.sentence, why)),
            others=tuple(frame for frame in keeper.rank if frame != keeper.frame),
            against=tuple(
                Behind(frame=one.frame, text=words.sentence(plain_named(one.why, self.names)))
                for one in keeper.behind
                if one.frame in self.frames
            ),
            print=self.prints.get(keeper.frame),
        )
