"""The command as a user meets it: in a process of its own, or quickly inside this one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from typer.testing import CliRunner, Result

from boxwright.cli.app import app

_runner = CliRunner()
_NO_STORE = Path(tempfile.gettempdir()) / "boxwright-tests-have-no-store" / "parts.sqlite3"


def inside(*arguments: str | Path, store: Path | None = None) -> Result:
    """Run the command in this process; stdout and stderr are kept apart."""
    env = {"BOXWRIGHT_STORE": str(store or _NO_STORE)}
    return _runner.invoke(app, [str(a) for a in arguments], env=env)


def outside(
    *arguments: str | Path, cwd: Path | None = None, **env: str
) -> subprocess.CompletedProcess[bytes]:
    """Run the command as a process."""
    return subprocess.run(
        [sys.executable, "-m", "boxwright.cli", *(str(a) for a in arguments)],
        cwd=cwd, env={**os.environ, "BOXWRIGHT_STORE": str(_NO_STORE), **env},
        capture_output=True, timeout=300, check=False,
    )  # fmt: skip


def answer(result: Result) -> Any:
    """JSON of a run that went well and printed nothing else on stdout."""
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def refused(result: Result, *words: str) -> None:
    """Assert one clear line on stderr, nothing on stdout, exit code 2."""
    assert result.exit_code == 2, (result.exit_code, result.stderr, result.exception)
    assert result.stdout == ""
    lines = result.stderr.strip().split("\n")
    assert len(lines) == 1, lines
    assert lines[0].startswith("boxwright: ")
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in lines[0], lines[0]
