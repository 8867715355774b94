"""What verbs share: results on stdout, progress on stderr, quantities among the options."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from boxwright.quantity import Kind

__all__ = [
    "MOST_WORKERS",
    "Progress",
    "check_result",
    "given_path",
    "note",
    "page_width",
    "print_json",
    "progress_bar",
    "quantity",
    "say",
    "together",
    "whole",
    "write_result",
]

Progress = Callable[[str, float], None]

MOST_WORKERS = 256
"""Most threads that may be asked for."""


def say(text: str) -> None:
    """Print a result."""
    typer.echo(text)


def note(text: str) -> None:
    """Print a message: it goes to stderr."""
    typer.echo(text, err=True)


def page_width() -> int | None:
    """Columns of the terminal that results go to; None: they go to a file or a pipe."""
    import shutil

    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def print_json(value: Any) -> None:
    """Print a result as JSON, plain ASCII and finite numbers only: what is no number becomes null."""
    import json

    typer.echo(json.dumps(_finite(value), indent=1, allow_nan=False))


def _finite(value: Any) -> Any:
    import math

    if isinstance(value, dict):
        return {key: _finite(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(entry) for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def quantity(text: str | None, kind: Kind, field: str) -> float | None:
    """Read an option such as ``--voltage "20 V"``; a plain number is SI."""
    if text is None:
        return None
    from boxwright.quantity import parse

    return parse(text, kind, field=field)


def whole(field: str, *, least: int = 1, most: int = 1_000_000_000) -> Callable[[str | int], int]:
    """A reader of an option that is a whole number.

    Parameters
    ----------
    field : str
        The option, for the message.
    least, most : int
        Its bounds.
    """

    def read(text: str | int) -> int:
        if isinstance(text, int):  # the default
            return text
        from boxwright.errors import InputError

        digits = text.strip()
        good = digits.removeprefix("-").isdecimal() and digits.isascii() and len(digits) < 30
        number = int(digits) if good else 0
        if not good or not least <= number <= most:
            bounds = f"from {least} to {most}" if most < 1_000_000_000 else f"of {least} or more"
            raise InputError(f'{field} must be a whole number {bounds}, got "{text[:40]}"')
        return number

    return read


def given_path(path: str) -> str:
    """Refuse what no file can be called: nothing at all (it would mean the current folder), a NUL character."""
    if not path.strip() or "\0" in path:
        from boxwright.errors import InputError

        raise InputError(f"file must have a name, got {path!r}", mend="name one")
    return path


def check_result(path: str, *, force: bool, source: str = "") -> None:
    """Refuse, before any work is done, an output that could not be written after it.

    Parameters
    ----------
    path : str
        Where the result shall go.
    force : bool
        Whether a file that is there may be replaced.
    source : str
        The file that is read: never replaced, whatever is forced.

    Raises
    ------
    InputError
        If there is a file of that name, a folder, or no folder to put it in.
    """
    from boxwright.errors import InputError

    given_path(path)
    with contextlib.suppress(OSError, ValueError):  # what else is wrong with the path is said by the writing
        there = Path(path)
        if source and there.exists() and Path(source).exists() and there.samefile(source):
            raise InputError("output must not be the file that is read", place=path, mend="name another")
        if there.is_dir():
            raise InputError("output must be a file, got a folder", place=path, mend="add a file name")
        if there.exists() and not force:
            raise InputError(
                "output must be new, got a file that is there already", place=path, mend="add --force"
            )
        if not there.parent.exists():
            raise InputError("folder of the output must exist", place=path, mend="create it first")


def write_result(path: str, data: bytes, *, force: bool, source: str = "") -> None:
    """Write a file whole or not at all; an old one is only replaced on purpose.

    Raises
    ------
    InputError
        As `check_result`, or if it cannot be written.
    """
    from boxwright.atomic import atomic_write

    check_result(path, force=force, source=source)
    atomic_write(path, data)


@contextlib.contextmanager
def together() -> Iterator[None]:
    """Hold a stop back while files are written that belong together; it takes effect after them."""
    import signal
    import threading

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    stopped = False

    def later(*_: object) -> None:
        nonlocal stopped
        stopped = True

    usual = signal.signal(signal.SIGINT, later)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, usual)
    if stopped:
        raise KeyboardInterrupt


@contextlib.contextmanager
def progress_bar() -> Iterator[Progress | None]:
    """A bar on stderr while something long runs; nothing where stderr is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    bar = Bar(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda what, share: bar.update(task, description=what, completed=share)
