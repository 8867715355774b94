"""A folder for compiled code where neither the package's own nor the user's can be written."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

__all__ = ["keep_compiled_code"]

_NAMED = "NUMBA_CACHE_DIR"


def keep_compiled_code() -> None:
    """See to it that the compiler finds a place; without one it refuses to begin.

    It looks beside each module, then in the user's folder for such things. Where both are write-protected (the system's
    installation, used by someone without a home) it is given a folder of this user's among the temporary files.
    """
    if os.environ.get(_NAMED) or os.name != "posix":
        return
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "numba"
    if _writable(Path(__file__).parent) or _writable(home):
        return
    os.environ[_NAMED] = folder = str(_of_our_own())
    if "numba" in sys.modules:  # it has read its settings already
        sys.modules["numba"].config.CACHE_DIR = folder


def _writable(folder: Path) -> bool:
    """Whether files can be made in a folder, or in one that can be made there."""
    try:
        while not folder.exists():
            folder = folder.parent
    except OSError:
        return False
    return folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)


def _of_our_own() -> Path:
    """A folder that nobody else can have put anything into: what lies there is run."""
    import tempfile

    folder = Path(tempfile.gettempdir()) / f"boxwright-{os.getuid()}"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
        if stat.S_ISDIR(found.st_mode) and found.st_uid == os.getuid() and not found.st_mode & 0o077:
            return folder
    except OSError:
        pass
    return Path(tempfile.mkdtemp(prefix="boxwright-"))
