"""A sentence for each remark, from its code and its figures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from auditor.light.nominal import nominal_name
from auditor.model.grouping import Grouping
from auditor.model.numbers import (
    counted_stops,
    pixels_text,
    share_text,
    time_text,
    whole_share_text,
)
from auditor.model.remark import Remark, RemarkCode
from auditor.words.next_time import TOLD_STOPS, counted_time, settings_text
from auditor.words.notes import CHANNEL_SENTENCES, FRAME_SENTENCES, PREVIEW_SENTENCES
from auditor.words.pairs import doubt_sentence


def sentence(remark: Remark) -> str:
    """Say a remark."""
    return _SENTENCES[remark.code](remark)


def sentences(remarks: tuple[Remark, ...]) -> tuple[str, ...]:
    """Say remarks in their order."""
    return tuple(map(sentence, remarks))


def with_sentences(grouping: Grouping) -> Grouping:
    """Put their sentences to all that grouping found."""
    advised = {
        setup.id: replace(told, why=sentences(told.remarks), text=settings_text(told))
        for setup in grouping.setups
        if (told := setup.next_time) is not None
    }
    brackets = []
    for one in grouping.brackets:
        bright, dark = share_text(one.lost_bright_fraction), share_text(one.lost_dark_fraction)
        notes = []
        if one.lost_bright_fraction > 0:
            notes.append(f"{bright} of the scene is blown even in the darkest frame.")
        if one.lost_dark_fraction > 0:
            notes.append(f"{dark} of the scene is blocked even in the brightest frame.")
        brackets.append(replace(one, notes=tuple(notes)))
    return replace(
        grouping,
        setups=tuple(
            replace(setup, notes=sentences(setup.remarks), next_time=advised.get(setup.id))
            for setup in grouping.setups
        ),
        siblings=tuple(
            replace(one, reasons=(*sentences(one.remarks), *map(doubt_sentence, one.doubts)))
            for one in grouping.siblings
        ),
        brackets=tuple(brackets),
        grads=tuple(replace(one, notes=sentences(one.remarks)) for one in grouping.grads),
        skies=tuple(replace(one, notes=sentences(one.remarks)) for one in grouping.skies),
        panoramas=tuple(replace(one, notes=sentences(one.remarks)) for one in grouping.panoramas),
    )


def _stops(f: Remark, name: str = "stops", *, digits: int = 1) -> str:
    return counted_stops(abs(f.number(name)), digits=digits)


def _share(f: Remark) -> str:
    return share_text(f.number("share"))


def _frame(f: Remark) -> str:
    """Name a frame with its time: "F1 (1/4 s)"."""
    return f"{f.name('frame')} ({_time(f, 'time_s')})"


def _time(f: Remark, name: str) -> str:
    return time_text(f.number(name) if f.has(name) else None)


def _apart(f: Remark) -> str:
    opened = f"The shutter stood open for {f.name('long')} against {f.name('short')}"
    if f.has("apart_s"):
        return f"{opened}, the middles of the exposures {_time(f, 'apart_s')} apart."
    evenly = "; frames are taken to lie evenly apart" if f.has("evenly") else ""
    return f"{opened}; not every file tells its time, so how far apart is not known{evenly}."


def _light_moved(f: Remark) -> str:
    drift, first, second = f.number("drift_stops"), "short", "long"
    if f.has("long_first"):
        first, second = second, first
    changed = (
        "changed by less than 0.01 stop"
        if abs(drift) < 0.005
        else f"{'fell' if drift < 0 else 'rose'} by {_stops(f, 'drift_stops', digits=2)}"
    )
    return f"The light {changed} from the {first} frame to the {second} one"


def _pace(f: Remark, name: str) -> str:
    return f"{'falls' if f.number(name) < 0 else 'rises'} by {_stops(f, name, digits=2)} a minute"


def _long_behind(f: Remark) -> str:
    name = f.name("filter")
    runs = (
        f"Behind the {name} it takes {counted_time(f.number('time_s'))}."
        if f.has("time_s")
        else f"Behind the {name} no time will do: the light falls too fast."
    )
    if not f.has("other_s"):
        return f"{runs} Take a weaker filter."
    other = counted_time(f.number("other_s"))
    if f.has("f_number"):
        at = f"At f/{f.number('f_number'):g}, {other} will do"
        return f"{runs} {at}, at some cost in depth of field."
    return f"{runs} Take the {f.name('other')}: {other}."


_SENTENCES: dict[RemarkCode, Callable[[Remark], str]] = {
    **FRAME_SENTENCES,
    **CHANNEL_SENTENCES,
    **PREVIEW_SENTENCES,
    RemarkCode.OTHER_TAG: lambda f: (
        f"{f.name('frame')} bears another orientation tag, yet shows the same on the sensor."
    ),
    RemarkCode.CLOCK_SET: lambda f: f"The camera's clock was set before {f.name('frame')}.",
    RemarkCode.SHIFT_UNTOLD: lambda f: (
        f"{f.name('frame')} is too dark or too bright to tell whether the picture moved."
    ),
    RemarkCode.KNOCKED: lambda f: (
        f"The picture moved by about {pixels_text(f.number('moved_px'), f.number('error_px'))} px "
        f"before {f.name('frame')}."
    ),
    RemarkCode.TILES_AGREE: lambda f: (
        f"{f.number('count'):.0f} tiles ({_share(f)} of the frame) are recorded well by both, are "
        "static and agree within "
        f"{'less than 0.01' if (apart := f.number('spread_stops')) < 0.005 else f'{apart:.2f}'} "
        "stop."
    ),
    RemarkCode.LIGHT_UNTOLD: lambda _: (
        "No unfiltered frame tells how the light drifted: any drift is in the figure."
    ),
    RemarkCode.LIGHT_BY_PACE: lambda f: (
        f"{_light_moved(f)} at the pace of unfiltered frames near that time; that is taken out."
    ),
    RemarkCode.LIGHT_BETWEEN: lambda f: (
        f"{_light_moved(f)}, measured on {' and '.join(f.names('frames'))} before and after the "
        "long one; that is taken out."
    ),
    RemarkCode.APART: _apart,
    RemarkCode.PART_LOST: lambda f: (
        f"{_share(f)} of the {f.name('of')} frame is {f.name('lost')} and was left out."
    ),
    RemarkCode.MOVED: lambda f: (
        f"The picture moved by about {f.number('moved_px'):.0f} px between them and was aligned."
    ),
    RemarkCode.BELOW_GRAD: lambda _: (
        "One of them has a graduated filter: only what lies below its edge was compared."
    ),
    RemarkCode.FLOOR_UNKNOWN: lambda _: (
        "The noise floor is not known: only tones within ten stops of saturation were used."
    ),
    RemarkCode.NO_MATCH: lambda f: (
        f"No shutter time would have matched in light that {_pace(f, 'pace_stops_per_min')}: take "
        "a thinner filter, open the aperture or raise the ISO."
    ),
    RemarkCode.MATCH_ALLOWS: lambda f: (
        f"The matching shutter allows for light that {_pace(f, 'pace_stops_per_min')}; in "
        f"steady light it would be {nominal_name(f.number('steady_s'))}."
    ),
    RemarkCode.MORE_LIGHT: lambda f: (
        f"All of the picture got {_stops(f)} more light besides: the light had changed."
    ),
    RemarkCode.LESS_LIGHT: lambda f: (
        f"All of the picture got {_stops(f)} less light besides: another filter, or the light had "
        "changed."
    ),
    RemarkCode.SIDES_DIFFER: lambda f: (
        f"Left, middle and right differ by {_stops(f)}: clouds moved, or the filter stood aslant."
    ),
    RemarkCode.DENSEST_BELOW: lambda f: (
        f"It is densest below the top, {_stops(f)} there: a reverse graduated filter."
    ),
    RemarkCode.GRAD_BY_WATER: lambda _: (
        "Nothing static tells it, only moving water: in waves it may be off by a quarter of a "
        "stop, a soft one by more."
    ),
    RemarkCode.NO_LINE: lambda _: (
        "The columns of the picture do not agree on a straight line where the sky ends: rocks, "
        "trees or a ridge stand before it. No graduated filter is advised."
    ),
    RemarkCode.GROUND_BLOWN: lambda _: (
        "The foreground is blown too: how much brighter the sky is cannot be measured."
    ),
    RemarkCode.SKY_BLOWN: lambda _: (
        "The middle of the sky is blown: it is brighter by at least so much."
    ),
    RemarkCode.GROUND_UNLIT: lambda _: (
        "The foreground is under the noise floor: the sky is brighter by at least so much."
    ),
    RemarkCode.EXPOSURE_CHANGED: lambda f: (
        f"The exposure changed by {_stops(f)} inside the panorama: set it by hand."
    ),
    RemarkCode.WHITE_BALANCE_CHANGED: lambda _: (
        "The white balance changed inside the panorama: use one when developing."
    ),
    RemarkCode.FRAME_BLOWN: lambda f: f"{_share(f)} of {f.name('frame')} is blown.",
    RemarkCode.LITTLE_OVERLAP: lambda f: (
        f"Two frames share only {whole_share_text(f.number('share'))} of the picture: a third is "
        "safe."
    ),
    RemarkCode.HEADROOM_LIMITS: lambda f: (
        f"{_frame(f)} is the brightest of the panorama's {f.number('frames'):.0f} frames: it has "
        f"{_stops(f, 'headroom_stops')} of headroom."
        if f.has("panorama")
        else f"{_frame(f)} has {_stops(f, 'headroom_stops')} of headroom"
        f"{', the least of this set-up' if f.number('frames') > 1 else ''}."
    ),
    RemarkCode.GLINTS_CLIP: lambda f: (
        f"Only a small patch clips in {_frame(f)}: {_share(f)}. Let it go."
        if f.has("patch")
        else f"Only glints clip in {_frame(f)}: {_share(f)}. Let them go."
    ),
    RemarkCode.ALL_LOST: lambda f: (
        f"{'Every frame lost an area, least of them ' if f.number('frames') > 1 else ''}{_frame(f)}"
        f"{'' if f.number('frames') > 1 else ' lost an area'}: take a stop less, look at the raw "
        "data, and bracket."
    ),
    RemarkCode.RETAKEN: lambda f: f"{_frame(f)} was too long and was taken again at once.",
    RemarkCode.LOWER_ISO: lambda f: (
        f"ISO {f.number('iso'):.0f} instead of {f.number('before'):.0f} costs "
        + (
            "no time: the sensor reads both alike."
            if f.number("stops") < TOLD_STOPS
            else f"{_stops(f)} of time and gains as much light."
        )
    ),
    RemarkCode.HIGHER_ISO: lambda f: (
        f"ISO {f.number('iso'):.0f} keeps the time on the dial"
        + (
            f"; on Bulb, {counted_time(f.number('bulb_s'))} at ISO {f.number('before'):.0f} has "
            "less noise."
            if f.has("bulb_s")
            else "."
        )
    ),
    RemarkCode.WIDER: lambda f: (
        f"f/{f.number('f_number'):g} instead of f/{f.number('before'):g} keeps the time on the "
        "dial, at some cost in depth of field."
    ),
    RemarkCode.STILL_AIR: lambda f: (
        f"{nominal_name(f.number('time_s'))} instead of {_time(f, 'before_s')} needs still air; "
        f"in wind keep {_time(f, 'before_s')}."
    ),
    RemarkCode.STARS_TRAIL: lambda f: (
        f"From {f.number('points_s'):.0f} s on stars draw trails at {f.number('focal_mm'):.0f} mm "
        "(500 / focal length, common practice)."
    ),
    RemarkCode.DRIFT_ALLOWED: lambda f: (
        f"The light {_pace(f, 'drift_stops_per_min')}; the times behind filters allow for it."
    ),
    RemarkCode.LONG_BEHIND: _long_behind,
}
