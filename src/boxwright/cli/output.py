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

__all__ = ["Progress", "given_path", "note", "print_json", "progress_bar", "quantity", "say", "write_result"]

Progress = Callable[[str, float], None]


def say(text: str) -> None:
    """Print a result."""
    typer.echo(text)


def note(text: str) -> None:
    """Print a message: it goes to stderr."""
    typer.echo(text, err=True)


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


def given_path(path: str) -> str:
    """Refuse what no file can be called: nothing at all (it would mean the current folder), a NUL character."""
    if not path.strip() or "\0" in path:
        from boxwright.errors import InputError

        raise InputError(f"file must have a name, got {path!r}", mend="name one")
    return path


def write_result(path: str, data: bytes, *, force: bool) -> None:
    """Write a file whole or not at all; an old one is only replaced on purpose.

    Raises
    ------
    InputError
        If there is a file of that name and ``force`` is False, or it cannot be written.
    """
    from boxwright.atomic import atomic_write
    from boxwright.errors import InputError

    given_path(path)
    with contextlib.suppress(OSError, ValueError):  # what is wrong with the path is said by the writing
        if not force and Path(path).exists() and not Path(path).is_dir():
            raise InputError(
                "output must be new, got a file that is there already", place=path, mend="add --force"
            )
    atomic_write(path, data)


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
