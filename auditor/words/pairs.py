"""What is said of filters and brackets: doubts, what makes a frame match, which frames to blend."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import product
from statistics import median

from auditor.group.setups import least_moved_px
from auditor.model.advice import PairMatch
from auditor.model.audit import Bracket
from auditor.model.numbers import (
    counted_stops,
    pixel_error_text,
    pixels_text,
    share_text,
    stops_text,
)
from auditor.model.remark import Doubt, PairDoubt


def doubt_sentence(doubt: PairDoubt) -> str:
    """Say what a pair's figure may be off by, and why."""
    if doubt.code is Doubt.SHORT_FILTERED and doubt.value == 0.0:  # no clear sky to compare with
        return (
            "The short frame may have had a filter too: it stood open for a second or more, and "
            "nothing tells how bright the scene was. The figure is the difference of the two."
        )
    return _SENTENCES[doubt.code](counted_stops(abs(doubt.value), digits=2))


_SENTENCES: dict[Doubt, Callable[[str], str]] = {
    Doubt.SKY_HELD_MORE: lambda stops: (
        f"The sky lost {stops} more light than what is below the horizon, which alone was used: a "
        "graduated filter whose edge is not seen, or clouds."
    ),
    Doubt.SKY_HELD_LESS: lambda stops: (
        f"The sky lost {stops} less light than what is below the horizon: it grew brighter, as "
        "where the sun came out behind it, or the sun left the ground."
    ),
    Doubt.SKY_ALONE: lambda _: (
        "Only the sky is well recorded by both: a graduated filter over it would be in the figure."
    ),
    Doubt.WATER: lambda _: (
        "Too little is static: the light of moving water was summed, row by row."
    ),
    Doubt.CORNERS: lambda stops: (
        f"The corners lost {stops} more light than the centre; the figure is for the centre."
    ),
    Doubt.SCATTERED: lambda stops: (
        f"Scattered light lifts the middle tones by {stops}, dark ones by more: flare in the "
        "filter, a leak of light, or fog. It was taken out."
    ),
    Doubt.NO_APERTURE: lambda _: (
        "The files do not tell the aperture: it is taken to be the same in both."
    ),
    Doubt.UNEVEN: lambda stops: (
        f"Parts of the picture disagree by {stops}: the sun may have gone in, or clouds moved."
    ),
    Doubt.ONE_SIDE: lambda stops: (
        "Unfiltered frames on one side only: a change of the light meanwhile would be in the "
        f"figure, and in the cast light that reddened, perhaps by {stops}. Take one more without "
        "the filter afterwards."
    ),
    Doubt.COLOURS_UNEVEN: lambda stops: (
        f"The colours lost light too unevenly over the picture, by {stops}, to tell a cast."
    ),
    Doubt.BY_TONE: lambda stops: (
        f"Bright and dark ground side by side lost light unlike, by {stops}: the sun may have gone "
        "in or come out between the two. No cast is given."
    ),
    Doubt.GRAD_SHORT_ONLY: lambda _: (
        "Only the short frame seems to have a graduated filter: one upside down before the long "
        "frame would look the same."
    ),
    Doubt.LIGHT_JUMPS: lambda _: (
        "The light jumped between other frames of the shoot, as under broken clouds: it may have "
        "jumped here too."
    ),
    Doubt.LIKE_ANOTHER: lambda stops: (
        f"Another pair, or a known filter, has the same cast but for the light and lies {stops} "
        "apart: it may be the same filter in other light."
    ),
    Doubt.DAYLIGHT_CAST: lambda stops: (
        f"Its cast, blue by {stops}, is that of daylight as the sun goes in or comes out: the "
        "light may have changed for the one frame."
    ),
    Doubt.FAST_SHUTTER: lambda stops: (
        f"So fast a shutter may be off its time by {stops}, which would be in the figure."
    ),
    Doubt.EXPOSURES_SCATTER: lambda stops: (
        f"Unfiltered frames of one setting scatter by {stops}: an aperture or a shutter that "
        "flickers is in the figure too."
    ),
    Doubt.WEAK: lambda _: (
        "So weak a filter, and no frame after it without one: it may have been a cloud."
    ),
    Doubt.CLOUD: lambda _: "A cloud that passed just then would look the same as so weak a filter.",
    Doubt.NO_WHOLE_STOPS: lambda stops: (
        f"It lies {stops} off the nearest whole stop, and filters are mostly made in whole stops: "
        "the sun may have gone in or come out between the two."
    ),
    Doubt.POLARISER: lambda stops: (
        f"The colours lost light unevenly over the picture, by {stops}: it may be a polariser."
    ),
    Doubt.SHORT_FILTERED: lambda stops: (
        f"The short frame may have had a filter too: its scene is {stops} darker than a clear sky "
        "makes it then. The figure is the difference of the two."
    ),
    Doubt.OTHER_APERTURE: lambda stops: (
        f"The two apertures lie {stops} apart: where the lens did not close or open by as much, "
        "the difference is in the figure."
    ),
    Doubt.COUNTED: lambda stops: (
        f"The time was counted by hand and is given in whole seconds: it may be off by {stops}."
    ),
    Doubt.EXTENDED_ISO: lambda stops: (
        f"The two ISOs lie {stops} apart and one is below 100: if it is pulled from another, as "
        "extended ISOs are, and no gain tells so, the figure is off by as much."
    ),
    Doubt.ODD_GRAD: lambda stops: (
        f"A graduated filter that lies {stops} off whole stops was taken out of it: light on the "
        "ground looks the same, and would be in the figure."
    ),
    Doubt.COLOURED_GRAD: lambda stops: (
        f"A graduated filter was taken out of it, but the colours changed there too, by {stops}: "
        "light on the ground looks the same, and would be in the figure."
    ),
}


def match_words(match: PairMatch) -> str:
    """Say what to set in a converter: "exposure −0.8 stop; white balance R 1.84, G 1, B 1.61"."""
    red, _, blue = match.white_balance_multipliers
    offset = counted_stops(match.exposure_offset_stops, signed=True)
    return f"exposure {offset}; white balance multipliers R {red:.2f}, G 1, B {blue:.2f}"


def density_words(density_map: Sequence[Sequence[float | None]]) -> str:
    """Say what a filter measures over the picture; empty where no place tells it.

    Returns
    -------
    str
        "6.2 stops in the middle, 5.9 in the corners; nine tenths of the picture from 5.8 to 6.3."
        The middle is the inner half of the width and height, a corner the outer quarter of both.
    """
    rows, columns = len(density_map), len(density_map[0]) if density_map else 0
    places: dict[str, list[float]] = {"in the middle": [], "in the corners": []}
    known: list[float] = []
    for row, column in product(range(rows), range(columns)):
        value = density_map[row][column]
        if value is None:
            continue
        known.append(value)
        outer = {abs((row + 0.5) / rows - 0.5) > 0.25, abs((column + 0.5) / columns - 0.5) > 0.25}
        if len(outer) == 1:
            places["in the corners" if outer == {True} else "in the middle"].append(value)
    if not known:
        return ""
    told = [f"{stops_text(median(found))} {where}" for where, found in places.items() if found]
    told[:1] = [part.replace(" in", " stops in", 1) for part in told[:1]]
    known.sort()
    low, high = (known[round(share * (len(known) - 1))] for share in (0.05, 0.95))
    spread = f"nine tenths of the picture from {stops_text(low)} to {stops_text(high)}"
    if stops_text(low) == stops_text(high):
        spread = f"nine tenths of the picture at {stops_text(low)}"
    return f"{', '.join(told)}; {spread}." if told else f"{spread.capitalize()} stops."


def blend_text(bracket: Bracket, clean_snr: float) -> str:
    """Say which frames to blend, each for what, and what stays noisy.

    Returns
    -------
    str
        "To blend: A for the brightest 1.2 %, B for the rest. Then 0.4 % lies under a ratio of 10."
        Empty where noise was not measured.
    """
    if not bracket.blend:
        return ""
    first, *others = bracket.blend
    noisy = bracket.noisy_fraction or 0.0
    left = f"{share_text(noisy)} of the scene stays under a signal-to-noise ratio of {clean_snr:g}"
    if not others:
        clean = f"; {left}" if noisy else f": it is clean at a ratio of {clean_snr:g}"
        return f"No blend is needed: {first.frame} alone records as much{clean}."
    parts = [f"{first.frame} for the brightest {share_text(first.share)}"]
    parts += [f"{one.frame} for the next {share_text(one.share)}" for one in others[:-1]]
    parts.append(f"{others[-1].frame} for the rest")
    align = ""
    told = (one for one in bracket.blend if one.shift_px is not None)
    farthest = max(((one.shift_px or 0.0, one.shift_error_px or 0.0) for one in told), default=None)
    if farthest is not None and farthest[0] >= least_moved_px(farthest[1]):
        shift, error = pixels_text(*farthest), pixel_error_text(farthest[1])
        align = f" Align them: they lie {shift} ± {error} px apart."
    after = f" Then {left}." if noisy else f" Then all is clean at a ratio of {clean_snr:g}."
    return f"To blend: {', '.join(parts)}.{after}{align}"
