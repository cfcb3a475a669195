"""What the decoder hands over, as plain values: the rest of the room needs no decoder."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.model.arrays import U8, U16


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """One decoded picture, its margins included.

    Parameters
    ----------
    stored : array of uint16
        (rows, cols), or (rows, cols, 3) where each pixel holds three samples. A view that keeps
        the decoder's memory alive.
    top, left, height, width : int
        The visible part, as the decoder sees it (it moves odd margins to even ones).
    colours : array of uint8, shape (12, 12), or None
        The decoder's colour number of each place from the top-left visible pixel; None for
        three-sample data.
    colour_letters : str
        The letter of each colour number.
    colour_count : int
        1 for monochrome.
    black_dn : tuple of float
        By colour number.
    white_dn : float
        One for all.
    linear_limit_dn : tuple of float or None
        By colour number.
    pixel_aspect : float
        Width of a pixel over its height.
    foreign_tiles : tuple of int
        Numbers of the tiles whose packed data are not those of one whole tile.
    """

    stored: U16
    top: int
    left: int
    height: int
    width: int
    colours: U8 | None
    colour_letters: str
    colour_count: int
    black_dn: tuple[float, ...]
    white_dn: float
    linear_limit_dn: tuple[float, ...] | None = None
    pixel_aspect: float = 1.0
    foreign_tiles: tuple[int, ...] = ()

    @property
    def visible(self) -> U16:
        """The visible pixels, a view."""
        return self.stored[self.top : self.top + self.height, self.left : self.left + self.width]
