"""One evening, made and audited once for all tests that look at it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.evening_audit import Evening


@pytest.fixture(scope="session")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    from tests.evening_audit import audited_evening

    return audited_evening(tmp_path_factory.mktemp("evening"))
