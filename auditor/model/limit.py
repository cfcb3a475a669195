"""A limit that a rule decides by: a number that also says what it means.

Each subject's room keeps its limits in one file, ``limits.py``. The rules use them as plain
numbers; the documentation and ``auditor explain`` make their tables from them; and
``make check-limits`` moves each by a third and asks the tests to notice.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from importlib import import_module
from types import ModuleType

ROOMS = (
    "black", "noise", "clipping", "defects", "preview", "detail", "lens", "history", "figures",
    "advise", "group",
)  # fmt: skip
"""Rooms that keep a table of limits."""


class Limit(float):
    """A number with its unit and its meaning.

    Parameters
    ----------
    value : float
    unit : str
        "share of the frame", "stops", "noise sigmas" ...; empty for a plain count.
    meaning : str
        What is decided by it, in one sentence, and where the value is from.
    setting : str
        The setting that overrules it, as ``table.name``; empty where none does.

    Examples
    --------
    >>> whole = Limit(0.5, "share of a tile", "From it on a tile is lost.")
    >>> 0.6 >= whole, whole.unit
    (True, 'share of a tile')
    """

    __slots__ = ("meaning", "setting", "unit")

    unit: str
    meaning: str
    setting: str

    def __new__(cls, value: float, unit: str, meaning: str, *, setting: str = "") -> Limit:
        """Make a float that carries its description."""
        made = super().__new__(cls, value)
        made.unit, made.meaning, made.setting = unit, meaning, setting
        return made

    def __reduce__(self) -> tuple[Callable[..., Limit], tuple[float, str, str]]:
        """Let it be copied and sent to workers."""
        again = partial(type(self), setting=self.setting)
        return again, (float(self), self.unit, self.meaning)


def limits_of(module: ModuleType) -> dict[str, Limit]:
    """Return the limits that a module defines, by name, in its order."""
    return {name: value for name, value in vars(module).items() if isinstance(value, Limit)}


def all_limits() -> dict[str, dict[str, Limit]]:
    """Return every room's limits by room and name."""
    return {room: limits_of(import_module(f"auditor.{room}.limits")) for room in ROOMS}
