"""The gallery shows each finding on a picture, and says what the audit of the evening said."""

from __future__ import annotations

import re
from pathlib import Path

from auditor.words.kinds import KINDS
from tests import gallery_maker
from tests.evening_audit import Evening

TEXT = gallery_maker.GALLERY.read_text(encoding="utf-8")


def test_the_gallery_is_that_of_the_evening(evening: Evening, tmp_path: Path) -> None:
    audits = gallery_maker.audits_of(evening, tmp_path)
    assert gallery_maker.build_gallery(audits) == TEXT, "python -m tests.gallery_maker"


def test_every_finding_is_shown_or_said_to_have_no_picture() -> None:
    shown, _, unseen = TEXT.partition("## What no picture shows")
    for code, kind in KINDS.items():
        assert (f"## {kind.title}\n\n![" in shown) != (f"- [`{code}`]" in unseen), code


def test_its_pictures_are_there_small_and_all_in_use() -> None:
    named = {Path(name).name for name in re.findall(r"\]\((gallery/[^)]+)\)", TEXT)}
    files = list(gallery_maker.FOLDER.iterdir())
    assert {path.name for path in files} == named
    assert sum(path.stat().st_size for path in files) < 600_000
