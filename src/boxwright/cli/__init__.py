"""The command line: one module a verb; no physics, no geometry."""

from __future__ import annotations

import signal
import sys

__all__ = ["main"]


def main() -> None:
    """Entry point of the command; importing the rest comes after it, so that a stop is clean from the beginning."""
    code: str | int | None = 130
    try:
        from boxwright.cli.app import main as command

        command()
        code = 0
    except SystemExit as leaving:
        code = leaving.code
    except KeyboardInterrupt:
        sys.stderr.write("boxwright: stopped; no file was left half-written\n")
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # all is done: nothing is left to stop
    # The interpreter remembers a stop that came through text it was executing (the making of a named tuple, say) and
    # would die of it at its end, whatever became of it; executing text anew makes it forget.
    eval("0")  # noqa: S307
    sys.exit(code)
