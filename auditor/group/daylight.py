"""Whether a cast may be the light's own: daylight turns bluer along one line as the sun goes in."""

from __future__ import annotations

import numpy as np

from auditor.group.limits import (
    DAYLIGHT_ASIDE,
    DAYLIGHT_REACH_STOPS,
    LIKE_ANOTHER_CAST_STOPS,
    RED_FOR_BLUE,
)
from auditor.model.arrays import F64, Bool


def of_daylight(red: F64, blue: F64) -> Bool:
    """Tell which casts are no cast at all, or such as daylight has when its colour changes.

    Sun and sky together are of some 5500 K, an overcast sky and open shade of 6000 to 7500: what
    is held back then is more of the red and less of the blue, in a proportion that the CIE
    daylight illuminants (CIE 15) tell and cameras keep roughly.

    Parameters
    ----------
    red, blue : array, shape (n,)
        Stops that each was held back beyond green; NaN, where one is not told, counts as none.
    """
    red, blue = np.nan_to_num(red), np.nan_to_num(blue)
    aside = np.abs(red + RED_FOR_BLUE * blue)
    near = aside <= LIKE_ANOTHER_CAST_STOPS + DAYLIGHT_ASIDE * np.abs(blue)
    return np.asarray(near & (np.abs(blue) <= DAYLIGHT_REACH_STOPS))
