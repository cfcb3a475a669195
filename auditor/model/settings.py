"""Every number a user may set, with its default and its reason."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, TypeVar

from auditor.model.errors import BadSettings
from auditor.model.plain_file import read_plain
from auditor.model.text import did_you_mean

LARGEST_BYTES = 1024 * 1024

SHARES = frozenset({
    "bright_share", "dark_share", "blown_limit", "blocked_limit", "patch_limit",
})  # fmt: skip
MAY_BE_NOTHING = frozenset({"paper_dmin"})
LEAST_STEP_STOPS, MOST_STEP_STOPS = 0.01, 2.0


def _value(name: str, value: Any, default: Any, table: str) -> Any:
    if isinstance(default, bool):
        if isinstance(value, bool):
            return value
        raise BadSettings(f"{table} {name} must be true or false.")
    if isinstance(default, tuple):
        if isinstance(value, list | tuple) and all(_is_positive(item) for item in value):
            return tuple(float(item) for item in value)
        raise BadSettings(f"{table} {name} must be a list of positive numbers.")
    if not (_is_positive(value) or (name in MAY_BE_NOTHING and value == 0)):
        raise BadSettings(f"{table} {name} must be a positive number.")
    if isinstance(default, int) and value != int(value):
        raise BadSettings(f"{table} {name} must be a whole number.")
    if name in SHARES and value > 1:
        raise BadSettings(f"{table} {name} is a share: at most 1, and 0.01 for 1 %.")
    if name == "histogram_step_stops" and not LEAST_STEP_STOPS <= value <= MOST_STEP_STOPS:
        raise BadSettings(
            f"{table} {name} must lie between {LEAST_STEP_STOPS:g} and {MOST_STEP_STOPS:g} stops."
        )
    return type(default)(value)


def _is_positive(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 1e9


class _Checked:
    """Holds only values that can be, wherever they come from."""

    __slots__ = ()

    def __post_init__(self) -> None:
        """Take each value in its field's type.

        Raises
        ------
        BadSettings
            One cannot be; the message names its table and its name.
        """
        for entry in fields(self):  # type: ignore[arg-type]  # every heir is a dataclass
            value = _value(entry.name, getattr(self, entry.name), entry.default, self.table())
            object.__setattr__(self, entry.name, value)

    @classmethod
    def table(cls) -> str:
        """Name the table of a settings file: "[judge]"."""
        return f"[{cls.__name__.removesuffix('Settings').lower()}]"


@dataclass(frozen=True, slots=True)
class MeasureSettings(_Checked):
    """What changes the measuring itself: a change here measures every file again.

    Parameters
    ----------
    time_limit_s : float
        A file that takes longer is given up.
    memory_limit_mb : int
        Ceiling of a worker's address space above what it holds when idle.
    preview : bool
        Whether the camera's own preview is measured.

    Examples
    --------
    >>> from auditor.api import MeasureSettings
    >>> MeasureSettings(preview=False).preview
    False
    """

    time_limit_s: float = 120.0
    memory_limit_mb: int = 3072
    preview: bool = True


@dataclass(frozen=True, slots=True)
class JudgeSettings(_Checked):
    """What changes the judging of one frame: nothing is decoded again.

    Parameters
    ----------
    bright_share, dark_share : float
        The bright end is the signal that all but this share of a plane stays under; the dark
        end the one that all but this share stays over.
    blown_limit : float
        Share of the frame with a blown plane from which the frame is called blown, however
        scattered.
    blocked_limit : float
        Share of the frame under every plane's floor from which the frame is called blocked.
    patch_limit : float
        Share of the frame from which connected blown tiles are a patch; what is smaller is a
        specular point. With a patch the frame is called blown from 0.1 % on.
    headroom_limit_stops : float
        Headroom from which "more light could be had" is worth saying.
    preview_limit_stops : float
        Disagreement of preview and raw from which it is worth saying.
    hot_limit_per_megapixel : float
        Hot pixels from which long-exposure noise is worth saying.
    histogram_step_stops : float
        Width of a histogram bin.
    clean_snr : float
        Signal-to-noise ratio from which a tone looks clean: ISO 12232 calls 10 acceptable and 40
        excellent.

    Examples
    --------
    >>> from auditor.api import JudgeSettings
    >>> JudgeSettings(headroom_limit_stops=2).headroom_limit_stops
    2.0
    """

    bright_share: float = 1e-4
    dark_share: float = 0.01
    blown_limit: float = 5e-3
    blocked_limit: float = 0.01
    patch_limit: float = 2e-4
    headroom_limit_stops: float = 1.0
    preview_limit_stops: float = 0.5
    hot_limit_per_megapixel: float = 20.0
    histogram_step_stops: float = 0.125
    clean_snr: float = 10.0


@dataclass(frozen=True, slots=True)
class GroupSettings(_Checked):
    """What changes the grouping and pairing.

    Parameters
    ----------
    setup_gap_s : float
        Two frames of one composition may lie this far apart in time.
    filter_least_stops : float
        A difference below this is not a filter.
    exposure_tolerance_stops : float
        Shutter times agree within this (marked times are rounded).
    bracket_gap_s : float
        From the end of one bracketed frame to the start of the next.

    Examples
    --------
    >>> from auditor.api import GroupSettings
    >>> GroupSettings(setup_gap_s=600).setup_gap_s
    600.0
    """

    setup_gap_s: float = 3600.0
    filter_least_stops: float = 0.8
    exposure_tolerance_stops: float = 0.17
    bracket_gap_s: float = 20.0


@dataclass(frozen=True, slots=True)
class PrintSettings(_Checked):
    """What a print can hold.

    Parameters
    ----------
    paper_dmax, paper_dmin : float
        Optical densities of the paper's black and white; 2.0 is a good gloss, 1.7 a good matte.
    sizes_ppi : tuple of float
        Pixels an inch for which print sizes are given.
    viewing_diagonals : float
        From how many of its own diagonals a print is seen; 1 is usual (common practice), less
        where people step up to it. Tells the circle of confusion.

    Examples
    --------
    >>> from auditor.api import PrintSettings
    >>> PrintSettings(paper_dmax=1.65).paper_dmax
    1.65
    """

    paper_dmax: float = 2.0
    paper_dmin: float = 0.06
    sizes_ppi: tuple[float, ...] = (360.0, 300.0, 240.0)
    viewing_diagonals: float = 1.0

    def __post_init__(self) -> None:
        """Also hold the paper's black against its white."""
        _Checked.__post_init__(self)
        if self.paper_dmin >= self.paper_dmax:
            raise BadSettings("[print] paper_dmin must be less than paper_dmax.")


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings of one audit.

    Parameters
    ----------
    measure, judge, group, print
        One record a table of a settings file; the defaults without one.

    Raises
    ------
    BadSettings
        A value cannot be; its own record says so when it is made.

    Examples
    --------
    >>> from auditor.api import JudgeSettings, Settings
    >>> Settings(judge=JudgeSettings(blown_limit=0.01)).judge.blown_limit
    0.01
    """

    measure: MeasureSettings = MeasureSettings()
    judge: JudgeSettings = JudgeSettings()
    group: GroupSettings = GroupSettings()
    print: PrintSettings = PrintSettings()


Section = TypeVar("Section", MeasureSettings, JudgeSettings, GroupSettings, PrintSettings)


def load_settings(path: Path) -> Settings:
    """Read settings from a TOML file with the tables measure, judge, group and print.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Settings
        What the file leaves out is as by default.

    Raises
    ------
    BadSettings
        The file cannot be read, or holds an unknown table, an unknown name, a wrong type or
        a value that cannot be.

    Examples
    --------
    >>> from pathlib import Path
    >>> from auditor.api import load_settings
    >>> load_settings(Path("limits.toml")).judge.blown_limit  # doctest: +SKIP
    0.01
    """
    return settings_from(read_toml(path), str(path))


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file as plain tables.

    Raises
    ------
    BadSettings
        It cannot be read or is not TOML.
    """
    try:
        return tomllib.loads(read_plain(path, LARGEST_BYTES).decode("utf-8"))
    except OSError as error:
        raise BadSettings(f"{path}: cannot be read ({error.strerror}).") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise BadSettings(f"{path}: is not TOML: {error}.") from error


def settings_from(
    tables: dict[str, Any],
    where: str,
    base: Settings | None = None,
    beside: tuple[str, ...] = (),
) -> Settings:
    """Change settings by plain tables; ``where`` names their origin in errors.

    Parameters
    ----------
    base : Settings, optional
        What the tables leave as it is; the defaults without one.
    beside : tuple of str
        What else might have stood there, for the message that tells of a name unknown.
    """
    settings = base or Settings()
    known = {entry.name: getattr(settings, entry.name) for entry in fields(Settings)}
    for name, table in tables.items():
        if name not in known:
            raise BadSettings(
                f"{where}: there is no table [{name}].{did_you_mean(name, (*known, *beside))} "
                f"There are {', '.join(f'[{table}]' for table in sorted(known))}"
                + (f"; before them {', '.join(beside)}." if beside else ".")
            )
        if not isinstance(table, dict):
            raise BadSettings(f"{where}: {name} must be a table, [{name}].")
        known[name] = _section(known[name], table, where)
    return Settings(**known)


def _section(base: Section, table: dict[str, Any], where: str) -> Section:
    known = [entry.name for entry in fields(base)]
    for name in table:
        if name not in known:
            raise BadSettings(
                f"{where}: {base.table()} has no setting {name!r}.{did_you_mean(name, known)} "
                f"It has {', '.join(known)}."
            )
    try:
        return replace(base, **table)
    except BadSettings as error:
        raise BadSettings(f"{where}: {error}") from None
