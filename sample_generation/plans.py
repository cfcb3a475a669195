"""What was taken when: frames planned by an invented photographer with a clock and a meter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from sample_generation.coast import Dusk, coast_radiance
from sample_generation.facts import true_time_s
from sample_generation.filters import GraduatedFilter, NeutralFilter
from sample_generation.preview import PreviewStyle
from sample_generation.sensor import Sensor
from sample_generation.views import Composition

CAMERA_STYLE = PreviewStyle(early_stops=0.5)
FIRST_CARD, SECOND_CARD = "card-1", "card-2"
FOLDER = "DCIM/100BRKWL"


@dataclass(frozen=True, slots=True)
class Body:
    """One camera body.

    Parameters
    ----------
    prefix : str
        Of its file names.
    size : float
        Its pixels against those of the shoot's main body.
    """

    model: str = "Brackwell F45"
    serial: str = "4510027"
    prefix: str = "BRK"
    layout: str = "RGGB"
    size: float = 1.0
    seed: int = 45
    style: PreviewStyle = CAMERA_STYLE

    def sensor(self, megapixels: float) -> Sensor:
        """Make the body's sensor, 3:2, sides that hold whole cells of every pattern."""
        width = max(96, 12 * round(math.sqrt(megapixels * self.size * 1.5e6) / 12.0))
        return Sensor(
            layout=self.layout,
            width=width,
            height=12 * round(width / 1.5 / 12.0),
            margin_top=16,
            margin_left=48,
            vignetting_stops=0.35,
            seed=self.seed,
        )


MAIN_BODY = Body()
SECOND_BODY = Body("Brackwell F24", "2400811", "BRJ", "GRBG", 0.6, 24, PreviewStyle(0.3))


@dataclass(frozen=True, slots=True)
class Shot:
    """One planned frame.

    Parameters
    ----------
    name : str
        File name without its ending.
    kinds : tuple of str
        What it is there to show.
    setup : str
        Id of the composition it belongs to.
    at_s, time_s : float
        When the shutter opens, in seconds of the shoot, and for how long.
    shift_px : tuple of float
        How far the picture moved right and down against its composition, at the shoot's size.
    dusk : Dusk
        How the light falls during the shoot.
    copy : bool
        The same file lies on the second card too.
    jpeg : bool
        The camera wrote a JPEG beside it.
    kept_share : float
        Share of the file that is there: under 1 for a cut-off file.
    """

    name: str
    kinds: tuple[str, ...]
    setup: str
    composition: Composition
    dusk: Dusk
    at_s: float
    captured_at: datetime
    time_s: float
    f_number: float
    iso: float
    noise_seed: int
    body: Body = MAIN_BODY
    filters: tuple[NeutralFilter, ...] = ()
    grad: GraduatedFilter | None = None
    orientation: int = 1
    shift_px: tuple[float, float] = (0.0, 0.0)
    cap_on: bool = False
    copy: bool = False
    jpeg: bool = False
    kept_share: float = 1.0
    position: tuple[float, float] | None = None

    @property
    def focal_mm(self) -> float:
        """Focal length on a full frame (36 x 24 mm)."""
        side = 24.0 if self.orientation >= 5 else 36.0
        return round(side / self.composition.field_of_view)


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole shoot, and what is true of its sequences.

    Parameters
    ----------
    brackets, runs : tuple of tuples of names
    grads : tuple of (name without, name with)
    """

    shots: tuple[Shot, ...]
    brackets: tuple[tuple[str, ...], ...] = ()
    runs: tuple[tuple[str, ...], ...] = ()
    grads: tuple[tuple[str, str], ...] = ()


@dataclass(slots=True)
class Photographer:
    """Takes frames one after the other; the clock moves on by itself.

    Parameters
    ----------
    start : datetime
        Second 0 of the shoot.
    seed : int
        Of the noise in all frames.
    """

    start: datetime
    dusk: Dusk
    seed: int
    bodies: tuple[Body, ...] = (MAIN_BODY,)
    position: tuple[float, float] | None = None
    first_number: int = 1
    now_s: float = 0.0
    shots: list[Shot] = field(default_factory=list)
    brackets: list[tuple[str, ...]] = field(default_factory=list)
    runs: list[tuple[str, ...]] = field(default_factory=list)
    grads: list[tuple[str, str]] = field(default_factory=list)

    def plan(self) -> Plan:
        """Return all that was taken."""
        return Plan(tuple(self.shots), tuple(self.brackets), tuple(self.runs), tuple(self.grads))

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += seconds

    def wait_for_sun_at(self, altitude_deg: float) -> None:
        """Let time pass until the sun is that low; nothing when it is lower already."""
        sinking = self.dusk.sinking_deg_per_min / 60.0
        self.now_s = max(self.now_s, (self.dusk.altitude_deg - altitude_deg) / sinking)

    def take(
        self,
        composition: Composition,
        time_s: float,
        *kinds: str,
        setup: str = "",
        body: int = 0,
        f_number: float = 2.0**3.5,
        iso: float = 100.0,
        gap_s: float = 24.0,
        **more: object,
    ) -> str:
        """Take one frame; returns its name. ``more`` are further fields of :class:`Shot`."""
        taken = sum(1 for shot in self.shots if shot.body == self.bodies[body])
        name = f"{self.bodies[body].prefix}_{self.first_number + taken:04d}"
        shot = Shot(
            name=name,
            kinds=kinds,
            setup=setup or composition.name,
            composition=composition,
            dusk=self.dusk,
            at_s=self.now_s,
            captured_at=self.start + timedelta(seconds=round(self.now_s, 2)),
            time_s=time_s,
            f_number=f_number,
            iso=iso,
            noise_seed=self.seed * 100_003 + len(self.shots),
            body=self.bodies[body],
            position=self.position,
        )
        self.shots.append(replace(shot, **more))  # type: ignore[arg-type]
        # a body needs a moment to write; hands are never quite as regular as the plan
        self.now_s += time_s + gap_s * (0.85 + 0.3 * ((len(self.shots) * 0.618) % 1.0))
        return name

    def bracket(
        self, composition: Composition, middle_s: float, steps: Sequence[float], **more: object
    ) -> tuple[str, ...]:
        """Take a bracket in the order of ``steps`` (stops against the middle)."""
        names = tuple(
            self.take(
                composition,
                third_near(middle_s * 2.0**step),
                "bracket",
                gap_s=0.45,
                **more,  # type: ignore[arg-type]
            )
            for step in steps
        )
        self.brackets.append(names)
        self.wait(30.0)
        return names

    def meter(
        self,
        composition: Composition,
        stops_under: float,
        *,
        f_number: float = 2.0**3.5,
        iso: float = 100.0,
        share: float = 1e-3,
        channel: int | None = None,
        portrait: bool = False,
        grad: GraduatedFilter | None = None,
    ) -> float:
        """Find the third-stop shutter time that leaves ``stops_under`` over the bright end.

        Parameters
        ----------
        share : float
            Share of the picture that may be brighter.
        channel : int or None
            Look at one channel (0 red) instead of the brightest.
        """
        size = (120, 180) if portrait else (180, 120)
        # waves and clouds averaged, so that no single glint moves the meter
        light = coast_radiance(composition, self.dusk, self.now_s, 20.0, size)
        if grad is not None:
            light = light * grad.transmission(size[1])[:, None, None]
        levels = np.quantile(light, 1.0 - share, axis=(0, 1))
        level = float(levels.max() if channel is None else levels[channel])
        sensor = self.bodies[0].sensor(1.0)
        full = (sensor.saturation_dn - sensor.black_dn) / sensor.gain_dn_per_e(iso)
        return third_near(full * f_number**2 / level * 2.0**-stops_under)


def third_near(time_s: float) -> float:
    """Return the true third-stop shutter time nearest to a time, 1/8000 s to 32 s."""
    third = round((5.0 - math.log2(time_s)) * 3.0)
    return true_time_s(min(max(third, 0), 54))


def filtered_time(time_s: float, marked_stops: float) -> float:
    """Return the time behind a filter by its marking, as set: in thirds, or whole seconds.

    Over 32 s the shutter is held open with a cable release for a counted time.
    """
    wanted = time_s * 2.0**marked_stops
    return third_near(wanted) if wanted < 35.0 else float(round(wanted))


def several(composition: Composition, count: int, overlap: float) -> list[Composition]:
    """Pan across a view from left to right; neighbours share ``overlap`` of their width."""
    step = composition.field_of_view * (1.0 - overlap)
    first = composition.centre_u - step * (count - 1) / 2.0
    return [
        replace(composition, name=f"{composition.name} {n + 1}", centre_u=first + step * n)
        for n in range(count)
    ]
