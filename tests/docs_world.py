"""Where the documentation's examples run: a small card, a memory of the evening, a photo folder.

What the pages name by an absolute path (the card, the photos, the archive) lies under one folder
here; relative paths are looked up in it.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

import platformdirs
import pytest

from auditor.cli import main
from tests.docs_text import DOCS, blocks
from tests.evening_audit import Evening

FRAMES = (6, 7, 8, 9, 10, 16, 17, 18)
"""Of the evening: a short one, one behind six stops, two behind ten, a short one; and from another
place one behind ten stops between two short ones, so that three pairs tell of that filter."""

RENUMBERED = 36
"""``BRK_0006`` is ``IMG_0042`` in the documentation."""

PLACES = ("/media/", "/photos/", "/archive/")
SCHEDULER = "tcp://192.0.2.10:8786"


@dataclass(frozen=True)
class World:
    """A folder in which every path of the documentation is there.

    Parameters
    ----------
    root : Path
        The working folder of all examples.
    """

    root: Path

    def inside(self, text: str) -> str:
        """Lead the absolute paths of a text into this folder."""
        return re.sub(r"(?<![\w.])(/(?:media|photos|archive|no)/)", rf"{self.root}\1", text)

    def run(
        self, line: str, monkeypatch: pytest.MonkeyPatch, scheduler: str = SCHEDULER
    ) -> int | str | None:
        """Run one line as the command would; returns the exit status."""
        words = [self.inside(word) for word in shlex.split(line)]
        words = [scheduler if word == SCHEDULER else word for word in words]
        self.enter(monkeypatch)
        monkeypatch.setattr(sys, "argv", words)
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code

    def enter(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Work in this folder, with its own memory in place of the user's."""
        monkeypatch.chdir(self.root)
        monkeypatch.setattr(platformdirs, "user_data_path", lambda *_, **__: self.root / "data")


def empty_world(root: Path, evening: Evening) -> World:
    """Lay out cards and folders as a reader has them, and what the pages show as files.

    Nothing was audited here, and the home is empty.
    """
    folder = next((evening.root / evening.truth["cards"][0]).rglob("*.DNG")).parent
    frames = {
        f"IMG_{number + RENUMBERED:04d}.DNG": folder / f"BRK_{number:04d}.DNG" for number in FRAMES
    }
    names = list(frames)
    for place, chosen in {
        "media/card/DCIM/100": names,
        "media/card-1/DCIM/100": names[:3],
        "media/card-2/DCIM/101": names[3:],
        "shoots/2026": names,
        "photos/evening": names,
    }.items():
        _fill(root / place, {name: frames[name] for name in chosen})
    _fill(root / "archive/2026/first", {name: frames[name] for name in names[:2]}, new=True)
    _write_texts(root)
    return World(root)


def make_world(root: Path, evening: Evening) -> World:
    """Lay out the same where the whole evening is remembered, for the reference's examples."""
    world = empty_world(root, evening)
    for store in ("data/store.sqlite", "memory.sqlite", "evening.sqlite", "archive.sqlite",
                  "coast.sqlite"):  # fmt: skip
        (root / store).parent.mkdir(exist_ok=True)
        shutil.copy2(evening.store, root / store)
    (root / "evening").mkdir()
    shutil.copy2(evening.out / "audit.json", root / "audit.json")
    return world


def _fill(folder: Path, frames: dict[str, Path], *, new: bool = False) -> None:
    """Copy frames with their times, so that they are known; new ones are measured again."""
    folder.mkdir(parents=True)
    for name, source in frames.items():
        shutil.copy2(source, folder / name)
        if new:
            os.utime(folder / name, (1.9e9, 1.9e9))


def _write_texts(root: Path) -> None:
    """Write the settings file and the marks that the documentation itself shows."""
    toml = next(block.text for block in blocks(DOCS / "howto-card.md") if block.language == "toml")
    (root / "limits.toml").write_text(toml, encoding="utf-8")
    marks = next(b.text for b in blocks(DOCS / "reference.md") if b.language == "json")
    (root / "marks.json").write_text(marks, encoding="utf-8")
