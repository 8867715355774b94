"""The search: the example brief cold and warm, and a store of a thousand drivers and three hundred passives."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile

EXAMPLE = """
import json, resource, sys, time
from importlib import resources
import boxwright as bw
text = resources.files("boxwright") / "data" / "example" / "cinema-trailer.toml"
with resources.as_file(text) as path:
    brief = bw.load_brief(path)
with bw.open_store(sys.argv[1]) as store:
    parts = bw.parts_for(brief, store)
runs = []
for _ in range(int(sys.argv[2])):
    start = time.perf_counter()
    found = bw.shortlist(brief, parts)
    runs.append(time.perf_counter() - start)
print(json.dumps({"first": runs[0], "best": min(runs), "tried": found.tried, "fitting": found.fitting}))
"""

LARGE = """
import json, resource, sys, time
from dataclasses import replace
from importlib import resources
import numpy as np
import boxwright as bw
text = resources.files("boxwright") / "data" / "example" / "cinema-trailer.toml"
with resources.as_file(text) as path:
    brief = bw.load_brief(path)
brief = replace(brief, limits=replace(brief.limits, cones=1))
with bw.open_store(sys.argv[1]) as store:
    parts = bw.parts_for(brief, store)
rng = np.random.default_rng(20261124)

def varied(part, fields, name):
    scale = lambda: float(np.exp(rng.normal(0.0, 0.12)))
    body = part.body
    body = replace(body, **{
        f: getattr(body, f) * s for s in [float(np.exp(rng.normal(0.0, 0.03)))]
        for f in ("frame_diameter", "cutout_diameter", "depth", "magnet_diameter") if getattr(body, f) is not None
    })
    return replace(part, name=name, body=body, **{f: getattr(part, f) * scale() for f in fields})

drivers = tuple(
    varied(parts.drivers[i % len(parts.drivers)], ("bl", "mms", "cms", "rms", "sd", "xmax", "price"), f"driver {i}")
    for i in range(int(sys.argv[2]))
)
passives = tuple(
    varied(parts.passives[i % len(parts.passives)], ("mmp", "cmp", "rmp", "sp", "xmax", "price"), f"passive {i}")
    for i in range(int(sys.argv[3]))
)
parts = replace(parts, drivers=drivers, passives=passives)
start = time.perf_counter()
found = bw.shortlist(brief, parts)
seconds = time.perf_counter() - start
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps({"seconds": seconds, "megabytes": peak, "tried": found.tried, "fitting": found.fitting}))
"""


def _run(code: str, *arguments: str, cache: str | None = None) -> dict[str, float]:
    environment = dict(os.environ)
    if cache is not None:
        environment["NUMBA_CACHE_DIR"] = cache
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-c", code, f"{folder}/parts.sqlite3", *arguments],
            check=True,
            capture_output=True,
            text=True,
            env=environment,
        )
    return json.loads(done.stdout)


def rows() -> list[tuple[str, str, str]]:
    """Lines of the table: what, figure, wanted."""
    with tempfile.TemporaryDirectory() as cache:
        cold = _run(EXAMPLE, "1", cache=cache)
    warm = _run(EXAMPLE, "4")
    large = _run(LARGE, "1000", "300")
    return [
        ("example brief, compiled code new", f"{cold['first']:.1f} s", "at most 12 s"),
        (f"example brief, warm, {warm['tried']:,} boxes", f"{warm['best']:.2f} s", "at most 2 s"),
        (f"1000 drivers × 300 passives, {large['tried']:,} boxes", f"{large['seconds']:.0f} s", "under 60 s"),
        ("the same, peak memory", f"{large['megabytes']:.0f} MB", "under 1000 MB"),
    ]
