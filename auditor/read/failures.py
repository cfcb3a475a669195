"""What an error of the system means for one file: a failure code and what to do."""

from __future__ import annotations

import errno


def failure_of(error: OSError) -> tuple[str, str]:
    """Return the failure code for an error of the system, and what to say of it."""
    if error.errno in (errno.EACCES, errno.EPERM):
        return "no-permission", "It may not be read. Change its permissions."
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return "vanished", "It is gone. Was the card taken out?"
    if error.errno == errno.ELOOP:
        return "vanished", "It is a link that leads to itself. Remove it."
    what = error.strerror or type(error).__name__
    return "input-error", f"It could not be read ({what}). Try the card in another reader."
