"""Make the documentation's site: ``python -m tests.site_maker OUT``.

The pages are the files of ``auditor/docs`` as they are. The notebook becomes a page of its own, and
the order of the pages is the index's. Every warning is an error: a link to nowhere is one.
"""

from __future__ import annotations

import base64
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from sphinx.cmd.build import build_main

from tests.docs_text import DOCS
from tests.notebook_maker import read

SITE = Path(__file__).parent / "site"
CONTENTS = "\n```{{toctree}}\n:hidden:\n:caption: {title}\n\n{names}\n```\n"


def make_site(out: Path, docs: Path = DOCS) -> int:
    """Write the site of a folder of pages into ``out``; returns the builder's exit status."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "source"
        shutil.copytree(docs, source, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
        if (source / "notebook.ipynb").exists():
            notebook_page(source)
        for page in source.glob("*.md"):
            text = page.read_text(encoding="utf-8").replace("(notebook.ipynb)", "(notebook.md)")
            page.write_text(text + (contents(text) if page.stem == "index" else ""), "utf-8")
        doctrees = str(Path(folder) / "doctrees")
        return build_main(
            [
                "-W",
                "--keep-going",
                "-q",
                "-a",
                "-c",
                str(SITE),
                "-d",
                doctrees,
                str(source),
                str(out),
            ]
        )


def contents(index: str) -> str:
    """The side bar's list, from the headings and links of the index."""
    parts = re.split(r"^## (.+)$", index, flags=re.MULTILINE)[1:]
    found = ((title, re.findall(r"\]\((\w[\w-]*)\.md\)", text)) for title, text in _twos(parts))
    return "".join(
        CONTENTS.format(title=title, names="\n".join(names)) for title, names in found if names
    )


def _twos(parts: list[str]) -> Iterator[tuple[str, str]]:
    return zip(parts[::2], parts[1::2], strict=True)


def notebook_page(source: Path) -> None:
    """Write the notebook as a page, with what it answered, its pictures beside it."""
    (source / "notebook.ipynb").unlink()
    parts = []
    for cell in read().cells:
        if cell.cell_type == "markdown":
            parts.append(cell.source)
            continue
        parts.append(f"```python\n{cell.source}\n```")
        for output in cell.outputs:
            if output.output_type == "stream":
                parts.append(f"```text\n{output.text}```")
            elif "image/png" in output.data:
                name = f"notebook-{len(parts)}.png"
                (source / name).write_bytes(base64.b64decode(output.data["image/png"]))
                parts.append(f"![What the lines above draw]({name})")
            else:
                parts.append(output.data["text/html"])
    (source / "notebook.md").write_text("\n\n".join(parts) + "\n", encoding="utf-8")


def main() -> None:
    """Make it, and say where it begins."""
    out = Path(sys.argv[1])
    status = make_site(out)
    if status == 0:
        print(f"Open {out / 'index.html'}")
    sys.exit(status)


if __name__ == "__main__":
    main()
