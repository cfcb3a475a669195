"""Records as text and bytes: exact, compact, and damaged bytes never pass for a record."""

from __future__ import annotations

import dataclasses
import json
from typing import Any, Generic, TypeVar

import numpy as np
import pytest

from auditor.model.audit import Audit
from auditor.model.measurement import FrameMeasurement
from auditor.store.arrays import from_bytes, to_bytes
from auditor.store.codec import CannotDecode, Packed, pack, unpack
from auditor.store.packing import PART_OF
from tests.store_frames import audit, measurement, same

Item = TypeVar("Item")


def test_a_measurement_comes_back_to_the_bit() -> None:
    measured = measurement(3)
    assert same(unpack(FrameMeasurement, pack(measured, PART_OF)), measured)


def test_the_comparison_itself_sees_a_single_bit() -> None:
    measured, other = measurement(3), measurement(3)
    assert same(measured, other)
    other.mosaic.maps.detail.view(np.uint32)[0, 0] ^= 1
    assert not same(measured, other)


def test_an_audit_comes_back_the_same() -> None:
    made = audit(1, 2, 3)
    assert unpack(Audit, pack(made)) == made


def test_parts_left_out_come_back_empty_and_the_rest_whole() -> None:
    measured = measurement(4)
    packed = pack(measured, PART_OF)
    light = Packed(packed.text, {n: c for n, c in packed.parts.items() if n != "maps"})
    read = unpack(FrameMeasurement, light)
    assert read.mosaic.maps.mean_dn.shape == (0, 0, 0)
    assert same(read.mosaic.planes, measured.mosaic.planes)
    assert same(read.facts, measured.facts)
    assert read.pictures == measured.pictures


class ArrayAlias(Generic[Item]):
    """Stands for an alias of an array type, as numpy writes NDArray on Python 3.12 and later."""

    __value__ = np.ndarray[tuple[int, ...], np.dtype[np.float32]]


def test_an_alias_of_an_array_type_is_stored_as_an_array() -> None:
    values = np.arange(3, dtype=np.float32)
    kind: Any = dataclasses.make_dataclass("Aliased", [("values", ArrayAlias[np.float32])])
    assert np.array_equal(unpack(kind, pack(kind(values))).values, values)


@dataclasses.dataclass(frozen=True)
class Old:
    name: str
    gone: int = 1


@dataclasses.dataclass(frozen=True)
class New:
    name: str
    added: float | None = None


def test_a_field_gained_takes_its_default_and_one_lost_is_passed_over() -> None:
    assert unpack(New, pack(Old("R", 5))) == New("R", None)


def test_scalars_of_array_libraries_are_kept_as_plain_numbers() -> None:
    read = unpack(New, pack(New("R", np.float32(0.5))))  # type: ignore[arg-type]
    assert read.added == 0.5
    assert type(read.added) is float


@dataclasses.dataclass(frozen=True)
class Strange:
    anything: int | str


def test_a_type_that_cannot_be_kept_is_refused_when_packed() -> None:
    with pytest.raises(TypeError, match="cannot be stored"):
        pack(Strange(1))


@pytest.mark.parametrize(
    "text", ["", "[]", "null", '{"facts": 3}', "{", '{"facts": {}, "mosaic": {"layout": "?"}}']
)
def test_damaged_text_is_no_record(text: str) -> None:
    with pytest.raises(CannotDecode):
        unpack(FrameMeasurement, Packed(text, {}))


def test_cut_or_shifted_parts_are_no_record() -> None:
    packed = pack(measurement(5), PART_OF)
    for name, content in packed.parts.items():
        for wrong in (content[:-1], content[: len(content) // 2], b""):
            parts = {**packed.parts, name: wrong}
            with pytest.raises(CannotDecode):
                unpack(FrameMeasurement, Packed(packed.text, parts))


def test_a_text_that_promises_endless_arrays_is_refused() -> None:
    packed = pack(measurement(5), PART_OF)
    value = json.loads(packed.text)
    value["mosaic"]["maps"]["detail"][1] = [1 << 20, 1 << 20]
    with pytest.raises(CannotDecode):
        unpack(FrameMeasurement, Packed(json.dumps(value), packed.parts))


def test_noise_is_kept_plain_and_smooth_counts_are_deflated() -> None:
    noise = np.random.default_rng(1).integers(0, 1 << 32, 30_000, dtype=np.uint32)
    smooth = np.full(30_000, 70_000, np.uint32) + np.arange(30_000, dtype=np.uint32) // 300
    assert noise.nbytes <= len(to_bytes(noise)) <= noise.nbytes + 64
    assert len(to_bytes(smooth)) < smooth.nbytes / 20


def test_an_array_of_hardly_anything_is_kept_as_hardly_anything() -> None:
    shares = np.zeros((4, 128, 192), np.float32)
    shares[2, 5, 5:40] = 0.37
    shares[3, 0, 0] = -0.0
    packed = to_bytes(shares)
    assert len(packed) < 400
    read = from_bytes(memoryview(packed), shares.dtype, shares.shape)
    assert same(read, shares)
    read[0, 0, 0] = 1.0  # and it may be written to
