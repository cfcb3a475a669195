"""Invented shoots for grouping: frames made straight in tiles, with truth, fast, many seeds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
from scipy import ndimage, stats

from auditor.model.apertures import true_f_number
from auditor.model.arrays import F32, F64
from auditor.model.codes import BlackSource, Layout, LevelSource, NoiseSource, TimeSource
from auditor.model.facts import CameraFacts, CardFile, ExposureFacts, FileFacts, LensFacts, Position
from auditor.model.measurement import (
    FrameMeasurement,
    Histogram,
    HotPixels,
    Level,
    MosaicMeasurement,
    NoiseEstimate,
    Pictures,
    PlaneMeasurement,
    TileMaps,
)
from auditor.model.orientation import upright
from auditor.model.shoot import ShootFrame
from sample_generation.camera import TO_SENSOR
from sample_generation.filters import GraduatedFilter
from tests.shoot_scene import Scene

BLACK_DN, SATURATION_DN, GAIN, READ_DN = 512.0, 15600.0, 0.25, 2.4
EVENING = datetime(2026, 9, 12, 17, 0, 0, tzinfo=UTC)
CAMERA = CameraFacts("Brackwell", "Brackwell F45", "1001")
LENS = LensFacts("Brackwell 24-70 mm f/4", 24.0, 24.0)
GROUND_DN = 900.0
"""Green signal of the mean ground at 1/8 s, f/11, ISO 100 before the light moves."""


@dataclass(frozen=True, slots=True)
class GradGlass:
    """A graduated filter: logistic over the height, ``stops`` at the very top."""

    stops: float
    edge: float
    transition: float

    def density(self, rows: int) -> F64:
        y = (np.arange(rows) + 0.5) / rows
        return GraduatedFilter(self.stops, self.edge, self.transition).stops(y)


@dataclass(eq=False)
class Shoot:
    """A card being filled; ``light`` gives the ambient light in stops at a moment.

    ``tint`` gives what red, green and blue have beside it.
    """

    seed: int = 0
    light: Callable[[float], float] = lambda at_s: 0.0
    tint: Callable[[float], tuple[float, float, float]] = lambda at_s: (0.0, 0.0, 0.0)
    tile_px: int = 60
    frames: list[ShootFrame] = field(default_factory=list)
    kept: dict[str, FrameMeasurement] = field(default_factory=dict)
    fetched: int = 0

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed + 9000)

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Be the source of this shoot."""
        self.fetched += 1
        return self.kept[frame_id]

    def take(
        self, scene: Scene | None, at_s: float, time_s: float = 0.125, *,
        f_number: float | None = 11.0, iso: float | None = 100.0,
        nd: tuple[float, float, float] = (0.0, 0.0, 0.0), grad: GradGlass | None = None,
        shift: tuple[float, float] = (0.0, 0.0), pan: float = 0.0, gain_stops: float = 0.0,
        sky_less_ground: float = 0.0, blur: float | F64 = 1.0, camera: CameraFacts = CAMERA,
        lens: LensFacts = LENS, name: str | None = None, clock_s: float | None = None,
        clock: bool = True, exposure_known: bool = True,
        white_balance: dict[str, float] | None = None, orientation: int = 1,
        also_at: tuple[str, ...] = (), zoom: float = 1.0, turn_deg: float = 0.0,
        through: Callable[[F32], F32] | None = None, position: Position | None = None,
        program: str | None = None,
    ) -> str:  # fmt: skip
        """Take a frame of a scene (None: the cap is on) and return its id.

        ``through`` is what stands before the lens besides, or what the light does over the
        picture: signal in DN, shape (3, rows, cols), to the same.
        """
        shutter = ExposureFacts(time_s, TimeSource.APEX, time_s, f_number, iso, program=program)
        moment = EVENING + timedelta(seconds=at_s if clock_s is None else clock_s)
        facts = FileFacts(
            camera,
            lens,
            shutter if exposure_known else ExposureFacts(),
            moment.isoformat(timespec="milliseconds") if clock else None,
            orientation,
            position=position,
            white_balance=white_balance or {"R": 2.0, "G": 1.0, "B": 1.5},
        )
        file = name or f"DCIM/100BRACK/BRK_{len(self.frames) + 1:04d}.DNG"
        settings = time_s * (iso or 100.0) / 100.0 / true_f_number(f_number or 11.0) ** 2
        scale = GROUND_DN * settings / (0.125 / 128.0) * 2.0**gain_stops
        if scene is None:
            signal, shore, moving = np.zeros((3, 64, 96), np.float32), None, None
        else:
            signal, shore, moving = scene.radiance(
                self.rng, at_s=at_s, time_s=time_s, shift=shift, pan=pan,
                sky_less_ground=sky_less_ground,
            )  # fmt: skip
            signal, shore, moving = (
                _turned_lens(part, zoom, turn_deg) for part in (signal, shore, moving)
            )
        light = self._light(at_s, time_s).reshape(-1, 1, 1)
        signal = signal * np.float32(scale) * light.astype(np.float32)
        signal = signal * np.exp2(-np.asarray(nd, dtype=np.float32))[:, None, None]
        if grad is not None:
            signal = signal * np.exp2(-grad.density(signal.shape[1]))[None, :, None]
        if through is not None:
            signal = through(signal.astype(np.float32))
        contrast = self._contrast(signal, shore, moving, time_s, blur)
        maps = self._maps(signal.astype(np.float32), contrast, orientation)
        return self._keep(file, facts, maps, also_at)

    def _light(self, at_s: float, time_s: float) -> F64:
        moments = at_s + (np.arange(16) + 0.5) / 16 * time_s
        stops = np.array([np.add(self.tint(float(m)), self.light(float(m))) for m in moments])
        return np.asarray(np.exp2(stops).mean(axis=0))

    def _contrast(
        self, signal: F32, shore: object, moving: object, time_s: float, blur: float | F64
    ) -> F32:
        """Fine structure of one pixel against the next, as a share of the signal."""
        shape = signal.shape[1:]
        if shore is None:
            return np.zeros(shape, np.float32)
        water = np.asarray(moving) * 0.12 / np.sqrt(1.0 + time_s / 0.05)
        still = np.where(np.asarray(shore), 0.12 * blur, 0.004)
        contrast: F32 = (still + water).astype(np.float32)
        return contrast

    def _maps(self, signal: F32, contrast: F32, orientation: int) -> TileMaps:
        planes = signal[[0, 1, 1, 2]]
        pixels = self.tile_px**2 / 4
        noise = np.sqrt(GAIN * np.maximum(planes, 0) + READ_DN**2)
        spread = np.hypot(noise, contrast * planes)
        room = SATURATION_DN - BLACK_DN
        above = (planes - room) / spread
        over = stats.norm.cdf(above)
        mean = planes - spread * (above * over + stats.norm.pdf(above))
        mean = mean + self.rng.standard_normal(mean.shape) * noise / np.sqrt(pixels)
        highest = np.clip(BLACK_DN + planes + 3.3 * spread, 0, SATURATION_DN)
        over = np.where(over * pixels < 0.5, 0.0, over)
        detail = np.sqrt(1 + (contrast * planes[1] / noise[1]) ** 2)
        detail = detail * (1 + 0.02 * self.rng.standard_normal(detail.shape))

        def turned(array: F64, kind: type) -> np.ndarray:
            axis = array.ndim - 2
            back = upright(array, TO_SENSOR[orientation], rows_axis=axis)
            return np.ascontiguousarray(back).astype(kind)

        return TileMaps(
            self.tile_px,
            turned(mean, np.float32),
            turned(highest, np.uint16),
            turned(over, np.float32),
            turned(over.max(axis=0), np.float32),
            turned(over.min(axis=0), np.float32),
            turned(detail, np.float32),
        )

    def _keep(self, file: str, facts: FileFacts, maps: TileMaps, also_at: tuple[str, ...]) -> str:
        noise = NoiseEstimate(READ_DN, GAIN, NoiseSource.TRANSFER)
        planes = tuple(
            PlaneMeasurement(
                name, 1, BLACK_DN, BlackSource.METADATA, 16383.0, None,
                Histogram(0, np.zeros(0, np.uint32)), None, noise, SATURATION_DN - 8,
                np.zeros(0, np.uint16), 0,
            )
            for name in ("R", "G1", "G2", "B")
        )  # fmt: skip
        rows, cols = maps.shape
        mosaic = MosaicMeasurement(
            Layout.BAYER, cols * self.tile_px, rows * self.tile_px, 14, planes, maps,
            HotPixels(0, 0.0, np.zeros((0, 2), np.uint32)), (), None,
        )  # fmt: skip
        self.kept[file] = FrameMeasurement(facts, mosaic, None, Pictures(b""))
        source = CardFile(file, 0, "/card/" + file, file, "dng", 1, file, also_at=also_at)
        level = Level(SATURATION_DN, SATURATION_DN - 8, LevelSource.SHOOT)
        self.frames.append(
            ShootFrame(
                source=source,
                facts=facts,
                levels=(level,) * 4,
                noise=(noise,) * 4,
                measurements=self,
            )
        )
        return file


def _turned_lens(picture: np.ndarray, zoom: float, turn_deg: float) -> np.ndarray:
    """Enlarge a picture about its middle and turn it, over its last two axes."""
    if zoom == 1.0 and turn_deg == 0.0:
        return picture
    angle, middle = np.deg2rad(turn_deg), (np.array(picture.shape[-2:]) - 1) / 2.0
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) / zoom
    layers = picture.reshape(-1, *picture.shape[-2:]).astype(np.float32)
    turned = [
        ndimage.affine_transform(one, turn, middle - turn @ middle, order=1, mode="nearest")
        for one in layers
    ]
    result = np.stack(turned).reshape(picture.shape)
    return result > 0.5 if picture.dtype == bool else result
