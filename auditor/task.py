"""Floor 3: what is sent to a worker, and what comes back.

Light: workers are started before what measures, judges and stores is loaded here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pkgutil import resolve_name
from typing import TYPE_CHECKING, Any, Generic

from auditor.model.facts import FileLook
from auditor.model.outcome import Result, Spent, Task

if TYPE_CHECKING:
    from auditor.model.errors import FrameFailure
    from auditor.model.large import LargePicture
    from auditor.model.settings import MeasureSettings
    from auditor.store.packing import PackedMeasures


@dataclass(frozen=True, slots=True)
class ExamineTask:
    """One file to measure.

    Parameters
    ----------
    path : str
        Where the worker finds it, on its own disk or at a URL.
    kind : str
        The container, as :mod:`auditor.read.card` told it.
    thorough : bool
        Also hold the digest that some files carry against their pixels, which takes a while.
    lacking : mapping of digest to frozenset of str
        Of contents of which something is known: the measures that they lack, and
        :data:`auditor.model.large.LARGE` where their large pictures are. Where they lack nothing
        the file is read and not decoded.
    of_others : frozenset of str or None
        What is wanted of any other content; None for every measure.
    """

    path: str
    kind: str
    settings: MeasureSettings
    thorough: bool = False
    lacking: Mapping[str, frozenset[str]] = field(default_factory=dict)
    of_others: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class Examined:
    """What a file is, and what came of it.

    Parameters
    ----------
    digest : str
        Of all its bytes.
    look : FileLook
        What a quick look at what was read would have told.
    result : PackedMeasures, FrameFailure or None
        None for a content of which everything was measured before.
    spent : Spent
        What it took.
    pictures : tuple of LargePicture or None
        Where they were wanted and could be made; :data:`auditor.model.large.MOST_BYTES` at most.
    """

    digest: str
    look: FileLook
    result: PackedMeasures | FrameFailure | None
    spent: Spent
    pictures: tuple[LargePicture, ...] | None = None


@dataclass(frozen=True, slots=True)
class Named(Generic[Task, Result]):
    """A function that is loaded where it is called, which need not be here.

    Parameters
    ----------
    place : str
        ``module:name``.
    """

    place: str

    def __call__(self, task: Task) -> Result:
        """Call it here."""
        function: Callable[[Task], Result] = resolve_name(self.place)
        return function(task)

    def __reduce__(self) -> tuple[Any, ...]:
        """Be sent as the function itself: a worker loads it before its memory is limited."""
        return resolve_name, (self.place,)


examine_packed: Named[ExamineTask, Examined] = Named("auditor.examine:examine_packed")
"""See :func:`auditor.examine.examine_packed`."""

get_ready: Named[None, None] = Named("auditor.examine:get_ready")
"""See :func:`auditor.examine.get_ready`."""
