"""A pytest plugin that moves one limit before anything reads it (see ``tests.check_limits``)."""

from __future__ import annotations

import os
from importlib import import_module

from auditor.model.limit import Limit

if _moved := os.environ.get("AUDITOR_TESTS_MOVED_LIMIT"):
    _module, _name, _factor = _moved.split(":")
    _room = import_module(_module)
    _limit: Limit = getattr(_room, _name)
    setattr(_room, _name, Limit(_limit * float(_factor), _limit.unit, _limit.meaning))
