"""Write a file so that a reader sees the old one or the new one, never a part."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from auditor.model.errors import CannotWrite


def write_bytes(
    path: Path,
    content: bytes | Iterable[bytes],
    *,
    last_look: Callable[[], None] | None = None,
    lasting: bool = True,
) -> None:
    """Replace ``path`` by ``content`` in one step, making its folder where it is missing.

    The content goes to a temporary file beside it, is flushed to the medium, and takes the
    place of the old file by one rename.

    Parameters
    ----------
    path : Path
    content : bytes or iterable of bytes
        Whole, or piece by piece.
    last_look : callable, optional
        Called when the new content is whole, just before it takes the old file's place.
        Whatever it raises leaves the old file standing.
    lasting : bool
        Whether to wait until it is on the medium. What can be made again need not be.

    Raises
    ------
    CannotWrite
        The folder or the file cannot be written; the old file stands.
    """
    temporary = path.with_name(f".{path.name[:40]}-{os.urandom(4).hex()}.part")
    mode = None
    with contextlib.suppress(OSError):
        mode = path.stat().st_mode & 0o777
    # what is kept from others stays so while it is written, too
    opened = partial(os.open, mode=0o666 if mode is None else 0o600)
    try:
        if not path.parent.is_dir():
            path.parent.mkdir(parents=True, exist_ok=True)
        with open(temporary, "xb", opener=opened) as stream:
            for piece in (content,) if isinstance(content, bytes) else content:
                stream.write(piece)
            stream.flush()
            if lasting:
                os.fsync(stream.fileno())
        if mode is not None:
            with contextlib.suppress(OSError):  # some drives keep no permissions
                temporary.chmod(mode)
        if last_look is not None:
            last_look()
        temporary.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise _refusal(path, error) from error
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise


def link_or_copy(source: Path, path: Path) -> None:
    """Let ``path`` be the same file as ``source``, or a copy where that cannot be.

    Raises
    ------
    CannotWrite
        ``source`` cannot be read, or ``path`` not written; what stood there stands.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with contextlib.suppress(OSError):
            if source.samefile(path):
                return
        # a name that nobody else has: a link never replaces what is there
        with tempfile.TemporaryDirectory(prefix=".link-", dir=path.parent) as folder:
            made = Path(folder) / "link"
            try:
                made.hardlink_to(source)
            except OSError:  # another disk, or one that knows no links
                write_bytes(path, source.read_bytes(), lasting=False)
            else:
                made.replace(path)
    except OSError as error:
        raise _refusal(path, error) from error


def _refusal(path: Path, error: OSError) -> CannotWrite:
    return CannotWrite(
        f"{path}: cannot be written ({error.strerror}). Choose a folder that can be written "
        "and has room."
    )
