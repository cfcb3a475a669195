"""What each finding means: title, meaning, how it is measured, and what to do next time.

Legend, ``auditor explain`` and the docs are made from :data:`KINDS`.
"""

from __future__ import annotations

from auditor.findings.extension import finding_extensions
from auditor.model.findings import FindingCode, FindingKind, Severity
from auditor.words.cautions import EYES_IN_SHORT, GROUND_IN_SHORT

_KINDS = (
    FindingKind(
        code=FindingCode.DAMAGED_DATA,
        title="Damaged picture data",
        severity=Severity.LOST,
        meaning="A part of the picture is not what the sensor recorded: a bad block on the card, "
        "or a copy that broke off.",
        measured="Constant blocks, empty rows and jumps between rows that no scene makes, and the "
        "digest that some files carry.",
        next_time="Copy the file again from the card, and retire a card that does this twice.",
    ),
    FindingKind(
        code=FindingCode.MAY_BE_DAMAGED,
        title="May be damaged",
        severity=Severity.RISK,
        meaning="A part of the picture looks like lost data, and may be of the scene, or of the "
        "way in which the camera packs.",
        measured="Places without any noise, rows from which the picture is displaced or lifted, "
        "a break at one border of a sector or a bit that stands still in it, and a file that is "
        "shorter than its header says.",
        next_time="Compare with the second copy before the card is formatted.",
    ),
    FindingKind(
        code=FindingCode.BLOWN_AREA,
        title="Blown area",
        severity=Severity.LOST,
        meaning="In a connected part of the picture at least one channel reached the level at "
        "which the sensor clips. Where every channel did, tone and colour are gone; where one "
        "did, a converter can often rebuild the tone but not the colour.",
        measured="Share of pattern cells with a pixel at or above the settled clipping level; the "
        "largest connected patch of tiles in which more than half of the cells are.",
        next_time="Expose less, or hold the sky with a graduated filter. Judge by the raw share, "
        "not by the preview. A small patch lost in every channel may be the sun or its "
        "reflection, which no exposure holds: let it go.",
        caution=EYES_IN_SHORT,
    ),
    FindingKind(
        code=FindingCode.BLOCKED_AREA,
        title="Blocked-up area",
        severity=Severity.LOST,
        meaning="In a part of the picture every channel lies under the noise floor: lifting it "
        "brings up noise, not detail.",
        measured="Share of the frame whose local mean is under the noise floor in every plane; the "
        "floor is the signal at which one pixel's signal-to-noise ratio is 1 (EMVA 1288).",
        next_time="Give more light where the bright end has headroom; otherwise bracket, or "
        "balance the sky with a graduated filter and expose for the foreground.",
    ),
    FindingKind(
        code=FindingCode.RANGE_TOO_LONG,
        title="Scene range exceeds the sensor",
        severity=Severity.RISK,
        meaning="The frame is blown at one end and blocked at the other: no single exposure "
        "would have held both.",
        measured="Blown share and blocked share both above their limits.",
        next_time="Bracket, or bring the sky down with a graduated filter.",
        caution=EYES_IN_SHORT,
    ),
    FindingKind(
        code=FindingCode.BLOWN_CHANNEL,
        title="One channel blown alone",
        severity=Severity.RISK,
        meaning="One colour clips where the others still record: the tone can often be rebuilt, "
        "but its colour shifts, as in a sunset that turns yellow.",
        measured="Blown share of each plane against that of the other colours.",
        next_time="Watch the single channels: in raw data green mostly clips first, in a red sky "
        "red does. Expose less until that channel holds.",
    ),
    FindingKind(
        code=FindingCode.PREVIEW_HIDES,
        title="Preview hides a loss",
        severity=Severity.RISK,
        meaning="The sensor clips where the camera's preview still shows tone: the loss could not "
        "be seen in the field.",
        measured="Blown share of the raw data above its limit, the preview's under a tenth of it.",
        next_time="With this camera and picture style, stay further from the right edge.",
    ),
    FindingKind(
        code=FindingCode.HEADROOM_LEFT,
        title="Headroom left",
        severity=Severity.NOTE,
        meaning="The brightest tones end well under the level at which the sensor clips. More "
        "light would have lifted every tone further out of the noise.",
        measured="The least headroom of all planes: log2 of saturation over the bright end, the "
        "signal that all but 0.01 % of the plane stays under, hot pixels left out.",
        next_time="Expose longer by the headroom less a third of a stop, where the light and the "
        "wind allow it.",
    ),
    FindingKind(
        code=FindingCode.PREVIEW_EARLY,
        title="Preview clips early",
        severity=Severity.NOTE,
        meaning="The picture on the back of the camera, and the histogram drawn from it, clip "
        "before the raw data do. Trusting them costs light.",
        measured="Per channel, log2 of saturation over the raw signal at which the preview reaches "
        "254 of 255. The channel that clips least early counts; what another clips before it is "
        "white balance. Where that channel does not tell, another's figure less its white balance "
        "stands for it. Blown frames are left out.",
        next_time="Let the highlights run past the right edge of the camera's histogram by as much "
        "as the preview clips early, less a third of a stop. Where red or blue clips earlier "
        "still, that is white balance, not headroom. A neutral picture style and a "
        "white balance with equal multipliers bring the camera's histogram nearer to the raw data.",
    ),
    FindingKind(
        code=FindingCode.MAY_BE_CLIPPED,
        title="May be clipped",
        severity=Severity.RISK,
        meaning="The brightest tones crowd at the top of what this sensor was seen to record, and "
        "the level at which it clips is only claimed by the file: an even sky, or lost tones. Or "
        "some rows, columns or parts of the sensor clip lower than the rest.",
        measured="At least 1 % of a plane within 2 % of the highest value that any plane of any "
        "frame of this sensor reaches at this ISO, where no pile-up was measured; or lines that "
        "clip by turns although equally bright, or places under the pile-up that are steadier "
        "than light.",
        next_time="Take one frame that is surely blown at this ISO: it shows where the sensor "
        "clips, for all others as well.",
    ),
    FindingKind(
        code=FindingCode.BLOWN_POINTS,
        title="Blown points only",
        severity=Severity.NOTE,
        meaning="A few scattered points clip: glitter on water, lamps, wet stone. They belong to "
        "the picture and need no correction.",
        measured="Some pixels reach the clipping level, but no connected patch is larger than the "
        "limit for specular points. Very many of them count as a loss.",
        next_time="Nothing. Do not underexpose a whole frame to save its glitter.",
    ),
    FindingKind(
        code=FindingCode.LINEAR_LIMIT,
        title="Above the linear range",
        severity=Severity.NOTE,
        meaning="The bright end lies between the level to which the maker promises linearity and "
        "the level at which the sensor clips: tones there are recorded, their colour may drift.",
        measured="Bright end against the linearity limit in the file.",
        next_time="Where colour in the brightest tones matters, stay under the limit.",
    ),
    FindingKind(
        code=FindingCode.HOT_PIXELS,
        title="Hot pixels",
        severity=Severity.NOTE,
        meaning="Single pixels far above their neighbours, as they grow with time and warmth.",
        measured="Isolated pixels far above all same-coloured neighbours, against the local noise, "
        "per megapixel; in exposures of a second and longer, and in those of unknown time, "
        "for in short ones an isolated speck is more often glitter or texture.",
        next_time="Use long-exposure noise reduction, or take a dark frame of the same time, ISO "
        "and temperature. Let the body cool between long exposures.",
    ),
    FindingKind(
        code=FindingCode.DARK_FRAME,
        title="Dark frame",
        severity=Severity.NOTE,
        meaning="Hardly anything but noise was recorded: a dark frame taken on purpose, a cap left "
        "on, or far too little light.",
        measured="At least 99.5 % of the frame lies under the noise floor in every plane; where no "
        "floor is known, 45 % of each plane's pixels lie at or under black, as read noise alone "
        "puts them. An area that is blown got light.",
        next_time="Keep it if it was meant: it maps the hot pixels of that shutter time.",
    ),
    FindingKind(
        code=FindingCode.BLACK_DISAGREES,
        title="Black level corrected",
        severity=Severity.NOTE,
        meaning="The pixels that no light reaches lie off the black level that the file claims; "
        "the level of the masked border, or else of the shoot's dark frames, was used.",
        measured="Robust mean of the masked border against the tag, beyond the border's standard "
        "error. Without one: frames of the same body and ISO, exposed for no longer, that hold "
        "nothing but noise about one level, the same all over and in all colours.",
        next_time="Nothing. A large difference on long exposures is a sign of warmth.",
    ),
    FindingKind(
        code=FindingCode.NOISE_UNKNOWN,
        title="Noise floor not measured",
        severity=Severity.NOTE,
        meaning="This frame does not show its read noise or gain, so nothing is said of "
        "blocked-up tones.",
        measured="Neither a masked border, nor areas smooth enough at different brightness, nor a "
        "noise profile in the file.",
        next_time="Nothing; another frame of the same body and ISO on the card may show it.",
    ),
    FindingKind(
        code=FindingCode.EXPOSURE_UNKNOWN,
        title="Exposure not recorded",
        severity=Severity.NOTE,
        meaning="Shutter time, aperture or ISO is absent: the frame is measured, but cannot be "
        "paired by its exposure.",
        measured="The metadata hold no value, or one that cannot be.",
        next_time="Nothing, unless a lens without contacts can be entered in the camera by hand.",
    ),
    FindingKind(
        code=FindingCode.COPY_ELSEWHERE,
        title="Also found elsewhere",
        severity=Severity.NOTE,
        meaning="The same file was found twice, byte for byte; it is judged once for each place.",
        measured="A digest of all bytes (SHA-256).",
        next_time="Nothing: a second card is a good habit.",
    ),
    FindingKind(
        code=FindingCode.COPIES_DIFFER,
        title="Copies differ",
        severity=Severity.RISK,
        meaning="A file of the same size, beginning and end was found elsewhere with other bytes "
        "in between: one of the two is damaged, or could not be read.",
        measured="A digest of all bytes (SHA-256). Whole is a copy that was measured without a "
        "sign of damage.",
        next_time="Keep the copy that is whole, and test the card that holds the other.",
    ),
    FindingKind(
        code=FindingCode.TRIPOD_MOVED,
        title="Tripod moved",
        severity=Severity.RISK,
        meaning="This frame lies shifted against the one before it in the same set-up: siblings "
        "and brackets must be aligned before they are put together.",
        measured="Correlation of the local tones with exposure divided out, then least squares on "
        "small patches of single pixels where most of them agree, else block by block of tiles; "
        "from a pixel on, beyond four standard errors.",
        next_time="Press the feet into the ground, steady the holder while a filter slides in, and "
        "release by cable or timer; check the frame afterwards.",
        caution="Sinking feet on wet sand mean a rising tide or soft ground: mind your way back "
        "first.",
    ),
    FindingKind(
        code=FindingCode.BRACKET_GAP,
        title="Bracket leaves a part out",
        severity=Severity.RISK,
        meaning="No frame of the bracket records a part of the scene between floor and saturation.",
        measured="Share of the scene that every frame has lost: a plane blown there, or all planes "
        "under their floors.",
        next_time="Extend the bracket at the end that is lost.",
    ),
    FindingKind(
        code=FindingCode.PANORAMA_UNEVEN,
        title="Panorama exposures differ",
        severity=Severity.RISK,
        meaning="Exposure or white balance changed between adjoining frames: the seams will show, "
        "or need work.",
        measured="Spread of the exposure as set, and of the as-shot white balance, over the "
        "panorama.",
        next_time="Set exposure, white balance and focus by hand before the first frame.",
    ),
    FindingKind(
        code=FindingCode.PLACEMENT_OFF,
        title="Long exposure not matched",
        severity=Severity.NOTE,
        meaning="Behind the filter the tones landed higher or lower than in the unfiltered "
        "sibling.",
        measured="log2 of the long frame's signal over the short frame's, over static places.",
        next_time="Multiply the short frame's time by 2 to the power of the filter's measured "
        "stops, and lengthen it by what the light falls during it. auditor nd-time calculates "
        "both, with --stops and --drift.",
        caution=GROUND_IN_SHORT,
    ),
    FindingKind(
        code=FindingCode.FILTER_OFF_MARKING,
        title="Filter off its marking",
        severity=Severity.NOTE,
        meaning="The neutral-density filter measures more or fewer stops than the nearest usual "
        "marking.",
        measured="Exposure difference less log2 of the long frame's signal over the short frame's, "
        "over static places, against the nearest usual marking.",
        next_time="Calculate with the measured stops, not with the marking.",
        caution=EYES_IN_SHORT,
    ),
    FindingKind(
        code=FindingCode.FILTER_CAST,
        title="Colour cast of the filter",
        severity=Severity.NOTE,
        meaning="The filter absorbs more of one colour than of green, so the long frame shifts "
        "to the opposite colour. Raw data take the correction well unless that channel is short "
        "of light.",
        measured="Filter stops of red and blue less those of green.",
        next_time="Set the white balance for the filtered frame on its own, and give the weak "
        "channel the light it lacks.",
    ),
    FindingKind(
        code=FindingCode.LIGHT_CHANGED,
        title="Light changed between the exposures",
        severity=Severity.NOTE,
        meaning="Between the short frame and its filtered sibling the ambient light rose or fell.",
        measured="Unfiltered frames before and after, at the middle of each exposure.",
        next_time="Lengthen a long exposure at dusk by what the light falls, shorten it at dawn, "
        "and take an unfiltered frame before and after.",
    ),
    FindingKind(
        code=FindingCode.BRACKET_LONGER,
        title="More frames than needed",
        severity=Severity.NOTE,
        meaning="Fewer frames of the bracket record all that the whole set does, and as cleanly.",
        measured="The smallest set of frames whose tiles, between floor and saturation, cover what "
        "the whole bracket covers, and reach the clean signal-to-noise ratio where it does.",
        next_time="A shorter bracket, or a wider step, would have done.",
    ),
    FindingKind(
        code=FindingCode.ISO_COSTS,
        title="ISO holds less",
        severity=Severity.NOTE,
        meaning="Highlights or shadows are lost at an ISO at which this body holds less than at a "
        "lower one: a third of a stop that is only calculated, or a setting far over the base.",
        measured="Full well times ISO against that of the next lower full stop, and saturation "
        "over the noise floor against the body's best ISO; each channel for itself.",
        next_time="On a tripod take the base ISO, and give the time.",
    ),
    FindingKind(
        code=FindingCode.SKY_BRIGHTER,
        title="Sky much brighter than the foreground",
        severity=Severity.NOTE,
        meaning="The sky is so much brighter than the foreground that one exposure holds only one "
        "of them.",
        measured="Median tone above the horizon over the median below it, where highlights or "
        "shadows were lost.",
        next_time="Use a graduated filter about a stop weaker than the difference, or take a "
        "bracket.",
        caution=EYES_IN_SHORT,
    ),
    FindingKind(
        code=FindingCode.WHITE_LEVEL_TAG,
        title="White level in the file is wrong",
        severity=Severity.NOTE,
        meaning="The sensor clips at another level than the file claims: whoever trusts the claim "
        "misses blown pixels, or sees too many.",
        measured="Pile-up at the top of the histogram over all frames of the body at this ISO and "
        "bit depth, against the white level in the file.",
        next_time="Nothing: every figure here uses the level that was found.",
    ),
)

KINDS: dict[str, FindingKind] = {
    str(kind.code): kind for kind in (*_KINDS, *(one.kind for one in finding_extensions()))
}
"""Every kind of finding by its code, in the order in which findings are told; then those that other
packages bring."""


def finding_kinds() -> dict[str, FindingKind]:
    """Return every kind of finding by its code.

    Returns
    -------
    dict
        Title, meaning, how it is measured and what to do next time, by code.

    Examples
    --------
    >>> from auditor.api import finding_kinds
    >>> finding_kinds()["blown-area"].title
    'Blown area'
    """
    return dict(KINDS)
