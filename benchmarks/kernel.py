"""The batch kernel against the same mathematics in numpy and against ngspice, in one run."""

from __future__ import annotations

import math
import shutil
import subprocess
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from numba import njit

from boxwright.search.candidate import scratch
from boxwright.search.kernel import REAR, driver_rows, move

RE, BL, MMS, RMS, CMS, SD, LE = 3.6, 11.0, 0.060, 2.0, 0.55e-3, 0.0214, 1.0e-3
RHO_C2 = 1.2 * 343.0**2
QL, SP, MMP, CMP, RMP = 7.0, 0.0330, 0.110, 0.80e-3, 1.6
W = 2.0 * np.pi * np.geomspace(15.0, 120.0, 64)


@njit(nogil=True, error_model="numpy")
def _designs(first, last, w, work):  # type: ignore[no-untyped-def]
    """Passive boxes over volume and added mass, every quantity at every frequency."""
    total = 0.0
    for n in range(first, last):
        volume = 0.010 + 1e-6 * (n % 20011)
        mass = MMP + 1e-5 * (n % 10007)
        cab = volume / RHO_C2
        spring = 1.0 / CMP + SP * SP / cab
        leak = math.sqrt(spring / mass) * cab / QL
        opening = (mass / SP**2, RMP / SP**2, 0.0, 1.0 / (CMP * SP**2), 0.0)
        move(
            REAR, w, 0, w.size, work.electrical, work.mechanical, BL, SD, (cab, leak), (1.0, 0.0), opening,
            work.velocity2, work.current2, work.opening2, work.outside,
        )  # fmt: skip
        total += work.velocity2[5] + work.outside[7].real
    return total


def _compiled(designs: int, threads: int) -> float:
    """Seconds for so many designs."""

    def part(k: int) -> None:
        work = scratch(W.size)
        driver_rows(W, (RE, MMS, RMS, CMS, 0.0, LE, 0.0, 0.7, 0.0, 0.0), work.electrical, work.mechanical)
        _designs(k * designs // threads, (k + 1) * designs // threads, W, work)

    with ThreadPoolExecutor(threads) as pool:
        start = time.perf_counter()
        list(pool.map(part, range(threads)))
        return time.perf_counter() - start


def _numpy(designs: int, block: int) -> float:
    """Seconds for so many designs in arrays of so many."""
    n = np.arange(designs)
    s = 1j * W
    start = time.perf_counter()
    for chunk in np.array_split(n, max(1, designs // block)):
        volume = (0.010 + 1e-6 * (chunk % 20011))[:, None]
        mass = (MMP + 1e-5 * (chunk % 10007))[:, None]
        cab = volume / RHO_C2
        leak = np.sqrt((1.0 / CMP + SP * SP / cab) / mass) * cab / QL
        yo = SP**2 / (s * mass + RMP + 1.0 / (s * CMP))
        z = 1.0 / (s * cab + leak + yo)
        zm = s * MMS + RMS + 1.0 / (s * CMS) + SD**2 * z
        v = BL / ((RE + s * LE) * zm + BL**2)
        current = v * zm / BL
        uo = SD * v * z * yo
        u = SD * v * (1.0 - z * (leak + yo))
        _ = np.abs(v) ** 2, np.abs(current) ** 2, np.abs(uo) ** 2, u
    return time.perf_counter() - start


def _ngspice(designs: int) -> float:
    """Seconds per design: one process, the same box with its values altered, 64 points each."""
    lines = [
        "* one driver, one passive, the same quantities",
        "vs in 0 dc 0 ac 1",
        f"re in a {RE}",
        f"le a b {LE}",
        "vi b c 0",
        f"hb c 0 vm {BL}",  # back e.m.f.
        f"hf m0 0 vi {BL}",  # force
        "vm m0 m1 0",
        f"lm m1 m2 {MMS}",
        f"rm m2 m3 {RMS}",
        f"cm m3 m4 {CMS}",
        f"ea m4 0 box 0 {-SD}",
        f"fa box 0 vm {SD}",
        "cbox box 0 1e-7",
        "rleak box 0 1e6",
        f"lp box p1 {MMP / SP**2}",
        f"rp p1 p2 {RMP / SP**2}",
        f"cp p2 0 {CMP * SP**2}",
        ".control",
        "set noaskquit",
    ]
    for n in range(designs):
        cab = (0.010 + 1e-6 * n) / RHO_C2
        lines += [f"alter cbox = {cab!r}", "ac dec 70 15 120"]
        lines += ["destroy all"]
    lines += ["quit", ".endc", ".end", ""]
    with tempfile.TemporaryDirectory() as folder:
        deck = Path(folder) / "boxes.cir"
        deck.write_text("\n".join(lines))
        start = time.perf_counter()
        subprocess.run(["ngspice", "-b", str(deck)], check=True, capture_output=True, cwd=folder)
        return (time.perf_counter() - start) / designs


def rows() -> list[tuple[str, str, str]]:
    """Lines of the table: what, figure, against what."""
    _compiled(1000, 1)
    designs = 200_000
    ours = min(_compiled(designs, 2) for _ in range(3))
    points = designs * W.size / ours
    single = min(_compiled(designs // 2, 1) for _ in range(3)) / (designs // 2)
    whole = min(_numpy(20_000, 20_000) for _ in range(2)) / 20_000
    blocks = min(_numpy(20_000, 500) for _ in range(2)) / 20_000
    table = [
        (
            "batch kernel, 2 threads",
            f"{points / 1e6:.0f} million design×frequency points/s",
            "at least 60, goal 150",
        ),
        ("batch kernel, 1 thread", f"{W.size / single / 1e6:.0f} million points/s", ""),
        ("against numpy in one array, per design", f"{whole / (ours / designs):.0f}×", "at least 25×"),
        ("against numpy in blocks that fit the cache", f"{blocks / (ours / designs):.0f}×", ""),
    ]
    if shutil.which("ngspice"):
        spice = _ngspice(300)
        table.append(("against ngspice, per design", f"{spice / (ours / designs):,.0f}×", "at least 1000×"))
    return table
