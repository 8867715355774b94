"""Speed and memory, beside the references in one run; prints one table and writes it to docs/benchmarks.md."""

from __future__ import annotations

import importlib
import os
import platform
import sys
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).parent
MODULES = ("kernel", "search", "commands", "largesignal", "spread", "proof")


def main() -> None:
    """Run every module that is there and print the table."""
    sys.path.insert(0, str(HERE))
    rows = [("what", "measured", "wanted")]
    for name in MODULES:
        if (HERE / f"{name}.py").exists():
            rows += importlib.import_module(name).rows()
    widths = [max(len(row[k]) for row in rows) for k in range(3)]
    lines = [
        "| " + " | ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)) + " |" for row in rows
    ]
    lines.insert(1, "|" + "|".join("-" * (w + 2) for w in widths) + "|")
    table = "\n".join(lines)
    print(table)
    page = HERE.parent / "docs" / "benchmarks.md"
    page.write_text(
        "# Speed\n\n"
        f"Written by `make benchmark` on {datetime.now(UTC):%Y-%m-%d}: {os.cpu_count()} cores, "
        f"{platform.machine()}, Python {platform.python_version()}. The references (numpy, ngspice, scipy) ran in the "
        "same run on the same machine.\n\n" + table + "\n"
    )


if __name__ == "__main__":
    main()
