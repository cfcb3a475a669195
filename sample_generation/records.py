"""The truth of a whole shoot, as written to ``truth.json`` beside the cards."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

FILE_NAME = "truth.json"


@dataclass(frozen=True, slots=True)
class PlaneRecord:
    """The truth of one plane; meanings as in :class:`sample_generation.truth.PlaneTruth`."""

    name: str
    black_dn: float
    saturation_dn: float
    saturation_from_dn: float
    saturation_spread_dn: float
    gain_dn_per_e: float
    read_noise_dn: float
    noise_floor_dn: float
    blown_fraction: float
    blocked_fraction: float
    zero_fraction: float
    headroom_stops: float | None
    headroom_recorded_stops: float | None
    mean_signal_dn: float
    median_signal_dn: float
    dark_signal_dn: float


@dataclass(frozen=True, slots=True)
class FrameRecord:
    """The truth of one file.

    Parameters
    ----------
    card, file : str
        The folder given to the audit, and the path under it ("/"-separated).
    filter_stops : dict
        R, G and B stops of all filters together; empty without a filter.
    ambient_stops : float
        Mean light over the exposure, against the sun 5 degrees high.
    blown_any_fraction, blown_all_fraction : float
        Share of pattern cells with any, and with every plane cut.
    hot_pixels, hot_showing : int
        Defective pixels, and those that add more than ten times the read noise here.
    preview_early_stops : dict
        How far before the sensor each channel of the preview clips.
    readable : bool
        False for a cut-off file.
    """

    card: str
    file: str
    name: str
    kinds: tuple[str, ...]
    setup: str
    body: str
    captured_at: str
    at_s: float
    time_s: float
    f_number: float
    iso: float
    focal_mm: float
    orientation: int
    shift_px: tuple[float, float]
    filter_stops: dict[str, float]
    marked_stops: tuple[float, ...]
    grad: dict[str, float] | None
    cap_on: bool
    sun_altitude_deg: float
    ambient_stops: float
    planes: tuple[PlaneRecord, ...]
    blown_any_fraction: float
    blown_all_fraction: float
    hot_pixels: int
    hot_showing: int
    preview_early_stops: dict[str, float]
    readable: bool = True
    jpeg: str | None = None
    copy_on: str | None = None

    @property
    def filtered(self) -> bool:
        """Whether a neutral filter was before the lens."""
        return bool(self.filter_stops)


@dataclass(frozen=True, slots=True)
class PairRecord:
    """A filtered frame and the unfiltered frames of its set-up.

    Parameters
    ----------
    long, short : str
        Names; ``short`` is the nearest in time, from middle to middle.
    shorts : tuple of str
        Every unfiltered frame of the set-up.
    exposure_difference_stops : float
        By the true settings, for ``short``.
    light_drift_stops : float
        Mean light during the long exposure over that during the short one.
    """

    long: str
    short: str
    shorts: tuple[str, ...]
    setup: str
    exposure_difference_stops: float
    filter_stops: dict[str, float]
    marked_stops: float
    light_drift_stops: float


@dataclass(frozen=True, slots=True)
class GradRecord:
    """A pair without and with a graduated filter."""

    without: str
    with_: str
    setup: str
    edge_at: float
    stops_at_top: float
    transition: float


@dataclass(frozen=True, slots=True)
class BracketRecord:
    """A bracket: names in the order taken, and their steps in stops against the first."""

    setup: str
    frames: tuple[str, ...]
    steps: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RunRecord:
    """Frames panned across one view, and how far their exposures lie apart."""

    frames: tuple[str, ...]
    exposure_spread_stops: float


@dataclass(frozen=True, slots=True)
class Truth:
    """All that is true of one shoot."""

    shoot: str
    seed: int
    megapixels: float
    frames: tuple[FrameRecord, ...]
    setups: dict[str, tuple[str, ...]]
    pairs: tuple[PairRecord, ...] = ()
    brackets: tuple[BracketRecord, ...] = ()
    grads: tuple[GradRecord, ...] = ()
    runs: tuple[RunRecord, ...] = ()
    cards: tuple[str, ...] = ()

    def frame(self, name: str) -> FrameRecord:
        """Return the frame of that name; KeyError where there is none."""
        for frame in self.frames:
            if frame.name == name:
                return frame
        raise KeyError(name)

    def of_kind(self, kind: str) -> tuple[FrameRecord, ...]:
        """Return the frames that are there to show ``kind``."""
        return tuple(frame for frame in self.frames if kind in frame.kinds)


def write_truth(truth: Truth, folder: Path) -> Path:
    """Write ``truth.json`` into a folder."""
    path = folder / FILE_NAME
    path.write_text(json.dumps(asdict(truth), indent=1), encoding="utf-8")
    return path


def read_truth(folder: Path) -> Truth:
    """Read ``truth.json`` from a folder."""
    table: dict[str, Any] = json.loads((folder / FILE_NAME).read_text(encoding="utf-8"))
    return Truth(
        shoot=table["shoot"],
        seed=table["seed"],
        megapixels=table["megapixels"],
        frames=tuple(_frame(row) for row in table["frames"]),
        setups={name: tuple(frames) for name, frames in table["setups"].items()},
        pairs=tuple(PairRecord(**_tuples(row)) for row in table["pairs"]),
        brackets=tuple(BracketRecord(**_tuples(row)) for row in table["brackets"]),
        grads=tuple(GradRecord(**row) for row in table["grads"]),
        runs=tuple(RunRecord(**_tuples(row)) for row in table["runs"]),
        cards=tuple(table["cards"]),
    )


def _frame(row: dict[str, Any]) -> FrameRecord:
    planes = tuple(PlaneRecord(**plane) for plane in row.pop("planes"))
    return FrameRecord(planes=planes, **_tuples(row))


def _tuples(row: dict[str, Any]) -> dict[str, Any]:
    """JSON has lists where records have tuples."""
    return {key: tuple(value) if isinstance(value, list) else value for key, value in row.items()}
