"""Where grouping writes down what it does not take, so that a refusal can be asked after.

``AUDITOR_DEBUG=group`` shows each decision as it is made.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from auditor.model.rejected import GroupKind, Rejected, Why
from auditor.model.text import visible

_LOG = logging.getLogger("auditor.group")


@dataclass(slots=True)
class Refusals:
    """The records so far: one of a kind for the same frames, the latest and therefore closest."""

    kept: dict[tuple[GroupKind, tuple[str, ...]], Rejected] = field(default_factory=dict)

    def add(self, what: GroupKind, frames: Sequence[str], why: Why) -> None:
        """Keep one refusal."""
        value, limit = (
            None if number is None or not math.isfinite(number) else round(float(number), 4)
            for number in (why.value, why.limit)
        )
        one = Rejected(what=what, frames=tuple(frames), reason=why.reason, value=value, limit=limit)
        _LOG.debug(
            "no %s: %s: %s (%s, limit %s)",
            what,
            visible(", ".join(frames)),
            why.reason,
            value,
            limit,
        )
        self.kept[what, one.frames] = one

    def take(self, others: Refusals) -> None:
        """Take over what was written down elsewhere."""
        self.kept.update(others.kept)

    def records(self) -> tuple[Rejected, ...]:
        """Return them in the order in which they were met."""
        return tuple(self.kept.values())
