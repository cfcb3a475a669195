"""What a file says of itself, before a single pixel is looked at. Absent is None, never zero."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from auditor.model.apertures import true_f_number
from auditor.model.codes import TimeSource
from auditor.model.remark import Remark


@dataclass(frozen=True, slots=True)
class CameraFacts:
    """The body, as the file names it (hostile text until escaped)."""

    make: str | None = None
    """Maker."""
    model: str | None = None
    """Model."""
    serial: str | None = None
    """Serial number of the body."""

    @property
    def body(self) -> str:
        """A name that tells two bodies apart: model, with the serial number where known."""
        return " ".join(part for part in (self.model or self.make, self.serial) if part)


@dataclass(frozen=True, slots=True)
class LensFacts:
    """The lens and the focal length set on it."""

    model: str | None = None
    """Name of the lens."""
    focal_mm: float | None = None
    """Focal length, millimetres."""
    focal_35mm: float | None = None
    """Focal length of the same angle of view on 24 x 36 mm, millimetres."""
    focus_distance_m: float | None = None
    """Distance focused on, metres."""


@dataclass(frozen=True, slots=True)
class ExposureFacts:
    """The exposure as set.

    Parameters
    ----------
    time_s : float or None
        Shutter time; the true one where the file tells it (see ``time_source``).
    time_source : str or None
        "apex" (the APEX shutter value), "tag" (the exposure time as written) or
        "true of nominal" (the power-of-two time that the nominal one stands for).
    nominal_time_s : float or None
        The exposure time as written in the file.
    """

    time_s: float | None = None
    time_source: TimeSource | None = None
    nominal_time_s: float | None = None
    f_number: float | None = None
    """Aperture as an f-number."""
    iso: float | None = None
    """ISO speed set."""
    bias_ev: float | None = None
    """Exposure compensation set, stops."""
    program: str | None = None
    """Exposure programme."""
    metering: str | None = None
    """Metering pattern."""
    flash: bool | None = None
    """Whether the flash fired."""
    gain_iso: float | None = None
    """ISO that the measured gain lets expect, or the baseline exposures of the body's frames
    where no gain is measured, where the file names another: exposures count by it."""

    stamp_at_end: bool = False
    """Whether the file's time is that of the shutter's closing, as exposures tell that would
    overlap else."""
    baseline_exposure_stops: float | None = None
    """By how much a DNG is to be shown brighter than it was recorded, stops."""

    @property
    def true_iso(self) -> float | None:
        """The ISO by which the sensor recorded: that of its gain where the file names another."""
        return self.gain_iso or self.iso

    @property
    def true_f_number(self) -> float | None:
        """The f-number that the one named stands for: f/11 is 11.31."""
        return true_f_number(self.f_number) if self.f_number else self.f_number

    @property
    def ev100(self) -> float | None:
        """Exposure value at ISO 100, ``log2(N²/t) - log2(ISO/100)``; None if a part is absent.

        Of the true time, f-number and ISO.
        """
        parts = (self.true_f_number, self.time_s, self.true_iso)
        if any(part is None or part <= 0 for part in parts):
            return None
        f_number, time_s, iso = (float(part) for part in parts if part is not None)
        return math.log2(f_number**2 / time_s) - math.log2(iso / 100.0)


@dataclass(frozen=True, slots=True)
class Position:
    """Where the camera stood; degrees, north and east positive.

    Examples
    --------
    >>> from auditor.api import Position
    >>> Position(54.2, 3.6).longitude_deg
    3.6
    """

    latitude_deg: float
    """North positive."""
    longitude_deg: float
    """East positive."""
    altitude_m: float | None = None
    """Metres above the sea."""


@dataclass(frozen=True, slots=True)
class FileFacts:
    """Everything told by the metadata of one file.

    Parameters
    ----------
    captured_at : str or None
        ISO 8601 with the subseconds, and with the offset when the file holds one.
        The moment is the one the file records; cameras write it when the shutter opens.
    orientation : int or None
        Exif orientation, 1 to 8.
    white_balance : dict
        As-shot multipliers for R, G and B, green 1; empty where unknown.
    noise_profile : dict
        Plane name to (S, O) of the DNG noise profile; empty where absent.
    remarks : tuple of Remark
        What was odd.
    """

    camera: CameraFacts = CameraFacts()
    lens: LensFacts = LensFacts()
    exposure: ExposureFacts = ExposureFacts()
    captured_at: str | None = None
    orientation: int | None = None
    position: Position | None = None
    temperature_c: float | None = None
    white_balance: dict[str, float] = field(default_factory=dict)
    noise_profile: dict[str, tuple[float, float]] = field(default_factory=dict)
    remarks: tuple[Remark, ...] = ()

    @property
    def moment(self) -> datetime | None:
        """``captured_at`` as a datetime; naive when the file holds no offset."""
        if self.captured_at is None:
            return None
        try:
            return datetime.fromisoformat(self.captured_at)
        except ValueError:
            return None

    @property
    def clock_s(self) -> float | None:
        """Seconds since 1970 for differences; a clock without offset counts as UTC."""
        moment = self.moment
        if moment is None:
            return None
        aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        return (aware - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(seconds=1)

    @property
    def opened(self) -> datetime | None:
        """When the shutter opened: the moment, unless that is when it closed."""
        moment, time_s = self.moment, self.exposure.time_s
        if moment is None or not (self.exposure.stamp_at_end and time_s):
            return moment
        return moment - timedelta(seconds=time_s)

    @property
    def start_s(self) -> float | None:
        """When the shutter opened, on the scale of :attr:`clock_s`."""
        if self.clock_s is None or not self.exposure.stamp_at_end:
            return self.clock_s
        return self.clock_s - (self.exposure.time_s or 0.0)

    @property
    def middle_s(self) -> float | None:
        """The middle of the exposure, likewise."""
        if self.start_s is None:
            return None
        return self.start_s + (self.exposure.time_s or 0.0) / 2.0

    @property
    def end_s(self) -> float | None:
        """When the shutter closed, likewise."""
        return None if self.start_s is None else self.start_s + (self.exposure.time_s or 0.0)


@dataclass(frozen=True, slots=True)
class FileLook:
    """A quick look at a file: enough to find what it may be, not to know it.

    Parameters
    ----------
    place : str
        Where it lies and what the system says of its last change: the same text promises the same
        bytes, as far as the system knows.
    ends : str
        Digest of its size, first and last blocks: the same for a copy, and for a copy that rotted
        between.
    """

    place: str
    ends: str

    @property
    def key(self) -> str:
        """The file in its place, unchanged since."""
        return f"{self.place} {self.ends}"


@dataclass(frozen=True, slots=True)
class DifferingCopy:
    """A file that ought to be a copy, by its size and ends, and is not the same.

    Parameters
    ----------
    id : str
    card : int
        Number of the path it was found under, from 1.
    whole : bool or None
        True where it was measured without a sign of damage, False where there are signs, None
        where it could not be read.
    """

    id: str
    """Its id in frames."""
    card: int
    whole: bool | None


@dataclass(frozen=True, slots=True)
class CardFile:
    """One raw file found under a path.

    Parameters
    ----------
    id : str
        Unique in the audit: the relative path, or ``"2:relative/path"`` where two inputs
        hold the same relative path.
    input_index : int
        Which of the paths given it was found under, from 0.
    path : str
        Where it is, for opening (may hold surrogate escapes).
    file : str
        Relative to that path, "/"-separated.
    kind : str
        The container by content: "dng", "tiff", "cr3", "raf", "mrw", "x3f", "crw" and so on.
    content_key : str
        The digest of all its bytes; empty until it was read.
    companions : tuple of str
        Relative paths of JPEG and sidecar files of the same stem beside it.
    also_at : tuple of str
        Ids of the same bytes elsewhere.
    differing_copies : tuple of DifferingCopy
        What ought to be a copy and is not.
    look : FileLook or None
        Only until the file was read.
    """

    id: str
    input_index: int
    path: str
    file: str
    kind: str
    size_bytes: int
    content_key: str
    companions: tuple[str, ...] = ()
    also_at: tuple[str, ...] = ()
    differing_copies: tuple[DifferingCopy, ...] = ()
    look: FileLook | None = None


@dataclass(frozen=True, slots=True)
class CardFindings:
    """All that was found under the paths given: nothing is passed over unsaid."""

    files: tuple[CardFile, ...]
    inputs: tuple[str, ...]
    problems: tuple[tuple[str, str, str], ...] = ()
    """(id, failure code, message) of what looked like a raw file and could not be opened as one."""
    passed_over: dict[str, int] = field(default_factory=dict)
    """Other files by suffix, counted."""
    unread: tuple[CardFile, ...] = ()
    """The files of ``problems``, in the same order: where each lies, nothing of its content."""
