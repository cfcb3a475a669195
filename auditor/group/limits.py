"""Every number that grouping is judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Set-ups

SHIFT_LIMIT = Limit(
    0.08,
    "share of the longer side",
    "A knocked tripod may move the picture so far; beyond it the picture was framed anew.",
)
BETTER_BY = Limit(
    0.15, "correlation", "By so much a weaker match must beat the shifts of a panorama."
)
LOST_OVERLAP = Limit(
    0.7,
    "share of the frame",
    "Where less is recorded by both, frames are compared again by nothing but that.",
)
SETUP_LEAST_OVERLAP = Limit(
    0.08, "share of the frame", "The least that both must record to be compared so."
)
BLIND_GAP_S = Limit(
    30.0, "s", "A frame that cannot be compared belongs to the set-up before it within this time."
)
PROFILE_GAP_S = Limit(
    900.0, "s", "Sky and water alone match by their horizon only within this time."
)
ROWS_AGREE = Limit(
    0.8, "correlation", "Steps from row to row that agree so well are one bare horizon."
)
FOCAL_SLACK = Limit(0.02, "share", "Zoom lenses tell the same focal length within this.")
SMOOTH_S = Limit(0.5, "s", "An exposure at least this long smooths the water ...")
SMOOTH_TIMES = Limit(
    8.0,
    "times",
    "... where it is also so many times as long as the other: waves there are no rocks.",
)
STEADY_STOPS = Limit(
    0.3,
    "stops",
    "Light that differs by less after a long gap stood still: it was the clock that jumped.",
)
UNMOVED_TILES = Limit(
    0.75, "tiles", "A best shift this small is itself a sign of one tripod position."
)
SURE_CORRELATION = Limit(
    0.75,
    "correlation",
    "A weaker match must stand against the shifts of a panorama, and tells a shift less surely.",
)
UNSURE_CORRELATION = Limit(
    0.65,
    "correlation",
    "Coasts of two places are less alike than this (up to 0.63 in 48,000 simulated pairs): a match "
    "so weak must also tell its shift ...",
)
UNSURE_ERROR_TILES = Limit(
    0.1,
    "tiles",
    "... so surely (0.08 in simulated frames of one view, 0.12 and more in all but one of two) ...",
)
UNSURE_STRONG = Limit(
    0.9,
    "correlation",
    "... or what is strong in one of the two must agree so well (0.96 where the tide came in, up "
    "to 0.91 on coasts of two places), or as in frames that have not moved if it lies still.",
)
LEAST_VOTING = Limit(
    4, "blocks", "Blocks with structure in both from which two frames can be compared."
)
BLOCK_STOPS = Limit(0.07, "stops", "Structure from which a block has something to say.")
BLOCK_AGREES = Limit(0.75, "correlation", "From it on a block agrees.")
BLOCK_STRONG_STOPS = Limit(
    0.35, "stops", "Structure that neither waves nor clouds show in tiles: rocks, a skyline, trees."
)
COMPARED_OVERLAP = Limit(
    0.05, "share of the frame", "Two frames that both record less cannot be compared."
)
STRONG_LEAST = Limit(
    3, "blocks", "With fewer strong blocks there is nothing in either frame but sky and water."
)
MOST_AGREE = Limit(
    0.7, "share of the blocks", "Frames that have not moved show one view where so many agree ..."
)
MOST_AGREE_LEAST = Limit(5, "blocks", "... at least this many ...")
STRONG_AGREE = Limit(
    0.8, "correlation", "... and the strong blocks so well, whatever the whole says."
)
STRONG_JUDGED = Limit(4, "blocks", "From so many strong blocks on it counts how well they agree.")
UNMOVED_CORRELATION = Limit(0.4, "correlation", "Else frames that have not moved are as alike ...")
UNMOVED_AGREEING = Limit(6, "blocks", "... in so many blocks ...")
UNMOVED_STRONG = Limit(0.5, "correlation", "... and in their strong blocks, as this.")
MOVED_CORRELATION = Limit(0.5, "correlation", "Frames that have moved are as alike ...")
MOVED_AGREEING = Limit(3, "blocks", "... in so many blocks ...")
MOVED_STRONG = Limit(0.68, "correlation", "... and in their strong blocks, as this.")

CLOCK_SLACK_S = Limit(1.5, "s", "Clocks without subseconds may seem to run back by so much.")
STEADY_TILES = Limit(0.15, "tiles", "A smaller shift is within what shifts can be told by.")

# Filters

ENOUGH_TILES = Limit(250, "tiles", "With so many above a noise floor darker ones are not asked.")
LEAST_STILL = Limit(60, "tiles", "With fewer that stand still, what moves is asked too.")
CORNER_TILES = Limit(300, "tiles", "A fall-off to the corners is fitted to no fewer.")

FASTEST_STOPS_PER_S = Limit(
    0.35 / 60.0,
    "stops a second",
    "Daylight falls and rises no faster: twilight changes by 1.3 stops for a degree of the "
    "sun, which sinks by at most 0.25 degrees a minute (from memory).",
)
LEVEL_ERROR_STOPS = Limit(0.05, "stops", "What a level may be off by its measuring.")
BEND = Limit(
    0.35, "share of the change", "So far the light may leave the straight line between two frames."
)
DIP_SHARE = Limit(
    0.5, "share of the least strength", "By so much a frame must lie lower than both neighbours."
)
PAIR_LEAST_OVERLAP = Limit(
    0.03, "share of the frame", "Both frames of a pair must record at least this."
)
UNEVEN_SHARE = Limit(
    0.3, "share of the filter's stops", "Parts of the picture may disagree by so much ..."
)
UNEVEN_STOPS = Limit(
    0.5,
    "stops",
    "... or by this: a filter weakens all parts alike, a cloud does not.",
)
POLARISER_LEAST_STOPS = Limit(
    1.2, "stops", "A polariser takes at least this (common practice: 1.5 to 2 stops) ..."
)
POLARISER_MOST_STOPS = Limit(3.3, "stops", "... and in the sky no more than this.")
UNEVEN_COLOUR_STOPS = Limit(
    0.06, "stops", "Colours of neutral glass agree better than this over the picture."
)
WATER_SLACK = Limit(0.05, "stops", "What moving water alone may show of a change that was none.")
NO_CLOUD_STOPS = Limit(
    3.5,
    "stops",
    "No cloud takes so much from all of the picture: what is uneven then is told, but doubted.",
)
SKY_APART_STOPS = Limit(
    0.3, "stops", "A sky that lost so much more light than the ground does not measure the filter."
)
DEEP_FLOORS = Limit(
    1.0, "noise floors", "Means of tiles are trusted down to here where nothing brighter is there."
)
DETAIL_SPEAKS = Limit(
    1.5, "times noise", "Detail from which a change of it means that something moved."
)
DETAIL_CHANGE = Limit(
    2.5, "times", "So much more detail in one frame than in the other is movement."
)
FIRM_BLOCK_STOPS = Limit(
    0.12, "stops", "Median deviation within a block up to which its level says something."
)
TONE_STOPS = Limit(
    0.06,
    "stops",
    "Glass holds back bright and dark ground side by side alike within this; the sun that goes in "
    "or comes out does not.",
)
CORNER_LEAST_STOPS = Limit(0.1, "stops", "A fall-off to the corners of less is none.")
CORNER_REACH = Limit(
    0.3, "squared radius", "Span from the middle outwards that tiles must cover to show a fall-off."
)
CORNER_BETTER = Limit(
    0.7, "share of the median miss", "At most this is left where a fall-off is believed."
)
SCATTERED_LEAST_STOPS = Limit(
    0.05, "stops", "Scattered light that lifts the median tone by less is none."
)
LEAST_TOLERANCE_STOPS = Limit(
    0.12, "stops", "Pairs of one filter agree within this where its spread is not known better."
)
MOST_TOLERANCE_STOPS = Limit(0.25, "stops", "Nor is a known filter recognised beyond this.")
SPREADS = Limit(3.0, "spreads", "Measured stops may lie so many spreads of a known filter off.")
CAST_TOLERANCE_STOPS = Limit(0.05, "stops", "Casts of one filter agree within this.")

# Confidence

WITHIN_STOPS = Limit(
    0.1, "stops", "Confidence is the chance that the figure lies this near to the truth."
)
BASE_ERROR_STOPS = Limit(0.02, "stops", "Standard error of the best of pairs: what moved unseen.")
SCATTER_STOPS = Limit(
    0.035,
    "stops",
    "Standard error of one exposure by its shutter and aperture, where nothing tells it: two "
    "then differ by less than a tenth of a stop in 19 of 20 (common practice) ...",
)
SCATTER_WEIGHT = Limit(
    2.0, "frames", "... and so many repeated frames that tell it weigh as much as that."
)
PACE_ERROR = Limit(
    0.2, "share of the drift", "Standard error of a drift that the pace of the light tells."
)
BEND_ERROR = Limit(
    0.15, "share of the change", "Standard error of a drift between frames before and after ..."
)
BENT_ERROR = Limit(
    0.08,
    "share of the change and of the bend",
    "... and where frames of the shoot on both sides tell how the light bends.",
)
SUDDEN_ERROR = Limit(
    0.4, "share of the change", "The same where the light changed faster than daylight does."
)
BENT_LEAST_STOPS = Limit(
    0.02, "stops", "Light that leaves the straight line between two frames by less keeps to it."
)
UNTOLD_STOPS_PER_MINUTE = Limit(
    0.15,
    "stops a minute",
    "Standard deviation of a drift that nothing tells, if there is one: dusk and dawn change by "
    "0.1 to 0.3 (common practice).",
)
CLOUD_STOPS_PER_MINUTE = Limit(
    0.03,
    "stops a minute",
    "What clouds do to it by and by, where the sun's height tells the rest.",
)
MOST_STEADY = Limit(
    0.7,
    "",
    "The chance that light which nothing tells stood still, if the figure is whole stops ...",
)
STEADY_LOSS = Limit(
    1.3,
    "a stop",
    "... and by how much it is less the farther off: filters are made in whole stops.",
)
EVER_TRUST = Limit(
    0.95, "", "The most that is ever believed: the sun may go in for one frame alone."
)
WEAK_TRUST = Limit(0.5, "", "The most that is believed of a weak filter that never came off again.")
UNTOLD_TINT_STOPS = Limit(
    0.1,
    "stops",
    "Light may have reddened by this where frames on one side only, and no others near, tell it: "
    "it looks like a cast.",
)
CAST_UNEVEN_STOPS = Limit(
    0.12, "stops", "Where parts of the picture disagree more about a cast it is not told."
)
CLOUD_STOPS = Limit(
    2.5, "stops", "With unfiltered frames before and after, a cloud may take so much from one ..."
)
CLOUD_TRUST = Limit(0.5, "", "... so this is the most that is believed of so weak a filter.")
UNEVEN_TRUST = Limit(0.3, "", "The most that is believed where parts of the picture disagree.")
GRAD_SHORT_TRUST = Limit(
    0.5,
    "",
    "The most that is believed where only the short frame has a graduated filter: one upside down "
    "before the other looks the same, and so does a flash or a torch on the foreground.",
)
LIKE_ANOTHER_TRUST = Limit(
    0.5, "", "The most that is believed where it may be a filter measured before in other light ..."
)
LIKE_ANOTHER_STOPS = Limit(1.75, "stops", "... so far apart at most ...")
LIKE_ANOTHER_CAST_STOPS = Limit(
    0.02, "stops", "... and with casts that agree within this, or as daylight's own colours do: ..."
)
RED_FOR_BLUE = Limit(
    0.64,
    "stops of red a stop of blue",
    "... as the sun goes in red falls by so much while blue rises by one, against green (CIE 15: "
    "the daylight illuminants of 5500 to 7500 K, at 600, 530 and 460 nm) ...",
)
DAYLIGHT_ASIDE = Limit(
    0.3, "stops of red a stop of blue", "... to within this, for cameras see colours unlike ..."
)
DAYLIGHT_REACH_STOPS = Limit(
    0.5, "stops of blue", "... and no farther: 80 mired, to light of 10,000 K and more."
)
DAYLIGHT_NEAR_STOPS = Limit(
    0.07, "stops of blue", "From here on a cast of daylight's own colours may be the light's ..."
)
DAYLIGHT_CAST_STOPS = Limit(
    0.13, "stops of blue", "... and from here on it is so rather: belief falls steadily between."
)
DAYLIGHT_TRUST = Limit(
    0.54,
    "times",
    "So much is left of what else is believed where the cast is such as the sun makes that goes in "
    "or comes out for the one frame: filters seldom have just this one.",
)
FAST_SHUTTER_S = Limit(
    1 / 400, "s", "Shutters that open for less may be off their time (common practice) ..."
)
FAST_ERROR_STOPS = Limit(0.1, "stops", "... with this standard error.")
TONE_TRUST = Limit(
    0.4, "", "The most that is believed where bright and dark ground lost light unlike."
)
SCATTERED_TRUST = Limit(
    0.5,
    "",
    "The most that is believed where light was scattered: fog holds back as much of it evenly, "
    "glass none.",
)
SKY_TRUST = Limit(
    0.5, "", "The most that is believed where sky and ground disagree, or the sky alone is told."
)
NEAR_WHOLE_STOPS = Limit(
    0.05,
    "stops",
    "Filters are made in whole stops to within twice this (common practice); belief falls steadily "
    "from here on, for shutters, apertures and the sun go by any, ...",
)
OFF_WHOLE_STOPS = Limit(
    0.25,
    "stops",
    "... down to what is said here, so far off: then it is worth saying.",
)
OFF_WHOLE_TRUST = Limit(
    0.4, "", "The most that is believed so far off whole stops, with frames on one side only ..."
)
OFF_WHOLE_BOTH_TRUST = Limit(
    0.55, "", "... and with frames before and after, unless the filter is known."
)
APERTURE_TRUST = Limit(
    0.6, "", "The most that is believed where one frame was stopped down and the other was not ..."
)
EXTENDED_TRUST = Limit(
    0.5, "", "The most that is believed where the two have different ISOs, one of them extended ..."
)
EXTENDED_ISO = Limit(
    100.0, "", "... which is less than this (common practice), and no gain tells which it is."
)
OTHER_APERTURE_STOPS = Limit(
    0.5, "stops of light", "... by so much: a lens may stick (common practice)."
)
SHORT_TRUST = Limit(
    0.5, "", "The most that is believed where the short frame may have had a filter too: ..."
)
SHORT_DARK_STOPS = Limit(
    5.0,
    "stops",
    "... the scene is so much darker than a clear sky makes it, which clouds and shade do not ...",
)
SHORT_OPEN_S = Limit(
    0.75, "s", "... or it stood open so long, and nothing tells how high the sun stood."
)
COUNTED_ERROR_S = Limit(
    0.5, "s", "Standard error of a time that was counted by hand and is told in whole seconds."
)
ODD_GRAD_STOPS = Limit(
    0.2, "stops", "Graduated filters are sold in whole stops (common practice), to within this."
)
UNEVEN_ERROR = Limit(0.15, "share of the unevenness", "Standard error that unevenness adds.")
CORNER_ERROR = Limit(0.05, "share of the fall-off", "Standard error that a fall-off leaves.")
GRAD_ERROR_STOPS = Limit(0.04, "stops", "Standard error of a graduated filter that is taken out.")
WATER_ERROR_STOPS = Limit(
    0.05, "stops", "Standard error of the light of moving water, summed over rows."
)
WEAK_STOPS = Limit(
    3.3, "stops", "A filter weaker than this that never came off again may be a cloud."
)

# Pace of the light

SHORTEST_SPAN_S = Limit(15.0, "s", "Changes over less tell no pace.")
LONGEST_SPAN_S = Limit(900.0, "s", "Changes over more tell none either.")
PACE_REACH_S = Limit(900.0, "s", "Changes whose middle lies farther away are not asked.")
LEAST_SPAN_S = Limit(45.0, "s", "Weighted span below which the pace is not known.")
JUMP_SPAN_S = Limit(
    120.0, "s", "Over more than this daylight itself may change by what a jump takes."
)
JUMP_STOPS = Limit(
    0.15, "stops", "A change beyond the fastest daylight and this is a jump, as under clouds."
)
JUMPS_UNTOLD = Limit(
    4.0, "changes", "So many that other frames show weigh as much as what is thought beforehand ..."
)
JUMP_BEFOREHAND = Limit(
    0.05,
    "",
    "The chance that the light jumped for one frame alone, and left no cast of daylight, where no "
    "other frames tell of it ...",
)
JUMPS_SUN_DOWN = Limit(
    0.4, "times", "... and what is left of it while the sun that clouds might hide is down, ..."
)
SUN_DOWN_DEG = Limit(
    1.5, "degrees under the horizon", "... which is its centre, a half degree for the horizon."
)
UNSTEADY_STOPS_PER_S = Limit(
    0.06 / 60.0,
    "stops a second",
    "Changes that scatter by more, as in flickering light, tell no pace.",
)

# Graduated filters and skies

GRAD_LEAST_STOPS = Limit(
    0.6, "stops", "Weaker than the weakest grads that are sold (one stop), with room for error."
)
SEEN_ROWS = Limit(
    0.6, "share of the rows", "So much round the edge must be known for an edge to be there."
)
EXPLAINED = Limit(
    0.85, "share of the variance", "The filter's curve must explain this of the profile."
)
OFF_CURVE_STOPS = Limit(
    0.12, "stops", "A profile that leaves the curve by more at the top tells the density there."
)
SCREEN_STOPS = Limit(
    0.4, "stops", "Sky against ground must have changed by this to be worth a closer look."
)
GRAD_LONGEST_GAP_S = Limit(
    900.0, "s", "Frames without and with a graduated filter lie no farther apart."
)
SKY_DRIFT_STOPS_PER_S = Limit(
    0.15 / 60.0,
    "stops a second",
    "Sky and ground drift apart by less as the sun sets; a filter does so at once.",
)
BRIGHTER_STOPS = Limit(
    0.3, "stops", "The frame with the filter may have got this much more light all over."
)
SHARPEST = Limit(
    0.02,
    "share of the height",
    "No edge is sharper: a filter stands centimetres before a lens that is millimetres wide "
    "open (24 mm at f/16 are 1.5 mm; from 8 cm a fiftieth of a radian).",
)
SIDES_AGREE = Limit(
    0.16,
    "share of the density",
    "Left, middle and right must show the same at the top within this and 0.25 stop, twice as much "
    "about the edge and below it.",
)
COLUMN_DROP_STOPS = Limit(
    0.2, "stops", "Where a column of the picture drops by this its sky may end."
)
FULL_DROP_STOPS = Limit(0.4, "stops", "A drop from here on counts in full, a lesser one in part.")
RISES_AGAIN_STOPS = Limit(
    0.3,
    "stops",
    "What lies below is brighter by no more: under a cloud there is brighter sky, but water "
    "mirrors no more than it is given.",
)
LINE_AGREE = Limit(
    0.5, "share of the columns", "So many must end on one straight line for it to be told."
)
OPEN_BELOW = Limit(
    0.12,
    "share of the columns",
    "Where the sky of so many goes on below the line, it is the top of a headland ...",
)
LEVEL_BELOW = Limit(
    0.04,
    "share of the columns",
    "... or of so few where it ends on one level: the sea's beside a headland.",
)
LINES_ALIKE = Limit(
    0.025, "share of the height", "Lines of one composition's frames agree within this."
)
FRAMES_AGREE = Limit(
    0.25, "share of the frames", "So many frames of one composition must show the same line."
)
LINE_WHOLE = Limit(
    0.75,
    "share of the columns",
    "Where fewer end on the line, rocks or trees break it: a soft grad (common practice).",
)
REVERSE_STOPS = Limit(
    1.0,
    "stops",
    "Where the sky just above the line is so much brighter than its top: a reverse grad "
    "(common practice).",
)
STEEPEST_LINE = Limit(
    0.08,
    "share of the width",
    "Lines are looked for that rise or fall by so much, 4.6 degrees of tilt, and fitted up to 7.",
)
HIGHEST_LINE = Limit(
    0.1, "share of the height", "Nearer to the top no graduated filter would be drawn."
)
LOWEST_LINE = Limit(0.8, "share of the height", "Nor would it be drawn lower.")
BLOWN_SHARE = Limit(
    0.0005,
    "share of the tiles",
    "Blown from here on, a sky had no headroom, and a frame of a panorama is told.",
)

# Brackets and panoramas

LEAST_STEP_STOPS = Limit(
    0.25, "stops", "A third of a stop is the smallest step that cameras offer."
)
MOST_STEP_STOPS = Limit(4.0, "stops", "Larger steps make no bracket.")
STEADY_SHARE = Limit(
    0.35,
    "share of a step",
    "Light that drifted by more means that the exposure followed the light instead.",
)
STEP_GAP_S = Limit(
    90.0,
    "s",
    "From the end of one framing to the start of the next: brackets by hand take their time.",
)
PANORAMA_LEAST_OVERLAP = Limit(0.1, "share of the frame", "Neighbours share at least this.")
LEAST_CORRELATION = Limit(0.55, "correlation", "Neighbours are at least so much alike ...")
NARROW_CORRELATION = Limit(0.75, "correlation", "... or so much, where they share little ...")
NARROW = Limit(0.25, "share of the frame", "... which is less than this.")
LEAST_STRONG = Limit(
    0.75, "correlation", "The strong blocks of neighbours agree so well in the middle."
)
ASLANT = Limit(0.06, "share of the frame", "The camera may rise or sink by this while it turns.")
WEAK_CORRELATION = Limit(
    0.3, "correlation", "So weak a match is believed where the camera turned as just before ..."
)
SAME_STEP = Limit(0.05, "share of the frame", "... to within this ...")
HALF_ALIKE = Limit(
    0.5,
    "correlation",
    "... and one so much alike where it turned about so far just before or just after: simulated "
    "coasts of different places were less alike (0.36 to 0.49) ...",
)
HALF_STRONG = Limit(
    0.43,
    "correlation",
    "... the strong blocks agreeing so well (0.37 on two coasts that were taken for one view, 0.49 "
    "and more on parts of one) ...",
)
MANY_STRONG = Limit(10, "blocks", "... where there are so many: of a few chance rules ...")
LIKE_TURN = Limit(0.08, "share of the frame", "... to within this along the turn, as hands do.")
PANORAMA_LEAST_STEP = Limit(0.08, "share of the frame", "The camera turns by at least this.")
ALIKE = Limit(0.5, "share of the median step", "Steps of one panorama are alike within this.")
WHITE_BALANCE_STOPS = Limit(
    0.03, "stops", "A change of the multipliers that shows where frames are joined."
)

# Findings

PLACEMENT_OFF_LIMIT_STOPS = Limit(
    0.5, "stops", "A long frame placed so far off its short sibling is worth saying."
)
FILTER_OFF_MARKING_LIMIT_STOPS = Limit(
    0.25, "stops", "A filter so far off its marking is worth saying."
)
LIGHT_CHANGED_LIMIT_STOPS = Limit(0.33, "stops", "A drift from here on is worth saying.")
BRACKET_GAP_LIMIT_SHARE = Limit(
    0.005, "share of the scene", "A bracket that leaves out so much leaves a gap."
)
PANORAMA_UNEVEN_LIMIT_STOPS = Limit(
    0.1, "stops", "Exposures of a panorama that differ so much show at the seams."
)
MOVED_ERRORS = Limit(
    4.0, "standard errors", "A picture that moved by more than its shift may be off has moved."
)
MOVED_LEAST_PX = Limit(
    1.0,
    "pixels",
    "A blend shows no smaller shift: with a copy of itself a pixel aside the finest line is lost.",
)
SHIFT_LEAST_ERROR_TILES = Limit(
    0.03, "tiles", "A refined shift is no surer than that: waves and clouds change the tiles."
)
ROUGH_ERROR_TILES = Limit(0.125, "tiles", "What a shift that was not refined may be off by.")
UNSURE_TIMES = Limit(2.0, "times", "So many times as much where the frames are little alike.")
FINE_LIKE = Limit(
    0.8, "correlation", "A block of tiles less alike in both frames moved by itself: waves, clouds."
)
FINE_LEAST_BLOCKS = Limit(6, "blocks", "Fewer refine no shift.")

# Shifts on patches

PATCH_LIKE = Limit(0.7, "correlation", "A patch less alike in both frames places nothing.")
PATCH_SURE_SAMPLES = Limit(0.3, "samples", "Nor does one whose own detail leaves it so unsure.")
PATCH_AGREE_SAMPLES = Limit(0.4, "samples", "Places this near to each other agree.")
PATCH_IN_LINE = Limit(
    0.1, "of their length", "Places that lie in so narrow a line tell no shift: a wave, a branch."
)
PATCH_PULL_TIMES = Limit(
    1.5, "times", "A shift is as unsure as coarser detail puts it farther from none: uneven pixels."
)
PATCH_SPIKE_TIMES = Limit(
    2.0, "usual steps", "A sample so far above its neighbours, all but one, is a hot pixel."
)
PATCH_LEAST_ERROR_PX = Limit(0.03, "pixels", "No shift is surer: one colour is sampled coarsely.")
