"""Motion at level against scipy's DOP853 and ngspice at the same error, and the level map, in one run.

One passive box: coil with a flux that travel changes, two bent suspensions, bl that falls off, a leak. Each program is
given the coarsest setting at which the cone's travel is within a hundred-thousandth of its swing of a tight solution.
"""

from __future__ import annotations

import math
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline

from boxwright.air import Air
from boxwright.design import Chamber, Design, PassiveOpening, VentOpening
from boxwright.largesignal.equations import derivative
from boxwright.largesignal.model import model_of
from boxwright.largesignal.steady import level_map, steady
from boxwright.largesignal.transient import follow_voltage
from boxwright.parts import Coil, Curve, Curves, Driver, Passive

Real = NDArray[np.float64]

RE, LE, BL, MMS, RMS, CMS, SD = 3.6, 1.1e-3, 11.0, 0.060, 2.0, 0.55e-3, 0.0214
MMP, RMP, CMP, SP = 0.230, 1.6, 0.80e-3, 0.0330
BL1, BL2, KMS1, KMS2, LE1, LE2, KMP2 = -6.0, -1300.0, 10.0, 2200.0, -20.0, 300.0, 1500.0
VOLUME, QL = 0.018, 7.0
HERTZ, VOLTS, SECONDS = 38.0, 18.0, 1.0
ERRORS = (1e-5, 1e-6)  # of the swing: the ratios depend on what is asked for

AIR = Air(density=1.2, speed_of_sound=343.0)
DRIVER = Driver(
    re=RE, bl=BL, mms=MMS, rms=RMS, cms=CMS, sd=SD, coil=Coil(le=LE), xmax=0.012,
    curves=Curves(
        bl=Curve(polynomial=(1.0, BL1, BL2)), kms=Curve(polynomial=(1.0, KMS1, KMS2)),
        le=Curve(polynomial=(1.0, LE1, LE2)),
    ),
)  # fmt: skip
PASSIVE = Passive(
    mmp=MMP, cmp=CMP, rmp=RMP, sp=SP, xmax=0.016, curves=Curves(kmp=Curve(polynomial=(1.0, 0.0, KMP2)))
)
DESIGN = Design(
    air=AIR,
    driver=DRIVER,
    rear=Chamber(volume=VOLUME, q_leak=QL),
    openings=(PassiveOpening(passive=PASSIVE),),
)
VENTED = Design(
    air=AIR,
    driver=DRIVER,
    rear=Chamber(volume=0.03, q_leak=QL),
    openings=(VentOpening(diameter=0.08, length=0.25),),
)
CAB = VOLUME / AIR.bulk_modulus
LEAK = math.sqrt((1.0 / CMP + SP * SP / CAB) / MMP) * CAB / QL
PEAK, OMEGA = math.sqrt(2.0) * VOLTS, 2.0 * math.pi * HERTZ


def _rates(t: float, y: Real) -> list[float]:
    """The same equations in plain Python floats, which are faster here than arrays."""
    i, x, xp, v, vp, q = y.tolist()
    shape, slope = 1.0 + x * (LE1 + x * LE2), LE1 + 2.0 * x * LE2
    bl = BL * (1.0 + x * (BL1 + x * BL2))
    p = q / CAB
    return [
        (PEAK * math.sin(OMEGA * t) - (RE + LE * slope * v) * i - bl * v) / (LE * shape),
        v,
        vp,
        (bl * i + 0.5 * LE * slope * i * i - RMS * v - x * (1.0 + x * (KMS1 + x * KMS2)) / CMS + SD * p)
        / MMS,
        (SP * p - RMP * vp - xp * (1.0 + KMP2 * xp * xp) / CMP) / MMP,
        -SD * v - SP * vp - LEAK * p,
    ]


def _dop853(
    rates: Callable[[float, Real], Real | list[float]], rtol: float, times: Real
) -> tuple[float, Real]:
    """Seconds, and travel at the times."""
    start = time.perf_counter()
    done = solve_ivp(
        rates, (0.0, SECONDS), np.zeros(6), method="DOP853", t_eval=times, rtol=rtol, atol=rtol * 1e-3
    )  # fmt: skip
    return time.perf_counter() - start, done.y[1]


def _ours(points: int) -> tuple[float, Callable[[Real], Real]]:
    """Seconds, and travel over time."""
    model = model_of(DESIGN)
    rate = points * HERTZ
    at = np.arange(round(SECONDS * rate) + 1) / rate
    volts = PEAK * np.sin(OMEGA * at)
    best = math.inf
    for _ in range(5):
        start = time.perf_counter()
        told = follow_voltage(model, volts, rate, substeps=1)
        best = min(best, time.perf_counter() - start)
    return best, CubicSpline(at, told.travel)


def _ngspice(points: int) -> tuple[float, Callable[[Real], Real]]:
    """Seconds without those of starting up, and travel over time; millimetres and hundreds of pascal as volts."""
    x, xp = "v(x)", "v(xp)"
    shape = f"(1+{x}*({LE1 * 1e-3!r}+{x}*{LE2 * 1e-6!r}))"
    slope = f"({LE1!r}+{x}*{2e-3 * LE2!r})"
    bl = f"({BL!r}*(1+{x}*({BL1 * 1e-3!r}+{x}*{BL2 * 1e-6!r})))"
    lines = [
        "* one passive box", f"vs s 0 sin(0 {PEAK!r} {HERTZ!r})", f"rre s a {RE!r}", "vi a b 0",
        f"bl b c i=v(f)*1e-3/({LE!r}*{shape})", "bf 0 f i=v(b,c)", "cf f 0 1e-3 ic=0", f"be c 0 v={bl}*i(vm)",
        f"bn w 0 v={bl}*i(vi)+0.5*{LE!r}*{slope}*i(vi)*i(vi)+{100 * SD!r}*v(p)", "vm w m 0", f"lm m k {MMS!r}",
        f"bk k 0 v={RMS!r}*i(vm)+{1e-3 / CMS!r}*{x}*(1+{x}*({KMS1 * 1e-3!r}+{x}*{KMS2 * 1e-6!r}))",
        "bx 0 x i=i(vm)", "cx x 0 1e-3 ic=0", f"bw wp 0 v={100 * SP!r}*v(p)", "vmp wp mp 0", f"lp mp kp {MMP!r}",
        f"bp kp 0 v={RMP!r}*i(vmp)+{1e-3 / CMP!r}*{xp}*(1+{KMP2 * 1e-6!r}*{xp}*{xp})",
        "bxp 0 xp i=i(vmp)", "cxp xp 0 1e-3 ic=0", f"bu 0 p i={-SD!r}*i(vm)-{SP!r}*i(vmp)",
        f"cp p 0 {100 * CAB!r} ic=0", f"rp p 0 {0.01 / LEAK!r}", ".save v(x)",
        ".options reltol=1e-7 abstol=1e-13 vntol=1e-10",
    ]  # fmt: skip
    step = 1.0 / (HERTZ * points)
    with tempfile.TemporaryDirectory() as folder:

        def run(span: float) -> float:
            deck = Path(folder) / "box.cir"
            deck.write_text("\n".join([*lines, f".tran {step!r} {span!r} 0 {step!r} uic", ".end", ""]))
            start = time.perf_counter()
            subprocess.run(
                ["ngspice", "-b", "-r", "box.raw", "box.cir"], check=True, capture_output=True, cwd=folder
            )
            return time.perf_counter() - start

        spent = run(SECONDS) - min(run(10 * step) for _ in range(3))
        run_again = run(SECONDS)  # its file is the one that is read
        spent = min(spent, run_again)
        _, _, data = (Path(folder) / "box.raw").read_bytes().partition(b"Binary:\n")
    at, travel = np.frombuffer(data[: len(data) // 16 * 16], np.float64).reshape(-1, 2).T
    at, first = np.unique(at, return_index=True)
    return spent, CubicSpline(at, 1e-3 * travel[first])


def _at_error(
    run: Callable[[int], tuple[float, Callable[[Real], Real]]], times: Real, exact: Real, error: float
) -> tuple[float, int]:
    """Seconds at the coarsest setting that is near enough, and that setting in points a period."""
    points = 36
    while True:
        spent, travel = run(points)
        if np.max(np.abs(travel(times) - exact)) < error * np.ptp(exact):
            return spent, points
        points = math.ceil(points * 1.08)


def _map(design: Design, both_ways: bool) -> tuple[float, int]:
    model = model_of(design)
    frequency, voltage = np.geomspace(15.0, 120.0, 60), np.geomspace(1.0, 25.0, 12)
    best = math.inf
    for _ in range(3):
        start = time.perf_counter()
        found = level_map(model, frequency, voltage, both_ways=both_ways)
        best = min(best, time.perf_counter() - start)
    return best, int(np.sum(~found.settled))


def _in_time(times: Real, exact: Real, error: float) -> list[tuple[str, str, str]]:
    """Lines on the motion in time, every solver at its coarsest setting that is near enough."""
    ours, points = _at_error(_ours, times, exact, error)
    for rtol in np.geomspace(1e-3, 1e-11, 25):
        scipy, travel = _dop853(_rates, float(rtol), times)
        if np.max(np.abs(travel - exact)) < error * np.ptp(exact):
            break
    model, out = model_of(DESIGN), np.zeros(9)

    def compiled(t: float, y: Real) -> Real:
        derivative(y, PEAK * math.sin(OMEGA * t), model.rows, model.inflow, model.cubics, out)
        return out[:6].copy()

    half, _ = _dop853(compiled, float(rtol), times)
    table = [
        (
            f"one second of {HERTZ:g} Hz at level, error {error:g}",
            f"{1e3 * ours:.2g} ms, {points} points a period",
            "",
        ),
        ("  against scipy DOP853, same error", f"{scipy / ours:,.0f}×", "at least 100×"),
        ("  against scipy DOP853 that calls our compiled equations", f"{half / ours:,.0f}×", ""),
    ]
    if shutil.which("ngspice"):
        spice, theirs = _at_error(_ngspice, times, exact, error)
        what = f"  against ngspice ({theirs} points a period), same error"
        table.append((what, f"{spice / ours:,.0f}×", "at least 100×"))
    return table


def rows() -> list[tuple[str, str, str]]:
    """Lines of the table: what, figure, against what."""
    _ours(60)
    times = np.linspace(0.1, SECONDS - 0.01, 500)
    _, exact = _dop853(_rates, 1e-12, times)
    table = [row for error in ERRORS for row in _in_time(times, exact, error)]
    model = model_of(DESIGN)
    steady(model, HERTZ, VOLTS)
    for name, design in (("passive", DESIGN), ("vented", VENTED)):
        seconds, lost = _map(design, both_ways=True)
        table.append(
            (
                f"level map, {name}, 60 frequencies × 12 levels, up and down, to harmonic 7",
                f"{seconds:.2f} s, {lost} not settled",
                "at most 1 s",
            )
        )
    start = time.perf_counter()
    for _ in range(10):
        steady(model, HERTZ, VOLTS)
    table.append(
        ("one steady sine, all ways looked for", f"{100.0 * (time.perf_counter() - start):.0f} ms", "")
    )
    return table


if __name__ == "__main__":
    for row in rows():
        print(*row, sep=" | ")
