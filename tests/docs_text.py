"""The documentation as text: its pages, fenced blocks, command lines, headings and links."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "auditor" / "docs"

_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_HEADING = re.compile(r"^#{1,6} +(.+?)\s*$", re.MULTILINE)
_LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")
_COMMAND = re.compile(r"^(?:\.venv/bin/)?(auditor .*)$")


@dataclass(frozen=True, slots=True)
class Block:
    """One fenced block."""

    language: str
    text: str


def pages() -> tuple[Path, ...]:
    """The README and every page of the documentation, how-tos before the reference."""
    own = sorted(DOCS.glob("*.md"), key=lambda page: (page.name == "reference.md", page.name))
    return (ROOT / "README.md", *own)


def blocks(page: Path) -> tuple[Block, ...]:
    """The fenced blocks of a page, in order."""
    text = page.read_text(encoding="utf-8")
    return tuple(Block(found[1], found[2]) for found in _FENCE.finditer(text))


def command_lines(page: Path) -> tuple[str, ...]:
    """Every line of a page that calls the command, from ``auditor`` on."""
    lines = [line for block in blocks(page) if not block.language for line in _lines(block.text)]
    return tuple(found[1] for line in lines if (found := _COMMAND.match(line)))


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.replace("\\\n", " ").splitlines()]


def prose(page: Path) -> str:
    """A page without its fenced blocks, its lines joined."""
    return " ".join(_FENCE.sub("", page.read_text(encoding="utf-8")).split())


def anchors(page: Path) -> set[str]:
    """What a link can point to on a page: its headings as renderers name them."""
    seen: Counter[str] = Counter()
    found = set()
    for heading in _HEADING.findall(_FENCE.sub("", page.read_text(encoding="utf-8"))):
        name = re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
        found.add(name if not seen[name] else f"{name}-{seen[name]}")
        seen[name] += 1
    return found


def links(page: Path) -> tuple[str, ...]:
    """The targets of all links of a page."""
    return tuple(_LINK.findall(_FENCE.sub("", page.read_text(encoding="utf-8"))))
