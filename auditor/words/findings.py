"""One sentence for each finding, from its code and its figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from auditor.light.graduated import grad_name, left_brighter
from auditor.light.nominal import nominal_name
from auditor.model.audit import FrameResult
from auditor.model.codes import BlackSource, Damage
from auditor.model.facts import DifferingCopy
from auditor.model.findings import Figures, Finding, FindingCode
from auditor.model.numbers import (
    counted_stops,
    pixel_error_text,
    pixels_text,
    share_text,
    time_text,
)
from auditor.model.remark import RemarkCode, remark
from auditor.words.notes import DAMAGE_SENTENCES, copies_differ
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
    said = _Said(finding)
    for say in (
        _of_highlights, _of_shadows, _of_levels, _of_previews, _of_files, _of_sets, _of_pairs
    ):  # fmt: skip
        if text := say(said):
            return replace(finding, text=text)
    return finding


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
        self.code = finding.code
        self.figures = finding.figures
        self.value = finding.value or 0.0
        self.limit = finding.limit or 0.0
        self.colour = colour_name(finding.channel)
        self.channel = finding.channel


def _of_highlights(f: _Said) -> str:
    match f.code:
        case FindingCode.BLOWN_AREA:
            everywhere = f.number("blown_all")
            every = f"All channels are lost in {share_text(everywhere)}."
            sun = " So small a patch may be the sun or its reflection: then let it go."
            return (
                f"{share_text(f.number('blown'))} of the frame is blown, most of it in "
                f"{f.colour}; the largest patch covers {share_text(f.value)} {f.name('where')}. "
                f"{every if everywhere else 'No place is lost in all channels.'}"
                f"{sun if f.has('may_be_sun') else ''}"
            )
        case FindingCode.BLOWN_CHANNEL:
            others, text = f.number("others"), share_text(f.number("others"))
            rest = text.replace("<", "under") if text.startswith("<") else f"at most {text}"
            return (
                f"{f.colour.capitalize()} is blown in {share_text(f.value)} of its pixels, the "
                f"other colours in {rest if others else 'no pixel'}."
            )
        case FindingCode.BLOWN_POINTS:
            many = "very many " if f.has("many") else ""
            return f"{share_text(f.value)} of the frame is blown, in {many}scattered points."
        case FindingCode.MAY_BE_CLIPPED:
            apart = (
                "Some pixels, rows, columns or parts clip elsewhere than the rest, or were changed "
                "after they clipped: more or less may be blown than is counted."
            )
            coarse = (
                f"The brightest values of {f.colour} are packed so coarsely that more or less may "
                "be blown than is counted."
            )
            claimed = (
                f"Many pixels of {f.colour} lie at the top of all that was recorded. Whether they "
                f"are clipped is not known: the file claims {f.number('claimed_dn'):.0f} DN, and "
                "nothing confirms it."
            )
            differ = (
                "Frames of this camera clip at more than one level at this ISO: which of them "
                "this frame does is not known."
            )
            crowded = (
                f"Values of {f.colour} crowd just under the level given, as where a response bends "
                "over before it clips, or where pixels were smoothed or averaged after they "
                "clipped: more or less may be blown than is counted."
            )
            filled = (
                "Light ends at one level and nothing piles up there, as where a camera filled in "
                "what clipped: more may be blown than is counted."
            )
            said = {
                "apart": apart,
                "coarse": coarse,
                "crowded": crowded,
                "filled": filled,
                "differ": differ,
            }
            return next((said[name] for name in said if f.has(name)), claimed)
        case FindingCode.HEADROOM_LEFT:
            return f"Could take {counted_stops(f.value)} more; {f.colour} clips first."
    return ""


def _of_shadows(f: _Said) -> str:
    match f.code:
        case FindingCode.BLOCKED_AREA:
            where = f", the largest patch {f.name('where')}" if f.has("where") else ""
            room = f.number("headroom_stops")
            left = f" The highlights had {counted_stops(room)} of headroom." if room else ""
            return f"{share_text(f.value)} of the frame is under the noise floor{where}.{left}"
        case FindingCode.RANGE_TOO_LONG:
            blown, blocked = share_text(f.number("blown")), share_text(f.number("blocked"))
            return f"{blown} blown and {blocked} blocked in one frame."
        case FindingCode.DARK_FRAME:
            share = share_text(f.value)
            # the limit tells which of the two was asked: most of the frame, or of each channel
            dark = f"{share} of the frame is under the noise floor"
            if f.limit <= 0.5:
                dark = f"In every channel {share} or more of the pixels lie at or under black"
            return f"{dark}: next to no light came in."
        case FindingCode.NOISE_UNKNOWN:
            names = dict.fromkeys(map(colour_name, f.names("channels")))
            return f"No noise floor for {', '.join(names)}."
        case FindingCode.HOT_PIXELS:
            after = f" after {time_text(f.number('time_s'))}" if f.has("time_s") else ""
            return f"{f.value:.0f} hot pixels per megapixel{after}."
    return ""


def _of_levels(f: _Said) -> str:
    colour = f.colour.capitalize()
    match f.code:
        case FindingCode.LINEAR_LIMIT:
            return (
                f"{colour} ends {counted_stops(f.value)} under clipping; the file promises "
                f"linearity only to {counted_stops(f.limit)} under it."
            )
        case FindingCode.WHITE_LEVEL_TAG:
            found = "clips at" if f.has("clips") else "records up to"
            side = "below" if f.value > 0 else "above"
            return (
                f"{colour} {found} {f.number('saturation_dn'):.0f} DN, "
                f"{counted_stops(abs(f.value), digits=2)} {side} the {f.number('tag_dn'):.0f} "
                "that the file claims. Said once for each body."
            )
        case FindingCode.BLACK_DISAGREES:
            dark = f.name("source") == BlackSource.DARK_FRAMES
            place = "in the dark frames of the shoot" if dark else "on the masked border"
            return (
                f"Black of {f.channel} is {f.number('border_dn'):.1f} DN {place}, "
                f"{f.number('tag_dn'):.1f} in the file."
            )
        case FindingCode.ISO_COSTS:
            iso, lost = f"ISO {f.number('iso'):.0f}", counted_stops(f.value, digits=2)
            return (
                f"Both ends lost at {iso}, where this body's range is {lost} less than at its "
                "best ISO."
                if f.name("of") == "range"
                else f"{iso} of this body clips {lost} earlier than the next lower full stop would."
            )
    return ""


def _of_previews(f: _Said) -> str:
    shows, blown = share_text(f.number("preview_blown")), share_text(f.number("blown"))
    if f.code == FindingCode.PREVIEW_HIDES:
        return f"The raw data are blown in {share_text(f.value)}, the preview shows {shows}."
    if f.code != FindingCode.PREVIEW_EARLY:
        return ""
    # what of the figures is white balance: no light to be had
    own, earlier = f.number("own_stops"), f.number("first_stops") - f.value
    balance, text = f.number("balance_stops"), ""
    if own != f.value:
        text = (
            f": {f.colour} clips {counted_stops(own)} early, of which "
            f"{counted_stops(own - f.value)} is white balance"
        )
    elif earlier >= 0.1:
        because = f", {counted_stops(balance)} of it by white balance" if balance >= 0.05 else ""
        if abs(earlier - balance) < ALL_OF_IT_STOPS:
            because = ", which is white balance"
        first = colour_name(f.name("first"))
        text = f"; {first} clips {counted_stops(earlier)} earlier still{because}"
    return (
        f"The preview clips {counted_stops(f.value)} before the raw data{text}. It shows {shows} "
        f"blown, the raw data hold {blown}."
    )


def _of_files(f: _Said) -> str:
    match f.code:
        case FindingCode.DAMAGED_DATA | FindingCode.MAY_BE_DAMAGED:
            sure = f.code == FindingCode.DAMAGED_DATA
            doubt = "" if sure else "May be damaged: compare with the second copy. "
            told = DAMAGE_SENTENCES[Damage(f.name("sign"))](f)
            return f"{doubt}{told} ({share_text(f.value)} of the frame)"
        case FindingCode.EXPOSURE_UNKNOWN:
            return f"The file does not hold its {', '.join(f.names('absent'))}."
        case FindingCode.COPY_ELSEWHERE:
            return f"Also found at {', '.join(f.names('places'))}."
        case FindingCode.COPIES_DIFFER:
            whole = {"whole": True, "damaged": False}
            own, *others = (
                DifferingCopy(name, int(card), whole.get(state))
                for name, card, state in zip(
                    *map(f.names, ("copies", "cards", "state")), strict=True
                )
            )
            return copies_differ(own, others)
    return ""


def _of_sets(f: _Said) -> str:
    """Say what is found of a bracket, a panorama or a set-up."""
    match f.code:
        case FindingCode.BRACKET_GAP:
            where = {
                (True, True): "at both ends", (True, False): "at the bright end",
                (False, True): "at the dark end",
                (False, False): "where no single frame holds both ends",
            }[f.has("bright"), f.has("dark")]  # fmt: skip
            return (
                f"The bracket of {f.number('frames'):.0f} leaves {share_text(f.value)} of the "
                f"scene unrecorded, {where}."
            )
        case FindingCode.BRACKET_LONGER:
            needed = f.names("needed")
            names = ", ".join(needed)
            return f"{len(needed)} of {f.number('frames'):.0f} frames are enough: {names}."
        case FindingCode.PANORAMA_UNEVEN:
            return " ".join(_panorama(f))
        case FindingCode.TRIPOD_MOVED:
            error_px = f.number("error_px") if f.has("error_px") else None
            right, down = (_px(f.number(way), error_px) for way in ("right_px", "down_px"))
            error = "" if error_px is None else f" (± {pixel_error_text(error_px)} px)"
            return f"Shifted by {right} across and {down} down{error} against the frame before."
        case FindingCode.SKY_BRIGHTER:
            strength, at_least = f.number("strength_stops"), f.has("at_least")
            over = f"{'at least ' if at_least else ''}{counted_stops(f.value)}"
            left = f"would have left it {left_brighter(f.value, strength)}"
            held = "or a stronger one would have held it" if at_least else left
            return (
                f"The sky is {over} brighter than the foreground; a {grad_name(strength)} {held}."
            )
    return ""


def _panorama(f: _Said) -> Iterator[str]:
    if f.value >= f.limit and not f.has(RemarkCode.EXPOSURE_CHANGED):
        frames = f"{f.number('frames'):.0f} frames"
        yield f"Exposure differs by {counted_stops(f.value)} over {frames}."
    if f.has(RemarkCode.EXPOSURE_CHANGED):
        yield sentence(remark(RemarkCode.EXPOSURE_CHANGED, stops=f.value))
    if f.has(RemarkCode.WHITE_BALANCE_CHANGED):
        yield sentence(remark(RemarkCode.WHITE_BALANCE_CHANGED))
    for frame, share in zip(f.names(RemarkCode.FRAME_BLOWN), f.names("shares"), strict=True):
        yield sentence(remark(RemarkCode.FRAME_BLOWN, frame=frame, share=float(share)))
    if f.has(RemarkCode.LITTLE_OVERLAP):
        overlap = f.number(RemarkCode.LITTLE_OVERLAP)
        yield sentence(remark(RemarkCode.LITTLE_OVERLAP, share=overlap))


def _px(shift: float, error_px: float | None) -> str:
    """Print a signed shift with a true minus sign: ``+24 px``, ``−3.2 px``, ``0 px``."""
    told = pixels_text(abs(shift), error_px)
    sign = "" if float(told) == 0.0 else "−" if shift < 0 else "+"
    return f"{sign}{told} px"


def _of_pairs(f: _Said) -> str:
    off, more = abs(f.value), "more" if f.value > 0 else "less"
    match f.code:
        case FindingCode.PLACEMENT_OFF:
            matching = (
                f"{nominal_name(f.number('matched_time_s'))} would have matched"
                if f.has("matched_time_s")
                else "no shutter time would have matched, because the light fell too fast: use a "
                "weaker filter, open the aperture or raise the ISO"
            )
            side = "brighter" if f.value > 0 else "darker"
            return f"{counted_stops(off)} {side} than {f.name('short')}; {matching}."
        case FindingCode.FILTER_OFF_MARKING:
            marking = f.name("marking") or counted_stops(abs(f.number("marking_stops")))
            return (
                f"The filter measures {counted_stops(abs(f.number('filter_stops')))}: {off:.2f} "
                f"{more} than the nearest marking, {marking}."
            )
        case FindingCode.FILTER_CAST:
            return (
                f"The filter takes {counted_stops(off, digits=2)} {more} of {f.colour} than of "
                f"green: a {f.name('cast')} cast."
            )
        case FindingCode.LIGHT_CHANGED:
            long_first, short = f.has("long_first"), f.name("short")
            verb = "rose" if (f.value > 0) != long_first else "fell"
            ends = f"this frame to {short}" if long_first else f"{short} to this frame"
            return f"The light {verb} by {counted_stops(off)} from {ends}."
    return ""
