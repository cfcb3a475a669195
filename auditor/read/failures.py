"""What an error of the system or of the decoder means for one file: a code and what to do."""

from __future__ import annotations

import errno

from auditor.model.errors import UnreadableFile
from auditor.read.compressions import unknown_compression
from auditor.read.extent import ends_early


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


_MORE_MEMORY = (
    "Decoding needed more memory than it may take. Raise memory_limit_mb under [measure] in the "
    "settings."
)
_MEANINGS = {
    "LibRawFileUnsupportedError": (
        "unsupported",
        "The decoder does not know this kind of file, or its beginning is damaged.",
    ),
    "LibRawIOError": (
        "cut-off",
        "The file ends before its picture does, or points outside itself. Copy it from the card "
        "again.",
    ),
    "LibRawDataError": (
        "damaged",
        "The picture data are damaged. Copy the file from the card again.",
    ),
    "LibRawTooBigError": (
        "too-large",
        "The picture is larger than the decoder holds. If its true size is not so large, its "
        "header is damaged.",
    ),
    "LibRawMemPoolOverflowError": (
        "out-of-memory",
        _MORE_MEMORY,
    ),
    "LibRawUnsufficientMemoryError": ("out-of-memory", _MORE_MEMORY),
}
_OTHERWISE = "damaged", "The decoder cannot read the picture. Copy the file from the card again."


def ends_too_early() -> UnreadableFile:
    """Return what it means that a part of the picture lies beyond the end of the file."""
    return UnreadableFile(*_MEANINGS["LibRawIOError"])


def decoder_failure(name: str, data: bytes, kind: str) -> UnreadableFile:
    """Return what an error of the decoder means.

    Parameters
    ----------
    name : str
        The name of its class.
    data : bytes
        The whole file: it is asked whether it ends too early, and how it is compressed.
    """
    code, message = _MEANINGS.get(name, _OTHERWISE)
    if code in ("unsupported", "damaged") and ends_early(data, kind):
        code, message = _MEANINGS["LibRawIOError"]
    unknown = unknown_compression(data, kind) if code in ("unsupported", "damaged") else None
    return unknown or UnreadableFile(code, message)
