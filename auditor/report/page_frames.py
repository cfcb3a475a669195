"""Frame sheets: one file of the card in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import UTC

from auditor.advise.outcomes import outcomes
from auditor.advise.suggestions import suggestions
from auditor.model.audit import Audit, FrameResult, Patch
from auditor.model.codes import FrameStatus, Verdict
from auditor.model.findings import Finding, FindingKind
from auditor.model.numbers import stops_text
from auditor.report import words
from auditor.report.frame_names import short_names, with_short_names
from auditor.report.page_channels import channel_bar, channel_sheet
from auditor.report.page_optics import optics_facts, print_sheet
from auditor.report.page_records import (
    Fact,
    FindingLine,
    FrameSheet,
    LossRing,
    Relatives,
    SuggestionLine,
    ToneBar,
)
from auditor.report.page_skies import sky_fact
from auditor.words.optics import shading_error_text, shading_text
from auditor.words.page import suggestion_text


def frame_sheets(audit: Audit, kinds: Mapping[str, FindingKind]) -> tuple[FrameSheet, ...]:
    """Word all frames, in order of time; those without a clock come last, by name."""
    setups = {
        frame: number for number, setup in enumerate(audit.setups, 1) for frame in setup.frames
    }
    extras = _Extras(audit)
    keepers = {keeper.frame for keeper in audit.keepers}
    names = short_names(audit.frames)
    sheets = [
        _sheet(
            frame,
            kinds,
            names,
            setup=next((setups[f] for f in (frame.id, *frame.also_at) if f in setups), None),
            roles=tuple(extras.roles.get(frame.id, ())),
            is_keeper=frame.id in keepers,
            more=tuple(extras.facts(frame.id)),
            outcome=extras.outcomes[frame.id].value,
            relatives=extras.relatives.get(frame.id, Relatives()),
            suggestion=extras.suggestion(frame.id, names),
        )
        for frame in audit.frames
    ]
    return tuple(sorted(sheets, key=lambda sheet: (sheet.taken_s is None, sheet.taken_s or 0.0)))


class _Extras:
    """What other records tell of single frames."""

    def __init__(self, audit: Audit) -> None:
        self.roles = _roles(audit)
        self.skies = {sky.frame: sky for sky in audit.skies}
        self.graded = {grad.with_ for grad in audit.grads}
        self.prints = {fit.frame: fit for fit in audit.prints}
        self.printing = audit.settings.print
        self.outcomes = outcomes(audit)
        self.suggestions = suggestions(audit)
        self.relatives = _relatives(audit)

    def suggestion(self, frame: str, names: Mapping[str, str]) -> SuggestionLine | None:
        """Word the suggested mark of one frame."""
        found = self.suggestions.get(frame)
        if found is None:
            return None
        why = words.plain(with_short_names(suggestion_text(found, names), names))
        return SuggestionLine(mark=found.mark.value, why=words.sentence(why))

    def facts(self, frame: str) -> Iterator[Fact]:
        """Yield the lines on sky and paper."""
        sky, fit = self.skies.get(frame), self.prints.get(frame)
        if sky is not None:
            yield sky_fact(sky, graded=frame in self.graded)
        if fit is not None:
            sheet = print_sheet(fit, self.printing)
            sizes = ", ".join(f"{size.text} at {size.label}" for size in sheet.sizes)
            yield Fact("On paper", sheet.sentence, sizes)


def _relatives(audit: Audit) -> dict[str, Relatives]:
    siblings: dict[str, list[str]] = defaultdict(list)
    for pair in sorted(audit.siblings, key=lambda pair: not pair.best):
        siblings[pair.short].append(pair.long)
        siblings[pair.long].append(pair.short)
    for grad in audit.grads:
        siblings[grad.without].append(grad.with_)
        siblings[grad.with_].append(grad.without)
    brackets = {frame: bracket.frames for bracket in audit.brackets for frame in bracket.frames}
    filtered = {pair.long for pair in audit.siblings} | {grad.with_ for grad in audit.grads}
    return {
        frame: Relatives(
            siblings=tuple(dict.fromkeys(siblings.get(frame, ()))),
            bracket=brackets.get(frame, ()),
            filtered=frame in filtered,
        )
        for frame in siblings.keys() | brackets.keys()
    }


def _roles(audit: Audit) -> dict[str, list[str]]:
    told: dict[str, list[str]] = {}
    parts = [
        *((pair.short, "short of a pair") for pair in audit.siblings if pair.best),
        *((pair.long, "long behind a filter") for pair in audit.siblings if pair.best),
        *((frame, "in a bracket") for bracket in audit.brackets for frame in bracket.frames),
        *((grad.without, "without the grad") for grad in audit.grads),
        *((grad.with_, "with the grad") for grad in audit.grads),
        *((frame, "in a panorama") for run in audit.panoramas for frame in run.frames),
        *((keeper.frame, "suggested") for keeper in audit.keepers),
    ]
    for frame, role in parts:
        if role not in told.setdefault(frame, []):
            told[frame].append(role)
    return told


def _sheet(
    frame: FrameResult,
    kinds: Mapping[str, FindingKind],
    names: Mapping[str, str],
    *,
    setup: int | None,
    roles: tuple[str, ...],
    is_keeper: bool,
    more: tuple[Fact, ...],
    outcome: str,
    relatives: Relatives,
    suggestion: SuggestionLine | None,
) -> FrameSheet:
    when = words.moment(frame.captured_at)
    aware = when if when is None or when.tzinfo else when.replace(tzinfo=UTC)
    return FrameSheet(
        id=frame.id,
        input=frame.input,
        file=frame.file,
        name=words.name(names[frame.id]),
        place=words.plain(frame.file),
        status=frame.status,
        verdict=frame.verdict,
        verdict_text=_verdict(frame),
        taken_text=words.clock(when),
        clock_key=when.strftime("%Y-%m-%dT%H:%M") if when else "",
        taken_s=aware.timestamp() if aware else None,
        camera=words.name(frame.camera.body),
        lens=words.lens_line(frame.lens),
        exposure_text=words.exposure_line(frame.exposure),
        time_s=frame.exposure.time_s,
        ev100=frame.exposure.ev100,
        bar=_frame_bar(frame),
        blown_text=words.share(frame.blown_fraction),
        blocked_text=words.share(frame.blocked_fraction),
        headroom_stops=frame.headroom_stops,
        spare_text=words.stops(frame.headroom_stops),
        range_stops=frame.tone_range_stops,
        range_text=words.stops(frame.tone_range_stops),
        verdict_line=_verdict_line(frame),
        facts=(*_facts(frame), *more),
        channels=tuple(channel_sheet(channel) for channel in frame.channels),
        findings=tuple(_finding(finding, kinds, names) for finding in frame.findings),
        setup=setup,
        roles=roles,
        is_keeper=is_keeper,
        error_text=_error(frame),
        notes=tuple(words.plain(note) for note in frame.notes),
        outcome=outcome,
        day_text=words.day(when) if when else "",
        relatives=relatives,
        suggestion=suggestion,
        loss=_loss(frame),
        preview_clips_stops=dict(frame.preview.early_by_channel_stops) if frame.preview else {},
    )


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


def _verdict(frame: FrameResult) -> str:
    if frame.verdict == Verdict.HELD and frame.blocked_fraction is None:
        return words.BRIGHT_END_ONLY
    return words.VERDICTS.get(frame.verdict, words.name(frame.verdict))


def _verdict_line(frame: FrameResult) -> str:
    verdict = _verdict(frame)
    if frame.status == FrameStatus.UNREADABLE:
        return _error(frame) or verdict
    if frame.verdict == Verdict.DARK_FRAME:
        return verdict
    said_by_figures = frame.verdict in (Verdict.BLOWN, Verdict.BLOCKED, Verdict.BOTH)
    parts = [
        "" if said_by_figures else verdict,
        f"{words.share(frame.blown_fraction)} blown" if frame.blown_fraction else "",
        f"{words.share(frame.blocked_fraction)} blocked" if frame.blocked_fraction else "",
        f"could take {words.stops(frame.headroom_stops)} more" if frame.headroom_stops else "",
    ]
    return ", ".join(part for part in parts if part) or verdict


def _error(frame: FrameResult) -> str:
    return words.plain(frame.error.message) if frame.error else ""


def _finding(
    finding: Finding, kinds: Mapping[str, FindingKind], names: Mapping[str, str]
) -> FindingLine:
    kind = kinds.get(finding.code)
    return FindingLine(
        code=words.name(finding.code),
        title=words.name(kind.title if kind else finding.code.replace("-", " ")),
        severity=finding.severity.value,
        severity_text=words.SEVERITIES[finding.severity],
        text=words.plain(with_short_names(finding.text, names)),
        next_time=words.plain(kind.next_time) if kind else "",
        caution=words.plain(kind.caution) if kind else "",
    )


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


def _facts(frame: FrameResult) -> list[Fact]:
    rows = [
        Fact("Camera", words.name(frame.camera.body)),
        Fact("Lens", words.lens_line(frame.lens), words.focal(frame.lens.focal_mm)),
        Fact("Exposure", words.exposure_line(frame.exposure), _ev(frame)),
        Fact("Picture", _size(frame), frame.layout or ""),
        Fact("Blown in any channel", words.share(frame.blown_fraction), _every(frame)),
        Fact("Largest blown patch", _patch(frame.largest_blown_area)),
        Fact("Blocked in every channel", words.share(frame.blocked_fraction)),
        Fact("Largest blocked patch", _patch(frame.largest_blocked_area)),
        Fact("Blown by thirds", *_thirds(frame.thirds.blown if frame.thirds else ())),
        Fact("Blocked by thirds", *_thirds(frame.thirds.blocked if frame.thirds else ())),
        Fact("Headroom", words.stops(frame.headroom_stops), "more light before a channel clips"),
        Fact("Range of tones", words.stops(frame.tone_range_stops)),
        Fact("Preview", _preview(frame)),
        Fact("Hot pixels", *_hot(frame)),
        Fact("Fine detail", "" if frame.sharpness is None else f"{frame.sharpness:.1f} × noise"),
        Fact(
            "Lens shading",
            shading_text(frame.lens_shading),
            shading_error_text(frame.lens_shading),
        ),
        *optics_facts(frame),
        Fact(
            "Sensor temperature",
            "" if frame.temperature_c is None else f"{frame.temperature_c:.0f} °C",
        ),
        Fact("Beside it", words.plain(", ".join(frame.companions))),
        Fact("Also at", words.plain(", ".join(frame.also_at))),
    ]
    return [row for row in rows if row.text not in ("", "–")]


def _ev(frame: FrameResult) -> str:
    ev100 = frame.exposure.ev100
    return "" if ev100 is None else f"EV {stops_text(ev100)} at ISO 100"


def _every(frame: FrameResult) -> str:
    if not frame.blown_all_fraction:
        return ""
    return f"in every channel {words.share(frame.blown_all_fraction)}"


def _size(frame: FrameResult) -> str:
    size = frame.size
    return f"{size.width} × {size.height}, {size.bit_depth} bit" if size else ""


def _patch(patch: Patch | None) -> str:
    return f"{words.share(patch.share)} {words.plain(patch.where)}".strip() if patch else ""


def _thirds(shares: tuple[float | None, ...]) -> tuple[str, str]:
    if not any(shares):
        return "", ""
    named = zip(("upper", "middle", "lower"), shares, strict=False)
    return ", ".join(f"{where} {words.share(part)}" for where, part in named), "of each third"


def _preview(frame: FrameResult) -> str:
    preview = frame.preview
    if preview is None:
        return ""
    return words.plain(preview.text) or f"shows {words.share(preview.blown_fraction)} blown"


def _hot(frame: FrameResult) -> tuple[str, str]:
    hot = frame.hot_pixels
    if hot is None:
        return "", ""
    lasting = f"{hot.lasting} of them stay from view to view" if hot.lasting else ""
    return f"{hot.count} ({hot.per_megapixel:.1f} per megapixel)", lasting
