"""What the machine under the tests lets them try."""

from __future__ import annotations

import os

import pytest

PERMISSIONS_BIND = getattr(os, "geteuid", lambda: 0)() != 0
"""Whether a file may be shut against whoever runs the tests; the superuser passes everywhere."""

needs_permissions = pytest.mark.skipif(
    not PERMISSIONS_BIND, reason="permissions do not bind the superuser, or there are none"
)
