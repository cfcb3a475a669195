"""What other packages add: findings and report formats, by entry points of their own.

They are code that the user installed, and run as such.

A package names them in its ``pyproject.toml``:

    [project.entry-points."auditor.findings"]
    night-iso = "night_iso:FINDING"

    [project.entry-points."auditor.formats"]
    kml = "kml_report:FORMAT"

``FINDING`` is a :class:`FindingExtension`, ``FORMAT`` a :class:`FormatExtension`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.metadata import entry_points
from typing import TYPE_CHECKING, Any, TypeVar

from auditor.model.errors import WrongCall
from auditor.model.findings import Finding, FindingCode, FindingKind

if TYPE_CHECKING:
    from auditor.findings.base import FrameRule, FrameView
    from auditor.model.audit import Audit

Extension = TypeVar("Extension")


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingExtension:
    """A finding on one frame that another package brings.

    Parameters
    ----------
    kind : FindingKind
        What it means; its code must be none of those that are there.
    rule : callable
        Takes a :class:`~auditor.findings.base.FrameView` and yields findings, with their text.

    Examples
    --------
    >>> from auditor.api import FindingExtension, FindingKind, Severity
    >>> kind = FindingKind(code="no-lens", title="No lens", severity=Severity.NOTE,
    ...                    meaning="The lens is not told.", measured="Tags.", next_time="Nothing.")
    >>> FindingExtension(kind=kind, rule=lambda view: iter(())).kind.code
    'no-lens'
    """

    kind: FindingKind
    rule: FrameRule

    def found(self, view: FrameView) -> tuple[Finding, ...]:
        """Return what the rule finds on a frame.

        Raises
        ------
        WrongCall
            The rule fails, or finds what is not of its kind.
        """
        try:
            found = tuple(self.rule(view))
        except Exception as error:  # whatever another package's code raises
            raise WrongCall(
                f"{view.result.id}: the extension of the finding {self.kind.code} failed "
                f"({type(error).__name__}: {error}). Update its package, or uninstall it."
            ) from error
        if any(one.code != self.kind.code for one in found):
            raise WrongCall(f"The extension of the finding {self.kind.code} told another code.")
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class FormatExtension:
    """A report format that another package brings.

    Parameters
    ----------
    file : str
        Name of the file that it writes.
    build : callable
        Takes an :class:`~auditor.model.audit.Audit` and returns the file's bytes.

    Examples
    --------
    >>> from auditor.api import FormatExtension
    >>> FormatExtension(file="count.txt", build=lambda audit: b"%d" % len(audit.frames)).file
    'count.txt'
    """

    file: str
    build: Callable[[Audit], bytes]


@cache
def finding_extensions() -> tuple[FindingExtension, ...]:
    """Return the findings of other packages, by the names of their entry points.

    Raises
    ------
    WrongCall
        One cannot be loaded; the message names its package.
    """
    found = tuple(one for _, one in _loaded("auditor.findings", FindingExtension))
    for one in found:
        if one.kind.code in set(FindingCode):
            raise WrongCall(f"An extension brings the finding {one.kind.code}, which there is.")
    return found


@cache
def format_extensions() -> dict[str, FormatExtension]:
    """Return the report formats of other packages by their names.

    Raises
    ------
    WrongCall
        One cannot be loaded; the message names its package.
    """
    return dict(_loaded("auditor.formats", FormatExtension))


def _loaded(group: str, kind: type[Extension]) -> Iterator[tuple[str, Extension]]:
    for point in sorted(entry_points(group=group), key=lambda point: point.name):
        package = point.dist.name if point.dist else "a package"
        try:
            found: Any = point.load()
        except Exception as error:  # whatever another package's code raises
            raise WrongCall(
                f"{package}: its extension {point.name} cannot be loaded ({error}). Update the "
                "package, or uninstall it."
            ) from error
        if not isinstance(found, kind):
            raise WrongCall(
                f"{package}: its extension {point.name} is no {kind.__name__}. Update the package, "
                "or uninstall it."
            )
        yield point.name, found
