"""Frame sheets: one file of the card in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import UTC

from auditor.advise.outcomes import outcomes
from auditor.advise.suggestions import suggestions
from auditor.model.audit import Audit, FrameResult, Patch, PrintFit
from auditor.model.findings import Finding, FindingKind
from auditor.model.numbers import counted_stops, stops_text
from auditor.model.settings import PrintSettings
from auditor.report.frame_names import plain_named, short_names
from auditor.report.frame_records import (
    FindingLine,
    FrameSheet,
    LossRing,
    Relatives,
    SuggestionLine,
    ToneBar,
)
from auditor.report.page_channels import channel_bar, channel_sheet
from auditor.report.setup_records import PrintSheet
from auditor.words import values as words
from auditor.words.optics import (
    optics_facts,
    print_sentence,
    shading_error_text,
    shading_text,
)
from auditor.words.page import suggestion_text, verdict_line, verdict_text
from auditor.words.skies import sky_fact
from auditor.words.values import Fact


def frame_sheets(audit: Audit, kinds: Mapping[str, FindingKind]) -> tuple[FrameSheet, ...]:
    """Word all frames, in order of time; those without a clock come last, by name."""
    words_on = _FrameWords(audit, kinds)
    sheets = [words_on.sheet(frame) for frame in audit.frames]
    return tuple(sorted(sheets, key=lambda sheet: (sheet.taken_s is None, sheet.taken_s or 0.0)))


def print_sheet(fit: PrintFit, settings: PrintSettings) -> PrintSheet:
    """Word one frame's fit for the paper of these settings."""
    sizes = [
        Fact(
            f"{words.name(ppi)} px an inch",
            f"{width:.0f} × {height:.0f} cm",
            f"seen from {fit.viewing_cm[ppi]:.0f} cm or more" if ppi in fit.viewing_cm else "",
        )
        for ppi, (width, height) in fit.sizes_cm.items()
    ]
    return PrintSheet(
        sentence=print_sentence(fit, settings),
        sizes=tuple(sizes),
        notes=tuple(map(words.plain, fit.notes)),
    )


class _FrameWords:
    """Words each frame, with what other records tell of it gathered by frame."""

    def __init__(self, audit: Audit, kinds: Mapping[str, FindingKind]) -> None:
        self.kinds, self.names = kinds, short_names(audit.frames)
        numbered = enumerate(audit.setups, 1)
        self.setups = {frame: number for number, setup in numbered for frame in setup.frames}
        self.keepers = {keeper.frame for keeper in audit.keepers}
        roles = [
            *((pair.short, "short of a pair") for pair in audit.siblings if pair.best),
            *((pair.long, "long behind a filter") for pair in audit.siblings if pair.best),
            *((frame, "in a bracket") for bracket in audit.brackets for frame in bracket.frames),
            *((grad.without, "without the grad") for grad in audit.grads),
            *((grad.with_, "with the grad") for grad in audit.grads),
            *((frame, "in a panorama") for run in audit.panoramas for frame in run.frames),
            *((keeper.frame, "suggested") for keeper in audit.keepers),
        ]
        self.roles: dict[str, list[str]] = defaultdict(list)
        for frame, role in dict.fromkeys(roles):
            self.roles[frame].append(role)
        self.skies = {sky.frame: sky for sky in audit.skies}
        self.graded = {grad.with_ for grad in audit.grads}
        self.prints = {fit.frame: fit for fit in audit.prints}
        self.printing = audit.settings.print
        self.outcomes = outcomes(audit)
        self.suggestions = suggestions(audit)
        self.relatives = _relatives(audit)

    def sheet(self, frame: FrameResult) -> FrameSheet:
        """Word one frame."""
        when = words.moment(frame.captured_at)
        aware = when if when is None or when.tzinfo else when.replace(tzinfo=UTC)
        setups = (self.setups[f] for f in (frame.id, *frame.also_at) if f in self.setups)
        suggested = self.suggestions.get(frame.id)
        return FrameSheet(
            id=frame.id,
            input=frame.input,
            file=frame.file,
            name=words.name(self.names[frame.id]),
            place=words.plain(frame.file),
            status=frame.status,
            verdict=frame.verdict,
            verdict_text=verdict_text(frame),
            taken_text=words.clock(when),
            clock_key=when.strftime("%Y-%m-%dT%H:%M") if when else "",
            taken_s=aware.timestamp() if aware else None,
            camera=words.name(frame.camera.body),
            lens=words.name(frame.lens.model),
            exposure_text=words.exposure_line(frame.exposure),
            time_s=frame.exposure.time_s,
            ev100=frame.exposure.ev100,
            bar=_frame_bar(frame),
            blown_text=words.share(frame.blown_fraction),
            blocked_text=words.share(frame.blocked_fraction),
            headroom_stops=frame.headroom_stops,
            spare_text=counted_stops(frame.headroom_stops),
            range_stops=frame.tone_range_stops,
            range_text=counted_stops(frame.tone_range_stops),
            verdict_line=verdict_line(frame),
            facts=tuple(fact for fact in self._facts(frame) if fact.text not in ("", "–")),
            channels=tuple(channel_sheet(channel) for channel in frame.channels),
            findings=tuple(map(self._finding, frame.findings)),
            setup=next(setups, None),
            roles=tuple(self.roles.get(frame.id, ())),
            is_keeper=frame.id in self.keepers,
            error_text=words.plain(frame.error.message) if frame.error else "",
            notes=tuple(map(words.plain, frame.notes)),
            outcome=self.outcomes[frame.id].value,
            day_text=words.day(when) if when else "",
            relatives=self.relatives.get(frame.id, Relatives()),
            suggestion=SuggestionLine(
                mark=suggested.mark.value,
                why=words.sentence(plain_named(suggestion_text(suggested, self.names), self.names)),
            )
            if suggested
            else None,
            loss=_loss(frame),
            preview_clips_stops=dict(frame.preview.early_by_channel_stops) if frame.preview else {},
        )

    def _finding(self, finding: Finding) -> FindingLine:
        """Word one finding."""
        kind = self.kinds.get(finding.code)
        return FindingLine(
            code=words.name(finding.code),
            title=words.name(kind.title if kind else finding.code.replace("-", " ")),
            severity=finding.severity.value,
            severity_text=words.SEVERITIES[finding.severity],
            text=plain_named(finding.text, self.names),
            next_time=words.plain(kind.next_time) if kind else "",
            caution=words.plain(kind.caution) if kind else "",
        )

    def _facts(self, frame: FrameResult) -> Iterator[Fact]:
        """Yield the frame's facts: as taken, what is lost, its optics, its sky, on paper."""
        ev100, size = frame.exposure.ev100, frame.size
        ev_text = "" if ev100 is None else f"EV {stops_text(ev100)} at ISO 100"
        size_text = f"{size.width} × {size.height}, {size.bit_depth} bit" if size else ""
        yield Fact("Camera", words.name(frame.camera.body))
        yield Fact("Lens", words.name(frame.lens.model), words.focal(frame.lens.focal_mm))
        yield Fact("Exposure", words.exposure_line(frame.exposure), ev_text)
        yield Fact("Picture", size_text, frame.layout or "")
        yield from _measured_facts(frame)
        yield Fact("Beside it", words.plain(", ".join(frame.companions)))
        yield Fact("Also at", words.plain(", ".join(frame.also_at)))
        sky, fit = self.skies.get(frame.id), self.prints.get(frame.id)
        if sky is not None:
            yield sky_fact(sky, graded=frame.id in self.graded)
        if fit is not None:
            sheet = print_sheet(fit, self.printing)
            sizes = ", ".join(f"{size.text} at {size.label}" for size in sheet.sizes)
            yield Fact("On paper", sheet.sentence, sizes)


def _measured_facts(frame: FrameResult) -> Iterator[Fact]:
    every, thirds = "", frame.thirds
    preview, hot, shading = frame.preview, frame.hot_pixels, frame.lens_shading
    if frame.blown_all_fraction:
        every = f"in every channel {words.share(frame.blown_all_fraction)}"
    yield Fact("Blown in any channel", words.share(frame.blown_fraction), every)
    yield Fact("Largest blown patch", _patch(frame.largest_blown_area))
    yield Fact("Blocked in every channel", words.share(frame.blocked_fraction))
    yield Fact("Largest blocked patch", _patch(frame.largest_blocked_area))
    for label, shares in (
        ("Blown by thirds", thirds.blown if thirds else ()),
        ("Blocked by thirds", thirds.blocked if thirds else ()),
    ):
        named = zip(("upper", "middle", "lower"), shares, strict=False)
        told = ", ".join(f"{where} {words.share(part)}" for where, part in named)
        yield Fact(label, told if any(shares) else "", "of each third")
    headroom = counted_stops(frame.headroom_stops)
    yield Fact("Headroom", headroom, "more light before a channel clips")
    yield Fact("Range of tones", counted_stops(frame.tone_range_stops))
    if preview is not None:
        told = words.plain(preview.text) or f"shows {words.share(preview.blown_fraction)} blown"
        yield Fact("Preview", told)
    if hot is not None:
        lasting = f"{hot.lasting} of them stay from view to view" if hot.lasting else ""
        yield Fact("Hot pixels", f"{hot.count} ({hot.per_megapixel:.1f} per megapixel)", lasting)
    if frame.sharpness is not None:
        yield Fact("Fine detail", f"{frame.sharpness:.1f} × noise")
    yield Fact("Lens shading", shading_text(shading), shading_error_text(shading))
    yield from optics_facts(frame)
    if frame.temperature_c is not None:
        yield Fact("Sensor temperature", f"{frame.temperature_c:.0f} °C")


def _patch(patch: Patch | None) -> str:
    return f"{words.share(patch.share)} {words.plain(patch.where)}".strip() if patch else ""


def _loss(frame: FrameResult) -> LossRing | None:
    """Tell the largest lost patch, blown before blocked."""
    for patch, what in (
        (frame.largest_blown_area, "blown"),
        (frame.largest_blocked_area, "blocked up"),
    ):
        if patch is not None and patch.share:
            text = f"{words.share(patch.share)} {what} {words.plain(patch.where)}"
            return LossRing(text=text.strip(), box=patch.box)
    return None


def _frame_bar(frame: FrameResult) -> ToneBar:
    """Envelope of all planes: brightest bright end, darkest dark end, deepest floor."""
    bars = [channel_bar(channel) for channel in frame.channels]
    medians = [bar.median_stops for bar in bars if bar.median_stops is not None]
    return ToneBar(
        floor_stops=max((b.floor_stops for b in bars if b.floor_stops is not None), default=None),
        dark_stops=max((b.dark_stops for b in bars if b.dark_stops is not None), default=None),
        bright_stops=frame.headroom_stops,
        median_stops=sorted(medians)[len(medians) // 2] if medians else None,
        blown=frame.blown_fraction,
        blocked=frame.blocked_fraction,
    )


def _relatives(audit: Audit) -> dict[str, Relatives]:
    best_first = sorted(audit.siblings, key=lambda pair: not pair.best)
    pairs = [(pair.short, pair.long) for pair in best_first]
    pairs += [(grad.without, grad.with_) for grad in audit.grads]
    siblings: dict[str, list[str]] = defaultdict(list)
    for bare, behind in pairs:
        siblings[bare].append(behind)
        siblings[behind].append(bare)
    brackets = {frame: bracket.frames for bracket in audit.brackets for frame in bracket.frames}
    filtered = {behind for _, behind in pairs}
    return {
        frame: Relatives(
            siblings=tuple(dict.fromkeys(siblings.get(frame, ()))),
            bracket=brackets.get(frame, ()),
            filtered=frame in filtered,
        )
        for frame in siblings.keys() | brackets.keys()
    }
