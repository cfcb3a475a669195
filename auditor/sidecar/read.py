"""What a sidecar says: the way back in."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

from auditor.model.errors import UnreadableFile
from auditor.model.plain_file import read_plain
from auditor.sidecar.packet import LABEL, LARGEST_BYTES, RATING, BadPacket, read_packet


@dataclass(frozen=True, slots=True)
class SidecarFacts:
    """What a sidecar says of its picture; None where it says nothing.

    Parameters
    ----------
    rating : float or None
        ``xmp:Rating``: -1 rejected, 0 unrated, 1 to 5; None too where it is no such number.
    label : str or None
        ``xmp:Label`` (hostile text until escaped).
    description : str or None
        ``dc:description`` in its default language (hostile text until escaped).
    """

    rating: float | None = None
    label: str | None = None
    description: str | None = None


def read_sidecar(path: Path) -> SidecarFacts:
    """Read one sidecar.

    Raises
    ------
    UnreadableFile
        The file cannot be read or is no XMP.
    """
    try:
        packet = read_packet(read_plain(path, LARGEST_BYTES))
    except OSError as error:
        raise UnreadableFile("input-error", f"It cannot be read ({error.strerror}).") from error
    except BadPacket as error:
        raise UnreadableFile("damaged", f"This sidecar was left alone: {error}.") from error
    return SidecarFacts(
        rating=_rating(packet.text_of(RATING)),
        label=packet.text_of(LABEL),
        description=packet.description(),
    )


def read_rating(path: Path) -> float | None:
    """Return the rating of one sidecar, None where it holds none; errors as in read_sidecar."""
    return read_sidecar(path).rating


def _rating(text: str | None) -> float | None:
    with contextlib.suppress(ValueError, TypeError):
        number = float(text or "")
        if number == -1 or 0 <= number <= 5:
            return number
    return None
