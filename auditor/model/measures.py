"""The table of measures: what is measured on a file, in which version, and where its record lies.

The store keeps each measure of a file apart, with its version. One that is new, or whose version
was raised, is missing from files measured before; the next audit measures that one and leaves
the others as they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from operator import attrgetter
from typing import Any, get_type_hints

from auditor.model.measurement import FrameMeasurement


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One measure.

    Parameters
    ----------
    name : str
        Under which the store keeps it.
    version : int
        Raised when its values change their meaning, or their records their fields.
    function : str
        Module and name of what measures it: it takes a frame while it is examined
        (:class:`auditor.measures.frame.FrameView`) and returns the record; where there are
        several fields, a tuple of their values.
    fields : tuple of str
        Where the record lies: names of fields, from :class:`FrameMeasurement` down.
    pixels : bool
        Whether it needs the pixels; what does not is measured once they are let go.
    """

    name: str
    version: int
    function: str
    fields: tuple[str, ...]
    pixels: bool = True

    def measure(self, frame: Any) -> dict[str, Any]:
        """Measure a frame; returns the values by field."""
        module, _, name = self.function.rpartition(".")
        found = getattr(import_module(module), name)(frame)
        return dict(zip(self.fields, found if len(self.fields) > 1 else (found,), strict=True))


_FRAME = "auditor.measures.frame"

MEASURES: tuple[Measure, ...] = (
    Measure(
        name="file",
        version=5,
        function=f"{_FRAME}.file_facts",
        fields=(
            "facts",
            "decoder",
            "remarks",
            *(f"mosaic.{name}" for name in ("layout", "width", "height", "bit_depth")),
        ),
    ),
    Measure(
        # black, histogram, pile-up, noise and hot pixels, plane by plane
        name="planes",
        version=17,
        function=f"{_FRAME}.planes",
        fields=("mosaic.planes",),
    ),
    Measure(
        name="tiles",
        version=2,
        function=f"{_FRAME}.tiles",
        fields=tuple(
            f"mosaic.maps.{name}"
            for name in (
                "tile_px",
                "mean_dn",
                "max_dn",
                "over_share",
                "any_over_share",
                "all_over_share",
            )
        ),
    ),
    Measure(
        name="detail",
        version=1,
        function=f"{_FRAME}.detail",
        fields=("mosaic.maps.detail", "mosaic.sharpness"),
    ),
    Measure(name="hot", version=1, function=f"{_FRAME}.hot", fields=("mosaic.hot",)),
    Measure(name="damage", version=9, function=f"{_FRAME}.damage", fields=("mosaic.damage",)),
    Measure(name="shading", version=1, function=f"{_FRAME}.lens_shading", fields=("shading",)),
    Measure(name="patches", version=1, function=f"{_FRAME}.patches", fields=("patches",)),
    Measure(
        name="preview",
        version=5,
        function=f"{_FRAME}.preview",
        fields=("preview",),
        pixels=False,
    ),
    Measure(
        name="pictures",
        version=1,
        function=f"{_FRAME}.pictures",
        fields=("pictures",),
        pixels=False,
    ),
)
"""In the order in which they are measured."""

Values = dict[str, Any]
"""The values of measures, by field."""


def all_names() -> frozenset[str]:
    """Return the names of all measures."""
    return frozenset(measure.name for measure in MEASURES)


def version_of(name: str) -> int | None:
    """Return the version of a measure; None where there is none of that name."""
    return next((measure.version for measure in MEASURES if measure.name == name), None)


def values_of(measured: FrameMeasurement) -> Values:
    """Take a measurement apart."""
    fields = [field for measure in MEASURES for field in measure.fields]
    return {field: attrgetter(field)(measured) for field in fields}


class _Branch(dict[str, Any]):
    """The fields of a record that is put together from several measures."""


def measurement_of(values: Mapping[str, Any]) -> FrameMeasurement:
    """Put a measurement together from the values of its fields."""
    tree = _Branch()
    for field, value in values.items():
        *branches, leaf = field.split(".")
        at = tree
        for name in branches:
            at = at.setdefault(name, _Branch())
        at[leaf] = value
    built: FrameMeasurement = _built(FrameMeasurement, tree)
    return built


def _built(kind: Any, tree: _Branch) -> Any:
    hints = _hints(kind)
    return kind(
        **{
            name: _built(hints[name], value) if isinstance(value, _Branch) else value
            for name, value in tree.items()
        }
    )


@cache
def record_kind(fields: Iterable[str]) -> Any:
    """Return the type of what the store keeps of a measure: a tuple of its fields' values."""
    kinds = []
    for field in fields:
        kind: Any = FrameMeasurement
        for name in field.split("."):
            kind = _hints(kind)[name]
        kinds.append(kind)
    return tuple[tuple(kinds)]  # type: ignore[misc]


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)
