"""The engine that fits what was asked for."""

from __future__ import annotations

import sys

import pytest

from auditor.engine.choose import make_engine, usable_cores
from auditor.engine.cluster import ClusterEngine
from auditor.engine.local import LocalEngine
from auditor.model.errors import WrongCall
from auditor.model.settings import MeasureSettings

SETTINGS = MeasureSettings(time_limit_s=7.0, memory_limit_mb=900)


def test_without_wishes_every_core_works_under_the_settings_limits() -> None:
    engine = make_engine(None, None, SETTINGS)
    assert isinstance(engine, LocalEngine)
    assert engine.workers == usable_cores() >= 1
    assert (engine.limits.time_limit_s, engine.limits.memory_limit_mb) == (7.0, 900)
    assert not engine.is_running


def test_a_wished_number_of_workers_is_taken() -> None:
    engine = make_engine(3, None, SETTINGS)
    assert isinstance(engine, LocalEngine)
    assert engine.workers == 3


@pytest.mark.parametrize("workers", [0, -2])
def test_no_worker_is_a_wrong_call(workers: int) -> None:
    with pytest.raises(WrongCall, match="at least one"):
        make_engine(workers, None, SETTINGS)


def test_an_address_makes_a_cluster_engine_that_has_not_connected_yet() -> None:
    engine = make_engine(None, "tcp://192.0.2.10:8786", SETTINGS)
    assert isinstance(engine, ClusterEngine)
    assert (engine.limits.time_limit_s, engine.limits.memory_limit_mb) == (7.0, 900)
    engine.close()


def test_a_missing_extra_is_told_with_the_way_to_install_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "auditor.engine.cluster", None)
    with pytest.raises(WrongCall, match=r"pip install 'exposure-auditor\[cluster\]'"):
        make_engine(None, "tcp://192.0.2.10:8786", SETTINGS)
