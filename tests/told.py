"""What rooms find, with their sentences put to it, as an audit does at its end."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from auditor.advise import next_time
from auditor.group import grouping
from auditor.model.audit import FrameResult
from auditor.model.grouping import Grouping
from auditor.words.remarks import with_sentences


def group_shoot(*given: Any, **more: Any) -> Grouping:
    return with_sentences(grouping.group_shoot(*given, **more))


def with_next_time(results: Mapping[str, FrameResult], *given: Any, **more: Any) -> Grouping:
    return with_sentences(next_time.with_next_time(results, *given, **more))
