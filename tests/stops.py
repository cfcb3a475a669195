"""Count the stops of one value on its way: red's blown share, from the file to the page.

A stop is a function of the package on the call stack when the value is counted, packed, kept,
read back, given its level, judged, put into words and written into the page; each once, from
``run_audit`` on. ``python -m tests.stops`` lists them in the order in which they are met.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

import auditor
from auditor.audit import run_audit
from auditor.engine.worker import call
from auditor.examine import examine_packed
from auditor.model.outcome import ProgressListener
from auditor.model.settings import MeasureSettings
from auditor.request import AuditRequest
from auditor.task import ExamineTask
from tests.built_dng import clipping_ramp, write_dng

PACKAGE = Path(auditor.__file__).parent

Stop = tuple[str, str]
"""File, and function."""

IN_A_WORKER = {
    "HistogramCounter.finish": "sensor/histogram.py",
    "pack_values": "store/packing.py",
}
IN_THE_PARENT = {
    "_Batch._settle": "engine/local.py",
    "keep": "store/frames.py",
    "fetch": "store/frames.py",
    "_settle_plane": "clipping/settle.py",
    "SettledPlane.blown_pixels": "model/settled.py",
    "channel_sheet": "report/page_channels.py",
    "_row": "report/html_data.py",
}
"""Where the value is handled, and in which file."""


def stops() -> list[Stop]:
    """Audit one frame and return the stops in their order."""
    met: dict[Stop, None] = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "card" / "F45_0001.DNG"
        path.parent.mkdir()
        write_dng(path, clipping_ramp((96, 144), 1))
        # what a worker does, done here: its own door would set this process a ceiling
        met["engine/worker.py", call.__name__] = None
        with traced(IN_A_WORKER, met):
            examine_packed(ExamineTask(str(path), "dng", MeasureSettings()))
        request = AuditRequest(
            paths=(str(path.parent),), out=Path(folder) / "out", store=Path(folder) / "store",
            formats=("html",), workers=1,
        )  # fmt: skip
        parents: dict[Stop, None] = {}
        with traced(IN_THE_PARENT, parents):
            run_audit(request, ProgressListener())
    return list(parents | met)


@contextmanager
def traced(leaves: Mapping[str, str], met: dict[Stop, None]) -> Iterator[None]:
    """Note the functions of the package on the shortest stack on which each of these is called."""
    ways: dict[Stop, list[Stop]] = {}
    wanted = {(file, name) for name, file in leaves.items()}
    names = {name.rpartition(".")[2] for name in leaves}

    def look(frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and frame.f_code.co_name in names and stop_of(frame) in wanted:
            way = list(stack_of(frame))[::-1]
            known = ways.setdefault(stop_of(frame), way)
            if len(way) <= len(known):
                ways[stop_of(frame)] = way

    before: Callable[..., Any] | None = sys.getprofile()
    sys.setprofile(look)
    try:
        yield
    finally:
        sys.setprofile(before)
    assert ways.keys() == wanted, f"not met on the way: {wanted - ways.keys()}"
    for way in ways.values():
        met.update(dict.fromkeys(way))


def stop_of(frame: FrameType) -> Stop:
    """Return file and function of a frame; the file is empty outside the package."""
    path = Path(frame.f_code.co_filename)
    inside = path.is_relative_to(PACKAGE)
    return str(path.relative_to(PACKAGE)) if inside else "", frame.f_code.co_qualname


def stack_of(frame: FrameType | None) -> Iterator[Stop]:
    """Yield the functions of the package from the innermost out; comprehensions are none."""
    while frame is not None:
        file, name = stop_of(frame)
        if file and not name.endswith(">"):
            yield file, name
        frame = frame.f_back


if __name__ == "__main__":
    found = stops()
    for file, name in found:
        print(f"{file}: {name}")
    print(f"{len(found)} functions in {len({file for file, _ in found})} files")
