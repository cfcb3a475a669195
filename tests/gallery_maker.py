"""Make the gallery of findings from the sample evening: ``python -m tests.gallery_maker``.

Pictures and sentences are those of an audit of the evening at one megapixel; one file is damaged
for the purpose, and what the evening does not hold is taken on a card of its own. What no picture
shows is listed.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from PIL import Image

from auditor.api import audit_shoot
from auditor.examine import examine_file
from auditor.model.audit import Audit, FrameResult
from auditor.model.findings import FindingCode, FindingKind
from auditor.model.measurement import FrameMeasurement
from auditor.report.page_pictures import FramePictures, frame_pictures
from auditor.report.png_marks import opened, with_losses
from auditor.task import ExamineTask
from auditor.words.kinds import KINDS
from sample_generation.camera import Exposure, SimulatedCamera
from sample_generation.coast import coast_radiance
from sample_generation.dng import dng_bytes
from sample_generation.frames import expose_shot, facts_of
from sample_generation.plans import Shot
from sample_generation.shoots import SHOOTS
from tests.docs_text import DOCS
from tests.evening_audit import Evening, audited_evening

GALLERY, FOLDER = DOCS / "gallery.md", DOCS / "gallery"
WIDTH_PX, HEIGHT_PX, QUALITY = 340, 230, 80
SEED = 7
DAMAGED, LOST_BYTES = "BRK_0012", 32 * 1024

Others = Callable[[Audit, str], tuple[str, ...]]


def alone(audit: Audit, frame: str) -> tuple[str, ...]:
    """The frame by itself."""
    return (frame,)


def in_pair(audit: Audit, frame: str) -> tuple[str, ...]:
    """The short frame and the long one."""
    pair = next(one for one in audit.siblings if frame == one.long and one.best)
    return pair.short, pair.long


def in_set(audit: Audit, frame: str) -> tuple[str, ...]:
    """The frames of its bracket or panorama."""
    sets = [one.frames for one in audit.brackets] + [one.frames for one in audit.panoramas]
    return next(frames for frames in sets if frame in frames)


def after_another(audit: Audit, frame: str) -> tuple[str, ...]:
    """The frame of its set-up before it, and the frame."""
    frames = next(setup.frames for setup in audit.setups if frame in setup.frames)
    place = frames.index(frame)
    return frames[max(0, place - 1) : place + 1]


@dataclass(frozen=True)
class Shown:
    """How a finding is shown.

    Parameters
    ----------
    frames : callable
        Which frames, from the audit and the one that has the finding.
    preview : bool
        Whether the camera's preview stands beside the raw data.
    least : bool
        Whether the frame with the least value shows it best.
    """

    frames: Others = alone
    preview: bool = False
    least: bool = False


SHOWN: Mapping[FindingCode, Shown] = {
    FindingCode.DAMAGED_DATA: Shown(),
    FindingCode.BLOWN_AREA: Shown(),
    FindingCode.BLOWN_CHANNEL: Shown(),
    FindingCode.BLOWN_POINTS: Shown(),
    FindingCode.BLOCKED_AREA: Shown(),
    FindingCode.RANGE_TOO_LONG: Shown(),
    FindingCode.DARK_FRAME: Shown(),
    FindingCode.HEADROOM_LEFT: Shown(least=True),
    FindingCode.SKY_BRIGHTER: Shown(least=True),
    FindingCode.PREVIEW_EARLY: Shown(preview=True),
    FindingCode.PREVIEW_HIDES: Shown(preview=True),
    FindingCode.PLACEMENT_OFF: Shown(in_pair),
    FindingCode.FILTER_OFF_MARKING: Shown(in_pair),
    FindingCode.FILTER_CAST: Shown(in_pair),
    FindingCode.LIGHT_CHANGED: Shown(in_pair),
    FindingCode.TRIPOD_MOVED: Shown(after_another),
    FindingCode.BRACKET_LONGER: Shown(in_set),
    FindingCode.BRACKET_GAP: Shown(in_set),
    FindingCode.PANORAMA_UNEVEN: Shown(in_set),
}

SAID = {"raw": "from the raw data", "preview": "as the camera showed it"}

HEAD = """\
# Gallery: what each finding looks like

Written from an audit of the sample evening; do not edit by hand (`python -m tests.gallery_maker`
in a checkout writes it). Hatched areas and dots are blown, stippled ones are under the noise
floor, as in every report. The sentences are the audit's own.

"""

UNSEEN = """\
## What no picture shows

These are in the figures, or smaller than a small picture shows. `auditor explain CODE` tells more.

"""


def build_gallery(audits: tuple[Audit, ...]) -> str:
    """Return the page, from the audits in which the findings are looked for."""
    parts = [HEAD]
    for code, shown in SHOWN.items():
        audit, frame = told(audits, code)
        text = next(one.text for one in frame.findings if one.code == code)
        pictures = " ".join(
            f"![{Path(name).stem}, {SAID[kind]}](gallery/{file_name(name, kind)})"
            for name, kind in wanted(audit, frame.id, shown)
        )
        parts.append(_section(KINDS[code], pictures, f"`{Path(frame.id).stem}`: {_short(text)}"))
    rest = [kind for code, kind in KINDS.items() if code not in SHOWN]
    parts.append(UNSEEN)
    parts += [
        f"- [`{one.code}`](reference.md#{one.code}), {one.title}: {one.meaning}\n" for one in rest
    ]
    return "".join(parts)


def _section(kind: FindingKind, pictures: str, told: str) -> str:
    more = f"[How it is measured, and what to do next time](reference.md#{kind.code})."
    return f"## {kind.title}\n\n{pictures}\n\n> {told}\n\n{kind.meaning} {more}\n\n"


def _short(text: str) -> str:
    """A sentence with the names of frames as a photographer says them."""
    words = (Path(w.rstrip(".,;")).stem + w[len(w.rstrip(".,;")) :] if ".DNG" in w else w
             for w in text.split())  # fmt: skip
    return " ".join(words)


def told(audits: tuple[Audit, ...], code: FindingCode) -> tuple[Audit, FrameResult]:
    """The frame in which a finding is plainest, of the first audit that has it."""
    for audit in audits:
        found = {
            frame.id: finding.value or 0.0
            for frame in audit.frames
            for finding in frame.findings
            if finding.code == code
        }
        if found:
            plainest = min if SHOWN[code].least else max
            return audit, audit.frame(plainest(found, key=found.__getitem__))
    raise LookupError(code)


def wanted(audit: Audit, frame: str, shown: Shown) -> Iterator[tuple[str, str]]:
    """Which frames are shown, and how."""
    for name in shown.frames(audit, frame):
        if shown.preview:
            yield name, "preview"
        yield name, "raw"


def file_name(frame: str, kind: str) -> str:
    """The picture's file."""
    return f"{Path(frame.rpartition(':')[2]).stem.lower()}-{kind}.jpg"


def write_pictures(audits: tuple[Audit, ...]) -> None:
    """Draw every picture of the page, and no other."""
    FOLDER.mkdir(exist_ok=True)
    names = set()
    for code, shown in SHOWN.items():
        audit, frame = told(audits, code)
        for name, kind in wanted(audit, frame.id, shown):
            pictures = frame_pictures(audit.frame(name), Examining(audit))
            assert pictures is not None
            names.add(file_name(name, kind))
            _write(FOLDER / file_name(name, kind), pictures, kind)
    for path in FOLDER.iterdir():
        if path.name not in names:
            path.unlink()


def _write(path: Path, pictures: FramePictures, kind: str) -> None:
    jpeg = pictures.preview if kind == "preview" else pictures.thumb
    picture = opened(jpeg, WIDTH_PX, HEIGHT_PX)
    assert picture is not None
    if kind == "raw":
        picture = with_losses(picture, pictures.lost, pale=False)
    Image.fromarray(picture).save(path, quality=QUALITY, optimize=True)


def damaged_card(evening: Evening, folder: Path) -> Path:
    """A card of one frame that lost a cluster of its pixels to zeros."""
    (source,) = Path(evening.cards[0]).rglob(f"{DAMAGED}.DNG")
    content = bytearray(source.read_bytes())
    at = len(content) // 2 // 512 * 512
    content[at : at + LOST_BYTES] = bytes(LOST_BYTES)
    folder.mkdir()
    (folder / "DAMAGED.DNG").write_bytes(content)
    return folder


def odd_card(folder: Path) -> Path:
    """A card of frames that show what the evening does not."""
    folder.mkdir()
    shots = {shot.name: shot for shot in SHOOTS["evening"](SEED).shots}

    def take(name: str, shot: Shot, exposure: Exposure | None = None, **style: Any) -> None:
        exposure = exposure or expose_shot(shot, 1.0)
        content = dng_bytes(exposure, facts_of(shot), style=replace(shot.body.style, **style))
        (folder / f"{name}.DNG").write_bytes(content)

    blown = shots["BRK_0011"]
    # the camera shows the picture darker than it is
    take("HIDE_01", replace(blown, time_s=0.4 * blown.time_s), early_stops=-0.7,
         white_balance=(1.0, 1.0, 1.0))  # fmt: skip
    for number, name in enumerate(("BRK_0001", "BRK_0003", "BRK_0005"), 1):
        shot = shots[name]  # two stops too long, each of them
        take(f"GAP_0{number}", replace(shot, time_s=4.0 * shot.time_s))
    even = shots["BRK_0012"]  # a level sea, no graduated filter before the sky
    take("SKY_01", replace(even, time_s=4.0 * even.time_s))
    lit = replace(shots["BRK_0005"], time_s=2.0 * shots["BRK_0005"].time_s)
    take("RANGE_01", lit, in_deep_shade(lit))
    for number, shot in enumerate(SHOOTS["decoy-knock"](SEED).shots, 1):
        take(f"KNOCK_0{number}", shot)
    return folder


def in_deep_shade(shot: Shot) -> Exposure:
    """Expose a scene whose ground gets nine stops less light."""
    sensor = shot.body.sensor(1.0)
    size = sensor.width, sensor.height
    light = coast_radiance(shot.composition, shot.dusk, shot.at_s, shot.time_s, size)
    light[round(0.7 * sensor.height) :] *= 2.0**-9
    return SimulatedCamera(sensor).expose(
        light, shot.time_s, shot.f_number, shot.iso, rng=shot.noise_seed
    )


@dataclass(frozen=True)
class Examining:
    """Measurements of an audit's frames, made as they are asked for."""

    audit: Audit

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Measure a frame once more."""
        frame = self.audit.frame(frame_id)
        path = Path(self.audit.inputs[frame.input]) / frame.file
        return examine_file(ExamineTask(str(path), "dng", self.audit.settings.measure))


def audits_of(evening: Evening, folder: Path) -> tuple[Audit, ...]:
    """The audits of the evening, of the damaged frame, and of the frames taken besides."""
    cards = damaged_card(evening, folder / "card"), odd_card(folder / "odd")
    return evening.end.audit, *(audit_shoot(card, workers=1) for card in cards)


def main() -> None:
    """Make the evening, audit it, and write page and pictures."""
    with tempfile.TemporaryDirectory() as folder:
        audits = audits_of(audited_evening(Path(folder)), Path(folder))
        write_pictures(audits)
        GALLERY.write_text(build_gallery(audits), encoding="utf-8")
    size = sum(path.stat().st_size for path in FOLDER.iterdir())
    print(f"{GALLERY}: {len(list(FOLDER.iterdir()))} pictures, {size // 1000} kB", file=sys.stderr)


if __name__ == "__main__":
    main()
