"""A loudspeaker at level as a circuit with behavioural sources, followed in time by ngspice.

Mechanics in the impedance analogy (force is voltage, velocity current), acoustics likewise; what depends on travel is
a behavioural source, and the travel is the charge of a capacitor. ngspice reads ``a^b`` as \\|a\\|^b, so powers are
written as products.
"""

from __future__ import annotations

import math
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray
from tests.support.level import Drive, Plain, plain
from tests.support.ngspice import executable

Real = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Followed:
    """What ngspice says, at its own instants."""

    time: Real
    travel: tuple[Real, ...]  # of each part that has a spring; of others zeros
    speed: tuple[Real, ...]
    current: Real
    pressure: tuple[Real, ...]


def _n(value: float) -> str:
    return repr(float(value))


def _sum(p: Polynomial, x: str) -> str:
    """A polynomial in Horner's form: products only. The travel node is in millimetres."""
    text = _n(p.coef[-1] * 1e-3 ** (len(p.coef) - 1))
    for power in range(len(p.coef) - 2, -1, -1):
        text = f"({_n(p.coef[power] * 1e-3**power)}+{x}*{text})"
    return text


def _netlist(drive: Drive, numbers: Plain, periods: int, points: int) -> str:
    peak, f = math.sqrt(2.0) * drive.voltage, drive.frequency
    lines = [
        f"* {len(numbers.parts)} parts",
        f"vs src 0 sin(0 {_n(peak)} {_n(f)})",
        f"rre src a {_n(numbers.resistance)}",
    ]
    shape, slope = _sum(numbers.shape, "v(x0)"), _sum(numbers.shape.deriv(), "v(x0)")
    pull = ["0"]
    lines += ["vi a b 0"]
    here = "b"
    if numbers.le > 0.0:  # flux node: the integral of the voltage over the inductance
        le = _n(numbers.le)
        lines += [f"bl b c i=v(flux)*1e-3/({le}*{shape})", "bflux 0 flux i=v(b,c)", "cflux flux 0 1e-3 ic=0"]
        pull.append(f"0.5*{slope}*{le}*i(vi)*i(vi)")
        here = "c"
    for k, (r, inductance) in enumerate(numbers.cells):
        there = f"d{k}"
        lines += [
            f"br{k} {here} {there} i=v({here},{there})/({_n(r)}*{shape})",
            f"bl{k} {here} {there} i=v(cell{k})*1e-3/({_n(inductance)}*{shape})",
            f"bc{k} 0 cell{k} i=v({here},{there})",
            f"cc{k} cell{k} 0 1e-3 ic=0",
        ]
        j = f"(v(cell{k})*1e-3/({_n(inductance)}*{shape}))"
        pull.append(f"0.5*{slope}*{_n(inductance)}*{j}*{j}")
        here = there
    bl = _sum(numbers.bl, "v(x0)")
    lines += [f"bemf {here} 0 v={bl}*i(vm0)", f"bforce n0 0 v={bl}*i(vi)+{'+'.join(pull)}"]
    start = numbers.start()
    for m, part in enumerate(numbers.parts):
        if m:
            lines.append(f"vn{m} n{m} 0 0")
        rooms = [f"p{k}" if k >= 0 else "0" for k in (part.begins, part.ends)]
        lines += [
            # what pushes, the mass, what resists; the pressure node is in hundreds of pascal
            f"bpush{m} w{m} n{m} v={_n(part.area)}*100*v({rooms[0]},{rooms[1]})+{_n(part.weight)}",
            f"vm{m} w{m} m{m} 0",
            f"lm{m} m{m} s{m} {_n(part.mass)}",
            f"bs{m} s{m} 0 v={_n(part.damping)}*i(vm{m})+{_n(part.loss)}*i(vm{m})*abs(i(vm{m}))"
            f"+{_n(part.stiffness)}*{_sum(part.ratio, f'v(x{m})')}*v(x{m})*1e-3",
            f"bx{m} 0 x{m} i=i(vm{m})",
            f"cx{m} x{m} 0 1e-3 ic={_n(1e3 * start[numbers.travel_at(m)])}",
        ]
        if part.stiffness == 0.0:
            lines[-1] += f"\nrx{m} x{m} 0 1e12"
        for room, sign in zip(rooms, (-1.0, 1.0), strict=True):
            if room != "0":
                lines.append(f"bu{m}{room} 0 {room} i={_n(sign * part.area)}*i(vm{m})")
    for k, room in enumerate(numbers.rooms):
        # hundreds of pascal: compliance and conductance a hundredfold
        spring = f"q{k}" if room.absorption else f"p{k}"
        lines += [f"cq{k} {spring} 0 {_n(100.0 * room.volume / numbers.bulk)} ic=0", f"rtight{k} p{k} 0 1e12"]
        if room.absorption:
            lines.append(f"ra{k} p{k} q{k} {_n(room.absorption / 100.0)}")
        if room.leak:
            lines.append(f"rl{k} p{k} 0 {_n(0.01 / room.leak)}")
    step = 1.0 / (points * f)
    lines += [
        ".options reltol=1e-6 abstol=1e-12 vntol=1e-9 chgtol=1e-18 method=trap",
        f".tran {_n(step)} {_n(periods / f)} 0 {_n(step)} uic",
        ".end",
        "",
    ]
    return "\n".join(lines)


def follow(drives: Sequence[Drive], *, periods: int, points: int) -> list[Followed]:
    """Every drive's first periods from rest, chambers linear; so many steps a period at least."""
    found = []
    with tempfile.TemporaryDirectory(prefix="level-") as folder:
        for number, drive in enumerate(drives):
            numbers = plain(drive.design)
            (Path(folder) / f"{number}.cir").write_text(_netlist(drive, numbers, periods, points))
            done = subprocess.run(
                [executable(), "-b", "-r", f"{number}.raw", f"{number}.cir"],
                cwd=folder, capture_output=True, text=True, timeout=120, check=False,
            )  # fmt: skip
            path = Path(folder) / f"{number}.raw"
            if not path.exists():
                raise RuntimeError(f"ngspice gave no answer:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
            found.append(_told(path.read_bytes(), numbers))
    return found


def _told(raw: bytes, numbers: Plain) -> Followed:
    head, _, data = raw.partition(b"Binary:\n")
    lines = head.decode("ascii").split("\n")
    count = next(int(line.split(":")[1]) for line in lines if line.startswith("No. Variables:"))
    start = lines.index("Variables:") + 1
    names = [line.split("\t")[2] for line in lines[start : start + count]]
    values = np.frombuffer(data[: len(data) // (8 * count) * 8 * count], np.float64).reshape(-1, count)
    column = dict(zip(names, values.T, strict=True))
    parts, rooms = range(len(numbers.parts)), range(len(numbers.rooms))
    return Followed(
        time=column["time"],
        travel=tuple(1e-3 * column[f"v(x{m})"] for m in parts),
        speed=tuple(column[f"i(vm{m})"] for m in parts),
        current=column["i(vi)"],
        pressure=tuple(100.0 * column[f"v(p{k})"] for k in rooms),
    )
