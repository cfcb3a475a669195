"""What a sidecar says of its picture, as any other program would read it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from auditor.sidecar.packet import LABEL, RATING, read_packet


@dataclass(frozen=True, slots=True)
class SidecarFacts:
    """Rating, label and caption; None where it says nothing."""

    rating: float | None = None
    label: str | None = None
    description: str | None = None


def read_sidecar(path: Path) -> SidecarFacts:
    packet = read_packet(path.read_bytes())
    rating = packet.text_of(RATING)
    return SidecarFacts(
        None if rating is None else float(rating), packet.text_of(LABEL), packet.description()
    )


def read_rating(path: Path) -> float | None:
    return read_sidecar(path).rating
