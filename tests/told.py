"""What rooms find, with their sentences put to it, as an audit does at its end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from auditor.advise import keepers, lessons, next_time
from auditor.figures import frame
from auditor.group import grouping
from auditor.light import optics
from auditor.model.audit import FrameResult, Keeper, Lesson
from auditor.model.grouping import Grouping
from auditor.model.optics import FrameOptics
from auditor.model.remark import Remark
from auditor.words import findings
from auditor.words.keepers import keeper_of
from auditor.words.lessons import lesson_of
from auditor.words.optics import optics_reasons
from auditor.words.remarks import sentences, with_sentences


def said(remarks: tuple[Remark, ...]) -> str:
    return " ".join(sentences(remarks))


def judge_frame(*given: Any) -> FrameResult:
    return findings.with_sentences(frame.judge_frame(*given))


def group_shoot(*given: Any, **more: Any) -> Grouping:
    return with_sentences(grouping.group_shoot(*given, **more))


def choose_keepers(*given: Any, **more: Any) -> tuple[Keeper, ...]:
    return tuple(map(keeper_of, keepers.choose_keepers(*given, **more)))


def with_next_time(results: Mapping[str, FrameResult], *given: Any, **more: Any) -> Grouping:
    return with_sentences(next_time.with_next_time(results, *given, **more))


def draw_lessons(*given: Any, **more: Any) -> tuple[Lesson, ...]:
    return tuple(map(lesson_of, lessons.draw_lessons(*given, **more)))


def frame_optics(frame: FrameResult) -> FrameOptics:
    found = optics.frame_optics(frame)
    return replace(found, reasons=optics_reasons(replace(frame, optics=found)))
