"""Every number that lens shading is judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# What is asked

LEAST_BLOCKS = Limit(
    6, "blocks", "Along each side: a smaller picture has no corners apart from its centre."
)
LEAST_SIGNAL_DN = Limit(
    24.0,
    "DN",
    "Black is known to a fraction of a DN: under this its error is no small part of the signal.",
)

# Whether the scene is even

LEAST_FOLLOWING = Limit(0.75, "share of the blocks", "So many neither clip nor leave the fit.")
CORNER_SHARE = Limit(0.6, "share of the blocks", "The same in each corner, and in the centre.")
MOST_SCATTER_STOPS = Limit(
    0.06,
    "stops",
    "What grain of walls, mist and cloud leave after the fit; a landscape's own tones leave more.",
)
MOST_SLOPE_STOPS = Limit(
    1.2, "stops", "Light that falls off by more from edge to edge is never straight."
)
MOST_SADDLE_STOPS = Limit(
    0.12, "stops", "The part that is curved in one direction may hide as much that is in all."
)

# Whether it is a lens

STEEP_SHARE = Limit(
    0.5,
    "share of the shading at the corner",
    "Reached half way there: lenses shade a third or less by then, and a glow that fades from the "
    "centre more than this.",
)
SMALL_STOPS = Limit(
    0.15,
    "stops",
    "Under this, shading and none cannot be distinguished, and its shape says nothing.",
)
MOST_BRIGHTER_STOPS = Limit(0.1, "stops", "No lens lights its corners by more than its centre.")
