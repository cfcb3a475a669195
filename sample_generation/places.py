"""The places of Selmer Sands that the invented evenings go to."""

from __future__ import annotations

from sample_generation.sky import Weather
from sample_generation.terrain import Land, Stack
from sample_generation.views import Composition

POSITION = (54.2, 3.6)
"""Latitude and longitude in degrees: out at sea, for the coast is invented."""

_WIDE, _NORMAL = 1.5, 1.03
"""Tangent widths of a full frame behind 24, 35 and 70 mm."""

STACKS = Composition(
    "stacks",
    Land(
        seed=3,
        shore_m=10.0,
        rough_m=0.3,
        boulder_m=1.2,
        stacks=(Stack(-10, 56, 6, 12), Stack(1.5, 88, 4, 6), Stack(16, 105, 9, 21)),
        headland=(-0.30, 1800.0, 150.0, -1),
    ),
    Weather(seed=5, cover=0.55, sun_u=-0.06),
    _WIDE,
    horizon_at=0.44,
)

BOULDERS = Composition(
    "boulders",
    Land(
        seed=18,
        shore_m=16.0,
        rough_m=0.55,
        boulder_m=2.6,
        eye_m=1.9,
        stacks=(Stack(26, 90, 8, 13), Stack(44, 120, 7, 9)),
        headland=(0.25, 2400.0, 260.0, 1),
    ),
    Weather(seed=9, cover=0.45, sun_u=-1.1),
    _WIDE,
    horizon_at=0.36,
)

POOLS = Composition(
    "pools",
    Land(
        seed=27,
        shore_m=8.0,
        rough_m=0.32,
        boulder_m=1.1,
        eye_m=2.3,
        stacks=(Stack(-1.5, 70, 7, 17),),
        headland=(-0.12, 1500.0, 120.0, -1),
    ),
    Weather(seed=15, cover=0.6, sun_u=0.22),
    _NORMAL,
    horizon_at=0.40,
)

BAY = Composition(
    "bay",
    Land(
        seed=41,
        shore_m=13.0,
        rough_m=0.22,
        boulder_m=1.8,
        eye_m=6.0,
        stacks=(
            Stack(-118, 165, 11, 19),
            Stack(-52, 150, 9, 15),
            Stack(-20, 170, 12, 26),
            Stack(18, 210, 10, 14),
            Stack(62, 190, 14, 30),
            Stack(95, 220, 9, 12),
        ),
        headland=(0.55, 2100.0, 200.0, 1),
    ),
    Weather(seed=22, cover=0.55, sun_u=0.10),
    0.72,
    horizon_at=0.5,
)

BURNING_SKY = Composition(
    "burning sky",
    Land(
        seed=52,
        shore_m=9.0,
        rough_m=0.3,
        eye_m=2.4,
        stacks=(Stack(-14, 80, 7, 11), Stack(30, 140, 10, 13)),
        headland=(-0.2, 2000.0, 110.0, -1),
    ),
    Weather(seed=37, cover=0.66, sun_u=0.02, redness=1.75),
    _WIDE,
    horizon_at=0.68,
)

LONE_STACK = Composition(
    "lone stack",
    Land(
        seed=64,
        shore_m=8.0,
        rough_m=0.26,
        boulder_m=1.4,
        eye_m=2.0,
        stacks=(Stack(3, 64, 6, 14),),
        headland=(0.30, 2600.0, 190.0, 1),
    ),
    Weather(seed=44, cover=0.5, sun_u=-0.25),
    _NORMAL,
    horizon_at=0.43,
)

PLACES = (STACKS, BOULDERS, POOLS, BAY, BURNING_SKY, LONE_STACK)
