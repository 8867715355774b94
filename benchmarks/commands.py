"""Whole processes and single calls as a user meets them."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

EXAMPLES = Path(__file__).parents[1] / "examples"


def _process(*arguments: str, runs: int = 5) -> float:
    best = float("inf")
    for _ in range(runs):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-m", "boxwright.cli", *arguments], check=True, capture_output=True)
        best = min(best, time.perf_counter() - start)
    return best


def rows() -> list[tuple[str, str, str]]:
    """Lines of the table: what, figure, wanted."""
    import boxwright as bw

    table = [("boxwright --help, whole process", f"{_process('--help'):.2f} s", "under 0.3 s")]
    design_file = EXAMPLES / "passive-box.toml"
    predicted = _process("predict", str(design_file), "--json")
    table.append(("boxwright predict, whole process, warm", f"{predicted:.2f} s", "under 1.2 s"))
    for name in ("passive-box", "vented-box", "bandpass-box", "transmission-line"):
        design = bw.load_design(EXAMPLES / f"{name}.toml")
        bw.predict(design)
        best = float("inf")
        for _ in range(30):
            start = time.perf_counter()
            bw.predict(design)
            best = min(best, time.perf_counter() - start)
        table.append((f"predict, {name}, 300 frequencies", f"{best * 1e3:.2f} ms", "under 2 ms"))
    return table
