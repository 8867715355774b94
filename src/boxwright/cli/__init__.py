"""The command line: one module a verb; no physics, no geometry."""

from __future__ import annotations

from boxwright.cli.app import main

__all__ = ["main"]
