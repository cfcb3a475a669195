"""Every number that the figures of a frame are judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Tones

NEAR_FLOOR = Limit(
    4.0,
    "noise floors",
    "Under it single pixels say more of the noise than of the tone: the dark end is then taken "
    "from local means.",
)
DEEPEST_STOPS = Limit(
    4.0, "stops under the noise floor", "A tone further down cannot be distinguished from black."
)
