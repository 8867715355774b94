"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from pathlib import Path

from boxwright.errors import InputError

__all__ = ["atomic_write"]

_FULL = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
_DENIED = {errno.EACCES, errno.EPERM, errno.EROFS}


def atomic_write(path: str | os.PathLike[str], data: bytes) -> None:
    """Put ``data`` into the file at ``path`` so that a reader finds the old content or the new, never a part.

    The bytes go to a new file in the same folder, are flushed to the disk, and take the old file's name in
    one step; the old file's mode is kept, and a link keeps pointing to the file that it names. Whatever goes
    wrong leaves the old file as it was and no new one behind.

    Parameters
    ----------
    path : path-like
        An ordinary file, or a name free in an existing folder.
    data : bytes
        The whole content.

    Raises
    ------
    InputError
        If the path is a folder or a device, its folder is missing, writing is not allowed there, or the
        disk is full.
    """
    place = os.fspath(path)
    try:
        target = Path(path).resolve()
        mode = _mode_of(target, place)
        _write(target, data, mode)
    except OSError as error:
        raise _explained(error, place) from error
    except (ValueError, RuntimeError) as error:  # a NUL in the name; links that form a ring
        raise InputError(
            f"file name must be usable, got {place!r}", place=repr(place), mend="choose another name"
        ) from error


def _mode_of(target: Path, place: str) -> int | None:
    """Permission bits of the file to be replaced; None when there is none."""
    try:
        found = target.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(found.st_mode):
        raise InputError("output must be a file, got a folder", place=place, mend="add a file name")
    if not stat.S_ISREG(found.st_mode):
        raise InputError("output must be an ordinary file, got a device, pipe or socket", place=place)
    if not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, "the file is write-protected", place)
    return stat.S_IMODE(found.st_mode)


def _write(target: Path, data: bytes, mode: int | None) -> None:
    # The name does not grow with the target's, so a long but legal name stays legal.
    part = target.with_name(f".{secrets.token_hex(8)}.part")
    # os.open with 0o666 lets the user's umask decide, as it would for any new file.
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            part.chmod(mode)
        part.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    _settle(target.parent)


def _settle(folder: Path) -> None:
    """Flush the folder's entry too, where the system lets a folder be opened."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _explained(error: OSError, place: str) -> InputError:
    if error.errno in _FULL:
        return InputError(
            "file could not be written: the disk is full",
            place=place,
            mend="free some space and try again; nothing was changed",
        )
    if error.errno in _DENIED:
        return InputError(
            "file could not be written: no permission",
            place=place,
            mend="choose a folder of your own, or change the permissions; nothing was changed",
        )
    if error.errno == errno.ENOENT:
        return InputError("folder of the output must exist", place=place, mend="create it first")
    if error.errno == errno.ENOTDIR:
        return InputError(
            "folder of the output must be a folder, got a file", place=place, mend="choose another folder"
        )
    return InputError(
        f"file could not be written: {error.strerror or error}", place=place, mend="nothing was changed"
    )
