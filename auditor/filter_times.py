"""Floor 4: shutter times behind filters, planned and put into words; the standard library alone."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from auditor.light.nd_kit import plan_kit
from auditor.light.nd_plan import plan_nd_time
from auditor.light.nd_want import plan_wanted_time
from auditor.words.nd_plan import kit_with_words, plan_with_words, want_with_words

Given = ParamSpec("Given")
Plan = TypeVar("Plan")


def _told(plan: Callable[Given, Plan], with_words: Callable[[Plan], Plan]) -> Callable[Given, Plan]:
    @wraps(plan)
    def told(*args: Given.args, **kwargs: Given.kwargs) -> Plan:
        return with_words(plan(*args, **kwargs))

    return told


nd_time = _told(plan_nd_time, plan_with_words)
nd_kit = _told(plan_kit, kit_with_words)
nd_want = _told(plan_wanted_time, want_with_words)
