"""x."""

from __future__ import annotations

from collections.abc import Callable

from sample_generation.plans import Plan

HABITS: dict[str, Callable[[int], Plan]] = {}
