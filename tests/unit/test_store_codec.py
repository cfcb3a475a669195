"""Records as text and bytes: exact, compact, and damaged bytes never pass for a record."""

from __future__ import annotations

import dataclasses
import zlib
from typing import Any

import msgspec
import numpy as np
import pytest

from auditor.model.arrays import F64
from auditor.model.audit import Audit
from auditor.model.limit import Limit
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import Settings
from auditor.store.codec import (
    CannotDecode,
    decode,
    decode_deflated,
    encode,
    encode_deflated,
    from_bytes,
    to_bytes,
)
from tests.store_frames import audit, measurement, same


def test_a_measurement_comes_back_to_the_bit() -> None:
    measured = measurement(3)
    assert same(decode(FrameMeasurement, encode(measured)), measured)


def test_the_comparison_itself_sees_a_single_bit() -> None:
    measured, other = measurement(3), measurement(3)
    assert same(measured, other)
    other.mosaic.maps.detail.view(np.uint32)[0, 0] ^= 1
    assert not same(measured, other)


def test_an_audit_comes_back_the_same() -> None:
    made = audit(1, 2, 3)
    assert decode(Audit, encode(made)) == made
    assert decode_deflated(Audit, encode_deflated(made)) == made


@dataclasses.dataclass(frozen=True)
class Old:
    name: str
    gone: int = 1


@dataclasses.dataclass(frozen=True)
class New:
    name: str
    added: float | None = None


def test_a_limit_is_stored_as_its_number() -> None:
    back = decode(New, encode(New("R", Limit(0.5, "stops", "From it on a difference is told."))))
    assert back == New("R", 0.5)
    assert type(back.added) is float


def test_a_field_gained_takes_its_default_and_one_lost_is_passed_over() -> None:
    assert decode(New, encode(Old("R", 5))) == New("R", None)


def test_scalars_of_array_libraries_are_kept_as_plain_numbers() -> None:
    read = decode(New, encode(New("R", np.float32(0.5))))  # type: ignore[arg-type]
    assert read.added == 0.5
    assert type(read.added) is float


class Marked(float):
    """A number that knows more than its value, as the limits of the settings do."""


def test_kinds_of_numbers_are_kept_as_their_values() -> None:
    read = decode(New, encode(New("R", Marked(0.25))))
    assert (type(read.added), read.added) == (float, 0.25)
    assert decode(Settings, encode(Settings())) == Settings()


def test_a_value_that_cannot_be_kept_is_refused_when_packed() -> None:
    with pytest.raises(TypeError, match="cannot be stored"):
        encode(object())


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00",
        b"\x01",
        b"\x00\x90",
        b"\x00\xc0",
        b"\x01\xd9\xff",
        b"\x02",
        b"\x00\x81\xa5facts\x03",
    ],
)
def test_damaged_content_is_no_record(content: bytes) -> None:
    for read in (decode, decode_deflated):
        with pytest.raises(CannotDecode):
            read(FrameMeasurement, content)
    with pytest.raises(CannotDecode):
        decode_deflated(FrameMeasurement, zlib.compress(content))


def test_cut_content_is_no_record() -> None:
    content = encode(measurement(5))
    for end in (len(content) - 1, len(content) // 2, 1):
        with pytest.raises(CannotDecode):
            decode(FrameMeasurement, content[:end])


@pytest.mark.parametrize(
    "shape", [(1 << 20, 1 << 20), (1 << 40,), (-1, 4), (0, 1 << 40), ("8", 12), (4.5,)]
)
def test_arrays_of_a_shape_that_cannot_be_are_refused_before_room_is_made(shape: Any) -> None:
    for values in (np.zeros(15), np.arange(16.0)):
        told = ("f8", shape, to_bytes(values))
        with pytest.raises(CannotDecode):
            decode(F64, b"\x00" + msgspec.msgpack.encode(told))


def test_an_array_of_another_count_is_refused() -> None:
    told = ("f8", (3, 6), to_bytes(np.arange(16.0)))
    with pytest.raises(CannotDecode):
        decode(F64, b"\x00" + msgspec.msgpack.encode(told))


def test_an_array_whose_bytes_inflate_without_end_is_refused() -> None:
    bomb = bytes([0, 8]) + zlib.compress(bytes(1 << 24), 9)[2:-4]
    with pytest.raises(CannotDecode):
        decode(F64, b"\x00" + msgspec.msgpack.encode(("f8", (16,), bomb)))


def test_noise_takes_its_own_room_and_smooth_counts_hardly_any() -> None:
    noise = np.random.default_rng(1).integers(0, 1 << 32, 30_000, dtype=np.uint32)
    smooth = np.full(30_000, 70_000, np.uint32) + np.arange(30_000, dtype=np.uint32) // 300
    assert noise.nbytes <= len(to_bytes(noise)) <= 1.01 * noise.nbytes
    assert len(to_bytes(smooth)) < smooth.nbytes / 100


def test_an_array_of_hardly_anything_is_kept_as_hardly_anything() -> None:
    shares = np.zeros((4, 128, 192), np.float32)
    shares[2, 5, 5:40] = 0.37
    shares[3, 0, 0] = -0.0
    packed = to_bytes(shares)
    assert len(packed) < 400
    read = from_bytes(packed, shares.dtype, shares.shape)
    assert same(read, shares)
    read[0, 0, 0] = 1.0  # and it may be written to


def planes(seed: int, *shares: float) -> np.ndarray[Any, np.dtype[np.uint16]]:
    """Planes that hold so much of one picture each, and noise of their own."""
    rng = np.random.default_rng(seed)
    scene = rng.normal(0.0, 400.0, (60, 90))
    made = [3000.0 + share * scene + rng.normal(0.0, 8.0, scene.shape) for share in shares]
    return np.array(made).astype(np.uint16)


def test_planes_are_foretold_by_the_earlier_one_that_they_are_most_alike() -> None:
    alike = planes(1, 1.0, 0.0, 1.0, 0.5)
    packed = to_bytes(alike)
    assert np.array_equal(from_bytes(packed, alike.dtype, alike.shape), alike)
    # the first two by themselves, the third by the first, the fourth by half of the third
    assert list(packed[2:5]) == [0, 2 * 8 + 4, 8 + 2]
    assert len(packed) < 0.8 * sum(len(to_bytes(plane)) for plane in alike)


def test_planes_are_read_as_they_were_once_written() -> None:
    """Each less the one before, all of them one after the other."""
    written = bytes.fromhex("0201636062e3e21312939253400500")
    made = (np.arange(24).reshape(3, 2, 4) ** 2 * 4).astype(np.uint16)
    assert np.array_equal(from_bytes(written, made.dtype, made.shape), made)


def test_planes_foretold_by_what_is_not_there_are_refused() -> None:
    made = planes(2, 1.0, 1.0)
    packed = to_bytes(made)
    with pytest.raises(ValueError, match="earlier"):
        from_bytes(packed[:2] + bytes([2 * 8 + 4]) + packed[3:], made.dtype, made.shape)
    with pytest.raises(ValueError, match="array"):
        from_bytes(packed, made.dtype, (made.size,))
    with pytest.raises(ValueError, match="array"):
        from_bytes(bytes([0x80]) + packed[1:], made.dtype, made.shape)
