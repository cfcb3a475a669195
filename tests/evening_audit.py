"""One evening, made and audited once for all tests that look at it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.audit import AuditEnd, run_audit
from auditor.model.errors import FrameFailure
from auditor.model.outcome import ProgressListener
from auditor.request import AuditRequest
from sample_generation.shoots import make_shoot


class KeepingListener(ProgressListener):
    """Keeps what it is told."""

    def __init__(self) -> None:
        self.warnings: list[str] = []
        self.examined_files: list[str] = []

    def found(self, files: int, known: int, copies: int) -> None:
        self.files, self.known, self.copies = files, known, copies

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        self.examined_files.append(file)

    def warning(self, text: str) -> None:
        self.warnings.append(text)


@dataclass(frozen=True)
class Evening:
    """A made shoot with its truth and its audit."""

    root: Path
    truth: dict[str, Any]
    end: AuditEnd
    out: Path
    store: Path
    listener: KeepingListener

    @property
    def cards(self) -> tuple[str, ...]:
        return tuple(str(self.root / card) for card in self.truth["cards"])

    def name(self, frame_id: str) -> str:
        """The frame's name in the truth: BRK_0001 for DCIM/100BRKWL/BRK_0001.DNG."""
        return Path(frame_id.rpartition(":")[2]).stem


def audited_evening(root: Path) -> Evening:
    """Make the sample evening small, audit it, and keep both."""
    make_shoot("evening", root / "shoot", megapixels=1.0, seed=7, workers=2)
    truth = json.loads((root / "shoot" / "truth.json").read_text())
    cards = tuple(str(root / "shoot" / card) for card in truth["cards"])
    listener = KeepingListener()
    request = AuditRequest(
        cards,
        root / "out",
        formats=("html", "png", "json", "csv", "md"),
        store=root / "store.sqlite",
        workers=2,
    )
    end = run_audit(request, listener)
    return Evening(root / "shoot", truth, end, root / "out", root / "store.sqlite", listener)
