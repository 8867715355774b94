"""The command line: one module a verb; no physics, no geometry."""

from __future__ import annotations

import signal
import sys

__all__ = ["main"]


def main() -> None:
    """Entry point of the command; importing the rest comes after it, so that a stop is clean from the beginning."""
    try:
        from boxwright.cli.app import main as command

        try:
            command()
        finally:
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # all is done: nothing is left to stop
    except KeyboardInterrupt:
        sys.stderr.write("boxwright: stopped; no file was left half-written\n")
        sys.exit(130)
