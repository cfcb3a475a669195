"""Make one planned frame: expose its scene, write its file, tell its truth."""

from __future__ import annotations

import io
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
from PIL import Image

from sample_generation.camera import Exposure, SimulatedCamera
from sample_generation.coast import coast_radiance
from sample_generation.dng import DngOptions, dng_bytes
from sample_generation.facts import FrameFacts, exif_directory
from sample_generation.filters import stacked_stops
from sample_generation.plans import FIRST_CARD, FOLDER, SECOND_CARD, Shot
from sample_generation.preview import preview_picture
from sample_generation.records import FrameRecord, PlaneRecord
from sample_generation.tiff import ASCII, SHORT, Directory, tiff_bytes
from sample_generation.truth import PlaneTruth

SHOWING = 10.0
"""A hot pixel shows when it adds more than this many times the read noise."""


@dataclass(frozen=True, slots=True)
class Errand:
    """One frame to make: all that a worker process needs."""

    shot: Shot
    megapixels: float
    out: Path


def make_frame(errand: Errand) -> FrameRecord:
    """Make the files of one shot; returns its truth."""
    shot = errand.shot
    exposure = expose_shot(shot, errand.megapixels)
    content = dng_bytes(
        exposure, facts_of(shot), style=shot.body.style, options=DngOptions(digests=True)
    )
    content = content[: round(len(content) * shot.kept_share)]
    cards = (FIRST_CARD, SECOND_CARD) if shot.copy else (FIRST_CARD,)
    for card in cards:
        path = errand.out / card / FOLDER / f"{shot.name}.DNG"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    if shot.jpeg:
        (errand.out / FIRST_CARD / FOLDER / f"{shot.name}.JPG").write_bytes(_jpeg(exposure, shot))
    return _record(shot, exposure)


def expose_shot(shot: Shot, megapixels: float, *, keep_noiseless: bool = False) -> Exposure:
    """Expose the scene of a shot."""
    sensor = shot.body.sensor(megapixels)
    wide, high = sensor.width, sensor.height
    if shot.orientation >= 5:
        wide, high = high, wide
    framing = shot.composition.shifted(*shot.shift_px, wide, high)
    light = (
        np.zeros((high, wide, 3), dtype=np.float32)
        if shot.cap_on
        else coast_radiance(framing, shot.dusk, shot.at_s, shot.time_s, (wide, high))
    )
    return SimulatedCamera(sensor).expose(
        light,
        shot.time_s,
        shot.f_number,
        shot.iso,
        filters=shot.filters,
        grad=shot.grad,
        rng=shot.noise_seed,
        orientation=shot.orientation,
        cap_on=shot.cap_on,
        keep_noiseless=keep_noiseless,
    )


def facts_of(shot: Shot) -> FrameFacts:
    """Collect what the camera writes of a shot."""
    return FrameFacts(
        time_s=shot.time_s,
        f_number=shot.f_number,
        iso=shot.iso,
        captured_at=shot.captured_at,
        model=shot.body.model,
        serial=shot.body.serial,
        focal_mm=shot.focal_mm,
        orientation=shot.orientation,
        position=shot.position,
    )


def _jpeg(exposure: Exposure, shot: Shot) -> bytes:
    """Make the JPEG that the camera writes beside the raw file, with the same Exif."""
    facts = facts_of(shot)
    first = Directory()
    first.put(271, ASCII, facts.make)
    first.put(272, ASCII, facts.model)
    first.put(274, SHORT, facts.orientation)
    first.point(34665, exif_directory(facts))
    out = io.BytesIO()
    picture = Image.fromarray(preview_picture(exposure, shot.body.style))
    picture.save(out, "JPEG", quality=92, exif=b"Exif\0\0" + tiff_bytes(first))
    return out.getvalue()


def _record(shot: Shot, exposure: Exposure) -> FrameRecord:
    truth = exposure.truth
    read = truth.planes[0].read_noise_dn
    stops = dict(zip(("R", "G", "B"), stacked_stops(shot.filters), strict=True))
    middle = shot.at_s + shot.time_s / 2.0
    grad = shot.grad
    return FrameRecord(
        card=FIRST_CARD,
        file=f"{FOLDER}/{shot.name}.DNG",
        name=shot.name,
        kinds=shot.kinds,
        setup=shot.setup,
        body=f"{shot.body.model} {shot.body.serial}",
        captured_at=shot.captured_at.isoformat(timespec="milliseconds"),
        at_s=shot.at_s,
        time_s=shot.time_s,
        f_number=shot.f_number,
        iso=shot.iso,
        focal_mm=shot.focal_mm,
        orientation=shot.orientation,
        shift_px=shot.shift_px,
        filter_stops=stops if shot.filters else {},
        marked_stops=tuple(each.marked_stops for each in shot.filters),
        grad=None if grad is None else {f.name: getattr(grad, f.name) for f in fields(grad)},
        cap_on=shot.cap_on,
        sun_altitude_deg=shot.dusk.altitude(middle),
        ambient_stops=shot.dusk.stops(shot.at_s, shot.time_s),
        planes=tuple(_plane(plane) for plane in truth.planes),
        blown_any_fraction=truth.blown_any_fraction,
        blown_all_fraction=truth.blown_all_fraction,
        hot_pixels=len(truth.hot_positions),
        hot_showing=int(np.count_nonzero(truth.hot_signal_dn > SHOWING * read)),
        preview_early_stops=shot.body.style.early_stops_by_channel(),
        readable=shot.kept_share >= 1.0,
        jpeg=f"{FOLDER}/{shot.name}.JPG" if shot.jpeg else None,
        copy_on=SECOND_CARD if shot.copy else None,
    )


def _plane(plane: PlaneTruth) -> PlaneRecord:
    return PlaneRecord(**{f.name: getattr(plane, f.name) for f in fields(PlaneRecord)})
