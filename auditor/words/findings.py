"""One sentence for each finding, from its code and its figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from auditor.light.graduated import grad_name, left_brighter
from auditor.light.nominal import nominal_name
from auditor.model.audit import FrameResult
from auditor.model.codes import BlackSource, Damage
from auditor.model.facts import DifferingCopy
from auditor.model.findings import Figures, Finding, FindingCode
from auditor.model.numbers import counted_stops, share_text, time_text
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.words.copies import copies_differ
from auditor.words.notes import DAMAGE_SENTENCES
from auditor.words.optics import optics_reasons
from auditor.words.remarks import sentence, sentences

COLOURS = {"R": "red", "G": "green", "B": "blue", "L": "the only channel"}

ALL_OF_IT_STOPS = 0.15
"""A difference that white balance explains up to this much is white balance alone."""


def colour_name(channel: str | None) -> str:
    """Name a channel as it is spoken of: "green" for both greens."""
    return COLOURS.get((channel or "")[:1], channel or "")


def with_words(finding: Finding) -> Finding:
    """Put its sentence to a finding; one that brings its own, as an extension may, keeps it."""
    say = SENTENCES.get(finding.code)
    return finding if say is None else replace(finding, text=say(_Said(finding)))


def with_sentences(result: FrameResult) -> FrameResult:
    """Put their sentences to all findings of a frame and to all that is worth knowing of it."""
    optics = result.optics and replace(result.optics, reasons=optics_reasons(result))
    preview = result.preview
    return replace(
        result,
        findings=tuple(map(with_words, result.findings)),
        optics=optics,
        notes=sentences(result.remarks),
        channels=tuple(replace(one, notes=sentences(one.remarks)) for one in result.channels),
        preview=preview and replace(preview, text=" ".join(sentences(preview.remarks))),
    )


class _Said(Figures):
    """The figures of a finding, each asked for by its name and kind."""

    def __init__(self, finding: Finding) -> None:
        self.figures = finding.figures
        self.value = finding.value or 0.0
        self.limit = finding.limit or 0.0
        self.colour = colour_name(finding.channel)
        self.channel = finding.channel

    def stops(self, name: str) -> str:
        """Return a number of stops, its size only."""
        return counted_stops(abs(self.number(name)))


def _blown_area(f: _Said) -> str:
    everywhere = f.number("blown_all")
    every = f"All channels are lost in {share_text(everywhere)}."
    sun = " So small a patch may be the sun or its reflection: then let it go."
    return (
        f"{share_text(f.number('blown'))} of the frame is blown, most of it in {f.colour}; the "
        f"largest patch covers {share_text(f.value)} {f.name('where')}. "
        f"{every if everywhere else 'No place is lost in all channels.'}"
        f"{sun if f.has('may_be_sun') else ''}"
    )


def _blown_channel(f: _Said) -> str:
    others, text = f.number("others"), share_text(f.number("others"))
    rest = text.replace("<", "under") if text.startswith("<") else f"at most {text}"
    return (
        f"{f.colour.capitalize()} is blown in {share_text(f.value)} of its pixels, the other "
        f"colours in {rest if others else 'no pixel'}."
    )


def _blown_points(f: _Said) -> str:
    many = "very many " if f.has("many") else ""
    return f"{share_text(f.value)} of the frame is blown, in {many}scattered points."


def _may_be_clipped(f: _Said) -> str:
    return (
        f"Many pixels of {f.colour} lie at the top of all that was recorded. Whether they are "
        f"clipped is not known: the file claims {f.number('claimed_dn'):.0f} DN, and nothing "
        "confirms it."
    )


def _linear_limit(f: _Said) -> str:
    return (
        f"{f.colour.capitalize()} ends {counted_stops(f.value)} under clipping; the file promises "
        f"linearity only to {counted_stops(f.limit)} under it."
    )


def _white_level_tag(f: _Said) -> str:
    found = "clips at" if f.has("clips") else "records up to"
    side = "below" if f.value > 0 else "above"
    return (
        f"{f.colour.capitalize()} {found} {f.number('saturation_dn'):.0f} DN, "
        f"{counted_stops(abs(f.value), digits=2)} {side} the {f.number('tag_dn'):.0f} that the "
        "file claims. Told once for this body."
    )


def _blocked_area(f: _Said) -> str:
    where = f", the largest patch {f.name('where')}" if f.has("where") else ""
    room = f.number("headroom_stops")
    left = f" The highlights had {counted_stops(room)} of headroom." if room else ""
    return f"{share_text(f.value)} of the frame is under the noise floor{where}.{left}"


def _dark_frame(f: _Said) -> str:
    if f.limit > 0.5:
        return f"{share_text(f.value)} of the frame is under the noise floor: no light came in."
    return (
        f"In every channel {share_text(f.value)} or more of the pixels lie at or under black: no "
        "light came in."
    )


def _noise_unknown(f: _Said) -> str:
    names = dict.fromkeys(map(colour_name, f.names("channels")))
    return f"No noise floor for {', '.join(names)}."


def _range_too_long(f: _Said) -> str:
    blown, blocked = share_text(f.number("blown")), share_text(f.number("blocked"))
    return f"{blown} blown and {blocked} blocked in one frame."


def _black_disagrees(f: _Said) -> str:
    dark = f.name("source") == BlackSource.DARK_FRAMES
    place = "in the dark frames of the shoot" if dark else "on the masked border"
    return (
        f"Black of {f.channel} is {f.number('border_dn'):.1f} DN {place}, "
        f"{f.number('tag_dn'):.1f} in the file."
    )


def _preview_early(f: _Said) -> str:
    return (
        f"The preview clips {counted_stops(f.value)} before the raw data{_balance(f)}. It shows "
        f"{share_text(f.number('preview_blown'))} blown, the raw data hold "
        f"{share_text(f.number('blown'))}."
    )


def _balance(f: _Said) -> str:
    """Say what of the figures is white balance: no light to be had."""
    own, most = f.number("own_stops"), f.number("first_stops")
    if own != f.value:
        return (
            f", calculated from {f.colour}: {counted_stops(own)}, of which "
            f"{counted_stops(own - f.value)} is white balance"
        )
    earlier, balance = most - f.value, f.number("balance_stops")
    if earlier < 0.1:
        return ""
    because = f", {counted_stops(balance)} of it by white balance" if balance >= 0.05 else ""
    if abs(earlier - balance) < ALL_OF_IT_STOPS:
        because = ", which is white balance"
    first = colour_name(f.name("first"))
    return f"; {first} clips {counted_stops(earlier)} earlier still{because}"


def _preview_hides(f: _Said) -> str:
    return (
        f"The raw data are blown in {share_text(f.value)}, the preview shows "
        f"{share_text(f.number('preview_blown'))}."
    )


def _damaged_data(f: _Said) -> str:
    told = DAMAGE_SENTENCES[Damage(f.name("sign"))](f)
    return f"{told} ({share_text(f.value)} of the frame)"


def _hot_pixels(f: _Said) -> str:
    after = f" after {time_text(f.number('time_s'))}" if f.has("time_s") else ""
    return f"{f.value:.0f} hot pixels per megapixel{after}."


def _copies_differ(f: _Said) -> str:
    whole = {"whole": True, "damaged": False}
    own, *others = (
        DifferingCopy(name, int(card), whole.get(state))
        for name, card, state in zip(*map(f.names, ("copies", "cards", "state")), strict=True)
    )
    return copies_differ(own, others)


def _bracket_gap(f: _Said) -> str:
    bright, dark = f.has("bright"), f.has("dark")
    where = "at the bright end" if bright else "at the dark end"
    if bright and dark:
        where = "at both ends"
    if not bright and not dark:
        where = "where no single frame holds both ends"
    return (
        f"The bracket of {f.number('frames'):.0f} leaves {share_text(f.value)} of the scene "
        f"unrecorded, {where}."
    )


def _bracket_longer(f: _Said) -> str:
    needed = f.names("needed")
    return f"{len(needed)} of {f.number('frames'):.0f} frames are enough: {', '.join(needed)}."


def _panorama_uneven(f: _Said) -> str:
    told = [*map(sentence, _of_the_run(f))]
    if f.value >= f.limit:
        frames = f"{f.number('frames'):.0f} frames"
        told.insert(0, f"Exposure differs by {counted_stops(f.value)} over {frames}.")
    return " ".join(told)


def _of_the_run(f: _Said) -> Iterator[Remark]:
    if f.has(RemarkCode.EXPOSURE_CHANGED):
        yield remark(RemarkCode.EXPOSURE_CHANGED, stops=f.value)
    if f.has(RemarkCode.WHITE_BALANCE_CHANGED):
        yield remark(RemarkCode.WHITE_BALANCE_CHANGED)
    for frame, share in zip(f.names(RemarkCode.FRAME_BLOWN), f.names("shares"), strict=True):
        yield remark(RemarkCode.FRAME_BLOWN, frame=frame, share=float(share))
    if f.has(RemarkCode.LITTLE_OVERLAP):
        yield remark(RemarkCode.LITTLE_OVERLAP, share=f.number(RemarkCode.LITTLE_OVERLAP))


def _iso_costs(f: _Said) -> str:
    iso, lost = f"ISO {f.number('iso'):.0f}", counted_stops(f.value, digits=2)
    if f.name("of") == "range":
        return (
            f"Both ends lost at {iso}, where this body's range is {lost} less than at its best ISO."
        )
    return f"{iso} of this body clips {lost} earlier than the next lower full stop would."


def _sky_brighter(f: _Said) -> str:
    strength = f.number("strength_stops")
    grad = f"a {grad_name(strength)}"
    if f.has("at_least"):
        return (
            f"The sky is at least {counted_stops(f.value)} brighter than the foreground; {grad} "
            "or a stronger one would have held it."
        )
    return (
        f"The sky is {counted_stops(f.value)} brighter than the foreground; {grad} would have "
        f"left it {left_brighter(f.value, strength)}."
    )


def _tripod_moved(f: _Said) -> str:
    right, down = _px(f.number("right_px")), _px(f.number("down_px"))
    error = f" (± {f.number('error_px'):.0f} px)" if f.has("error_px") else ""
    return f"Shifted by {right} across and {down} down{error} against the frame before."


def _px(shift: float) -> str:
    """Print a signed shift with a true minus sign: ``+24 px``, ``−3 px``, ``0 px``."""
    whole = round(shift)
    sign = "−" if whole < 0 else "+" if whole > 0 else ""
    return f"{sign}{abs(whole)} px"


def _placement_off(f: _Said) -> str:
    side = "brighter" if f.value > 0 else "darker"
    matching = (
        f"{nominal_name(f.number('matched_time_s'))} would have matched"
        if f.has("matched_time_s")
        else "no shutter time would have matched, because the light fell too fast: use a weaker "
        "filter, open the aperture or raise the ISO"
    )
    return f"{counted_stops(abs(f.value))} {side} than {f.name('short')}; {matching}."


def _filter_off_marking(f: _Said) -> str:
    more = "more" if f.value > 0 else "less"
    marking = f.name("marking") or f.stops("marking_stops")
    return (
        f"The filter measures {f.stops('filter_stops')}: {abs(f.value):.2f} {more} than the "
        f"nearest marking, {marking}."
    )


def _filter_cast(f: _Said) -> str:
    more = "more" if f.value > 0 else "less"
    return (
        f"The filter takes {counted_stops(abs(f.value), digits=2)} {more} of {f.colour} than of "
        f"green: a {f.name('cast')} cast."
    )


def _light_changed(f: _Said) -> str:
    long_first = f.has("long_first")
    verb = "rose" if (f.value > 0) != long_first else "fell"
    short = f.name("short")
    ends = f"this frame to {short}" if long_first else f"{short} to this frame"
    return f"The light {verb} by {counted_stops(abs(f.value))} from {ends}."


SENTENCES: dict[str, Callable[[_Said], str]] = {
    FindingCode.DAMAGED_DATA: _damaged_data,
    FindingCode.MAY_BE_DAMAGED: lambda f: (
        f"May be damaged: compare with the second copy. {_damaged_data(f)}"
    ),
    FindingCode.BLOWN_AREA: _blown_area,
    FindingCode.BLOCKED_AREA: _blocked_area,
    FindingCode.RANGE_TOO_LONG: _range_too_long,
    FindingCode.BLOWN_CHANNEL: _blown_channel,
    FindingCode.PREVIEW_HIDES: _preview_hides,
    FindingCode.HEADROOM_LEFT: lambda f: (
        f"Could take {counted_stops(f.value)} more; {f.colour} clips first."
    ),
    FindingCode.PREVIEW_EARLY: _preview_early,
    FindingCode.BLOWN_POINTS: _blown_points,
    FindingCode.LINEAR_LIMIT: _linear_limit,
    FindingCode.MAY_BE_CLIPPED: _may_be_clipped,
    FindingCode.HOT_PIXELS: _hot_pixels,
    FindingCode.DARK_FRAME: _dark_frame,
    FindingCode.BLACK_DISAGREES: _black_disagrees,
    FindingCode.NOISE_UNKNOWN: _noise_unknown,
    FindingCode.EXPOSURE_UNKNOWN: lambda f: (
        f"The file does not hold its {', '.join(f.names('absent'))}."
    ),
    FindingCode.COPY_ELSEWHERE: lambda f: f"Also found at {', '.join(f.names('places'))}.",
    FindingCode.COPIES_DIFFER: _copies_differ,
    FindingCode.TRIPOD_MOVED: _tripod_moved,
    FindingCode.BRACKET_GAP: _bracket_gap,
    FindingCode.PANORAMA_UNEVEN: _panorama_uneven,
    FindingCode.PLACEMENT_OFF: _placement_off,
    FindingCode.FILTER_OFF_MARKING: _filter_off_marking,
    FindingCode.FILTER_CAST: _filter_cast,
    FindingCode.LIGHT_CHANGED: _light_changed,
    FindingCode.BRACKET_LONGER: _bracket_longer,
    FindingCode.SKY_BRIGHTER: _sky_brighter,
    FindingCode.WHITE_LEVEL_TAG: _white_level_tag,
    FindingCode.ISO_COSTS: _iso_costs,
}
