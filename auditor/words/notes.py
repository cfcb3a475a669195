"""What is worth knowing of a frame, its channels, its noise and its preview, in sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from auditor.model.codes import Damage
from auditor.model.facts import DifferingCopy
from auditor.model.findings import Figures
from auditor.model.numbers import counted, counted_stops, share_text
from auditor.model.remark import Remark, RemarkCode


def _shown(f: Remark) -> str:
    return f"The preview shows {share_text(f.number('share'))} blown"


FRAME_SENTENCES: dict[RemarkCode, Callable[[Remark], str]] = {
    RemarkCode.RANGE_OPEN: lambda f: (
        f"The tone range is a lower bound: that of {', '.join(f.names('channels'))} is open."
    ),
    RemarkCode.ISO_OF_GAIN: lambda f: (
        f"The file names ISO {f.number('named'):g}, but the gain is that of ISO "
        f"{f.number('iso'):.0f}: exposures are calculated by the gain."
    ),
    RemarkCode.ISO_OF_BASELINE: lambda f: (
        f"The file names ISO {f.number('named'):g}, but by its baseline exposure the sensor was "
        f"read at ISO {f.number('iso'):.0f}: exposures are calculated by that."
    ),
    RemarkCode.NO_PREVIEW: lambda _: "The file holds no preview that can be read.",
    RemarkCode.PREVIEW_DAMAGED: lambda _: "The embedded preview is damaged and was left out.",
    RemarkCode.PREVIEW_UNKNOWN: lambda _: "The embedded preview is damaged or of an unknown kind.",
    RemarkCode.FROM_DECODER: lambda f: (
        f"Not in the metadata, from the decoder: {', '.join(f.names('facts'))}."
    ),
    RemarkCode.READ_BY_LIBRAW: lambda f: f"Read by LibRaw, for {f.name('reason')}.",
    RemarkCode.TAGS_UNFIT: lambda _: (
        "The tags describe no picture of this size; LibRaw's levels are used."
    ),
    RemarkCode.STACKED_LAYERS: lambda _: "The sensor's three stacked layers count as R, G and B.",
    RemarkCode.ODD_ASPECT: lambda f: (
        f"A pixel is {f.number('aspect'):.3g} times as wide as it is high: pictures are "
        "drawn in their true shape, sizes are given in pixels."
    ),
    RemarkCode.COLOUR_NAMED_TWICE: lambda _: (
        "The file's colour pattern names one colour twice: red and blue may be exchanged."
    ),
    RemarkCode.PROXY: lambda f: (
        f"A proxy, made smaller from {f.number('width'):.0f} × {f.number('height'):.0f} pixels: "
        "noise, hot pixels and small blown places that are measured are those of the smaller "
        "picture; a noise profile in the file may be the original's. Audit the original."
    ),
    RemarkCode.CURVE_STRAIGHTENED: lambda f: (
        "Lossy data on a curve, straightened as the file itself says: black lies at "
        f"{f.number('black_dn'):.0f} DN, the file's white level at {f.number('white_dn'):.0f} DN."
    ),
    RemarkCode.BLACK_MEAN_USED: lambda _: (
        "The black level varies within its pattern; its mean is used."
    ),
    RemarkCode.BLACK_LIST_UNFIT: lambda _: (
        "A black level list does not fit the active area and was left out."
    ),
    RemarkCode.BLACK_TAG_UNFIT: lambda _: (
        "The black level tag does not fit its pattern; the decoder's black level is used."
    ),
    RemarkCode.WHITE_TAG_LOW: lambda f: (
        f"The data reach far above the white level in the file ({f.number('claimed_dn'):g} DN); "
        f"the decoder's white level ({f.number('decoder_dn'):g} DN) is used."
    ),
    RemarkCode.MASKED_INSIDE: lambda _: "A masked area reaches into the picture and was left out.",
    RemarkCode.MASKED_OUTSIDE: lambda _: "A masked area lies outside the picture and was left out.",
    RemarkCode.MARGIN_UNUSED: lambda f: (
        f"The {f.name('margin')} margin does not behave like masked pixels; unused."
    ),
}
CHANNEL_SENTENCES: dict[RemarkCode, Callable[[Remark], str]] = {
    RemarkCode.BORDER_FAR_OFF: lambda f: (
        f"The masked border lies {f.number('offset_dn'):+.0f} DN off the black level in the file: "
        "too far to be black; the file's level was used."
    ),
    RemarkCode.CLAIM_PASSED: lambda f: (
        f"The data reach {f.number('top_dn'):.0f} DN although the file claims "
        f"{f.number('claimed_dn'):.0f}: the level is at least that, where it clips is not known."
    ),
    RemarkCode.LEVEL_OF_OTHERS: lambda _: (
        "Too little clips in this channel to tell where: the level is the other channels'."
    ),
    RemarkCode.MAY_BE_CLIPPED: lambda _: (
        "Many pixels lie at the top of what this sensor records, and its level is only "
        "claimed: they may be clipped, so nothing is said of headroom."
    ),
    RemarkCode.CLIPS_APART: lambda _: (
        "Some pixels, rows, columns or parts do not clip at the level given here, which is that of "
        "others, or were changed after they clipped: more or less may be blown than is counted."
    ),
    RemarkCode.CROWDED_TOP: lambda _: (
        "Values crowd just under the level given here, as where a response bends over before it "
        "clips, or where pixels were smoothed or averaged after they clipped: more or less may be "
        "blown than is counted."
    ),
    RemarkCode.FILLED_IN: lambda _: (
        "Light ends at one level and nothing piles up there, as where a camera filled in what "
        "clipped from its surroundings: more may be blown than is counted."
    ),
    RemarkCode.LEVELS_DIFFER: lambda f: (
        f"Frames of this camera clip at {f.number('low_dn'):.0f} and at "
        f"{f.number('high_dn'):.0f} DN at this ISO: which of them this frame does is not known."
    ),
    RemarkCode.COARSE_TOP: lambda f: (
        f"At the level given here the values of this file lie {f.number('step_dn'):.0f} DN apart, "
        f"and one of them holds {share_text(f.number('share'))} of the channel: as much more or "
        "less may be blown than is counted."
    ),
    RemarkCode.BENDS: lambda f: (
        f"From {f.number('from_dn'):.0f} DN on the response of this sensor bends over before it "
        "clips, and the bright end lies there: how much more light it could take is not known."
    ),
    RemarkCode.UPPER_BOUND: lambda _: (
        "Blown with one stop less is an upper bound: clipped pixels hide their height."
    ),
    RemarkCode.NO_FLOOR: lambda _: "The noise floor is not measured.",
    RemarkCode.DARK_END_OPEN: lambda _: (
        "The dark end cannot be distinguished from black: its distance to the floor is open."
    ),
    RemarkCode.MEDIAN_OPEN: lambda _: (
        "Half of the plane cannot be distinguished from black: its median in stops is open."
    ),
    RemarkCode.TOO_SMALL: lambda _: "The picture is too small to tell noise from tone.",
    RemarkCode.COARSE_CODES: lambda _: "The values are packed too coarsely for the noise to show.",
    RemarkCode.COARSE_DARK: lambda _: (
        "The values at the dark end are packed too coarsely for the read noise to show."
    ),
    RemarkCode.LINES_TAKE_TURNS: lambda _: (
        "Rows or columns that take turns were exposed or amplified differently."
    ),
    RemarkCode.PIXELS_APART: lambda _: (
        "Some pixels, at the same places again and again, are brighter or darker than those beside "
        "them: noise cannot be distinguished from such a pattern of the sensor, of its packing or "
        "of the scene."
    ),
    RemarkCode.CORNERS_BRIGHTENED: lambda f: (
        f"At one level the corners have {1.0 + f.number('growth'):.1f} times the variance of the "
        "centre: the camera brightened them in the raw data, as a correction of its lens. Gain "
        "and read noise are the centre's, and the clipping level differs from place to place."
    ),
    RemarkCode.ALL_CLIPPED: lambda _: "Every tone is clipped or cut off at zero.",
    RemarkCode.FEW_LEVELS: lambda _: (
        "Too few flat places between black and clipping to tell the gain."
    ),
    RemarkCode.NOT_STRAIGHT: lambda _: (
        "Noise does not grow with the signal as that of light does, so it tells no gain: the "
        "response is bent, bright parts were read differently, or texture is as fine as noise."
    ),
    RemarkCode.BRIGHT_ALONE: lambda _: (
        "Only bright tones tell the gain, and a bent response looks the same: no other frame of "
        "the body bears it out."
    ),
    RemarkCode.SMOOTHED: lambda _: (
        "The pixels were smoothed or packed with loss, or no place is flat: what is left is no "
        "sensor noise."
    ),
    RemarkCode.NO_READ_NOISE: lambda _: (
        "No masked border and no dark tones flat enough to tell the read noise."
    ),
    RemarkCode.FINE_READ_NOISE: lambda f: (
        f"Read noise is finer than whole DN can show: {f.number('bound_dn'):.2f} DN is its upper "
        "bound."
    ),
    RemarkCode.ONE_SISTER: lambda _: (
        "Only one other frame tells the noise: no second one bears it out."
    ),
    RemarkCode.SISTERS_DISAGREE: lambda _: (
        "The other frames of the shoot do not agree on the noise."
    ),
    RemarkCode.SISTERS_TELL_ANOTHER: lambda _: (
        "Other frames of the same body agree on another gain than this one tells."
    ),
    RemarkCode.CALMER_THAN_SISTERS: lambda _: (
        "Its darkest places have less noise than the read noise of the other frames of the shoot: "
        "noise reduction."
    ),
}
PREVIEW_SENTENCES: dict[RemarkCode, Callable[[Remark], str]] = {
    RemarkCode.PREVIEW_CLIPS: lambda f: (
        # of each channel by how many stops it clips before the sensor or after
        f"{_shown(f)}; it clips "
        + ", ".join(
            f"{name} {counted_stops(abs(f.number(name)))} "
            f"{'before' if f.number(name) >= 0 else 'after'} the sensor does"
            for name in f.figures
            if name != "share"
        )
        + "."
    ),
    RemarkCode.PREVIEW_LEVEL_UNSURE: lambda f: (
        f"{_shown(f)}; where the sensor clips is unsure, so the two are not compared."
    ),
    RemarkCode.PREVIEW_UNTOLD: lambda f: (
        f"{_shown(f)}; nothing in the picture tells where it clips."
    ),
    RemarkCode.BARS_LEFT_OUT: lambda _: "Black bars of the preview are left out.",
    RemarkCode.OTHER_SECTION: lambda _: (
        "The preview shows another section of the picture than the raw data."
    ),
    RemarkCode.NOT_LAID_OVER: lambda _: "The preview could not be laid over the raw data.",
    RemarkCode.CORNERS_LIFTED: lambda _: (
        "The preview shows its corners brighter than the raw data do: it was corrected for the "
        "lens, or shows another section. Where it clips is not one level."
    ),
    RemarkCode.GREY_PREVIEW: lambda _: (
        "The preview is black and white: it does not show where each colour clips."
    ),
    RemarkCode.COUNTED_SMALL: lambda f: (
        f"The preview's {f.number('width'):.0f} × {f.number('height'):.0f} pixels were counted at "
        f"{f.number('counted_width'):.0f} × {f.number('counted_height'):.0f}: single white or "
        "black ones may go unseen."
    ),
}


def _whole(f: Figures, name: str) -> str:
    return f"{f.number(name):.0f}"


DAMAGE_SENTENCES: dict[Damage, Callable[[Figures], str]] = {
    Damage.EMPTY_PLANE: lambda f: (
        (
            f"{_whole(f, 'planes')} of {_whole(f, 'of')} planes are"
            if f.number("planes") < f.number("of")
            else "The picture is"
        )
        + " all but empty: the data were never written, or were cut off."
    ),
    Damage.EMPTY_ROWS: lambda f: (
        f"{counted(int(f.number('rows')), 'whole row')} "
        f"{'holds' if f.number('rows') == 1 else 'hold'} no picture data."
    ),
    Damage.CONSTANT_BLOCK: lambda _: "Runs of pixels hold no picture data.",
    Damage.IMPOSSIBLE_VALUES: lambda f: (
        f"Rows hold values above {_whole(f, 'above_dn')}, which a file of this white level cannot "
        "hold."
    ),
    Damage.FOREIGN_SECTORS: lambda f: (
        f"From row {_whole(f, 'row')}, column {_whole(f, 'column')} "
        f"to row {_whole(f, 'last_row')}, column {_whole(f, 'last_column')} "
        f"the picture breaks {_whole(f, 'breaks')} times exactly at the border of a "
        f"{_whole(f, 'sector_bytes')}-byte sector: a cluster of the card holds other data."
    ),
    Damage.ODD_SECTORS: lambda f: (
        f"From row {_whole(f, 'row')}, column {_whole(f, 'column')} "
        f"to row {_whole(f, 'last_row')}, column {_whole(f, 'last_column')} "
        f"the picture breaks at the border of a {_whole(f, 'sector_bytes')}-byte sector: a cluster "
        "of the card may hold other data, or a hairline of the scene ends there."
    ),
    Damage.FOREIGN_TILES: lambda f: (
        f"{_whole(f, 'tiles')} of {_whole(f, 'of')} tiles, the first from row {_whole(f, 'row')}, "
        f"column {_whole(f, 'column')} on, hold other packed data than those of the picture."
    ),
    Damage.EMPTY_SECTORS: lambda f: (
        f"{_whole(f, 'sectors')} whole sectors of the packed data are empty."
    ),
    Damage.DIGEST_MISMATCH: lambda _: (
        "The pixels are not those of which the file holds the digest."
    ),
    Damage.EVEN_CELLS: lambda _: "A block of the picture holds one value only, without any noise.",
    Damage.ROW_JUMP: lambda f: (
        f"From row {_whole(f, 'row')} on the picture is displaced or lifted, as where data are "
        "missing."
    ),
    Damage.ENDS_EARLY: lambda f: (
        f"{f.number('bytes'):,.0f} bytes of the picture lie beyond the end of the file: it was cut "
        "off, or its header is wrong."
    ),
    Damage.BROKEN_PREVIEW: lambda _: (
        "The data of the embedded preview break off, or hold what no JPEG can: a cluster of the "
        "card is lost in it, and the raw picture may be whole."
    ),
}


def copies_differ(own: DifferingCopy, others: Sequence[DifferingCopy]) -> str:
    """Say which of some files that ought to be copies of each other is whole.

    Parameters
    ----------
    own : DifferingCopy
        The file that it is said of.
    """
    with_name = any(other.card == own.card for other in others)

    def named(copy: DifferingCopy) -> str:
        if copy is own and with_name:
            return "this copy"
        return copy.id if with_name else f"card {copy.card}'s copy"

    name = named(own)
    # a file's own name keeps its letters
    begin = name if name == own.id else name[:1].upper() + name[1:]
    differ = f"{begin} differs from {' and '.join(map(named, others))}"
    whole = [copy for copy in (own, *others) if copy.whole]
    spoilt = [copy for copy in (own, *others) if copy.whole is False]
    unread = [copy for copy in (own, *others) if copy.whole is None]
    if len(whole) == 1:
        return f"{differ}; {named(whole[0])} is whole: use that one."
    if whole and not spoilt and not unread:
        return (
            f"{differ}; neither shows damage: hold them against each other before one is deleted."
        )
    if whole:
        return f"{differ}; {' and '.join(map(named, whole))} show no damage: use one of them."
    return f"{differ}; none of them is whole: keep them all."
