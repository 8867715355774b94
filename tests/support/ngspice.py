"""Run circuits in ngspice and read the node voltages and currents back in full precision.

A :class:`Circuit` is a list of elements; a value may be a number or a function of angular frequency, so
that a part whose resistance changes with frequency (a duct, a lossy coil) can be written out too. Every
frequency is an analysis of one point; all circuits go through one process.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Value = float | Callable[[float], float]
"""Of one element: a number, or a function of ω. [rad/s]"""

Vectors = Mapping[str, NDArray[np.complex128]]
"""By name, as ngspice calls them: ``v(node)``, ``i(element)``; each of shape (nf,)."""


def executable() -> str:
    """Path of ngspice, or a failure that says how to get it."""
    path = shutil.which("ngspice")
    if path is None:
        raise RuntimeError(
            "these tests compare with ngspice, which is not installed: run apt-get install ngspice"
        )
    return path


@dataclass(frozen=True, slots=True)
class _Element:
    name: str
    nodes: str
    value: Value
    unit: str = ""

    def at(self, omega: float) -> float:
        return float(self.value(omega) if callable(self.value) else self.value)


@dataclass(slots=True)
class Circuit:
    """Elements by name; ``"0"`` is ground. Names and nodes are lower case."""

    title: str
    elements: list[_Element] = field(default_factory=list)

    def _add(self, name: str, nodes: str, value: Value, unit: str = "") -> None:
        if any(name == other.name for other in self.elements):
            raise RuntimeError(f"element {name} stands twice in circuit {self.title}")
        self.elements.append(_Element(name, nodes, value, unit))

    def resistor(self, name: str, a: str, b: str, value: Value) -> None:
        self._add(f"r{name}", f"{a} {b}", value)

    def inductor(self, name: str, a: str, b: str, value: Value) -> None:
        self._add(f"l{name}", f"{a} {b}", value)

    def capacitor(self, name: str, a: str, b: str, value: Value) -> None:
        self._add(f"c{name}", f"{a} {b}", value)

    def voltage(self, name: str, a: str, b: str, amplitude: float) -> None:
        self._add(f"v{name}", f"{a} {b}", amplitude, "dc 0 ac")

    def ammeter(self, name: str, a: str, b: str) -> None:
        """Short circuit whose current, from a to b, is read as ``i(v<name>)``."""
        self.voltage(name, a, b, 0.0)

    def voltage_from_current(self, name: str, a: str, b: str, through: str, factor: float) -> None:
        """v(a) − v(b) = factor · (current through the ammeter ``through``)."""
        self._add(f"h{name}", f"{a} {b} v{through}", factor)

    def voltage_from_voltage(self, name: str, a: str, b: str, of: tuple[str, str], factor: float) -> None:
        """v(a) − v(b) = factor · (v(of[0]) − v(of[1]))."""
        self._add(f"e{name}", f"{a} {b} {of[0]} {of[1]}", factor)

    def current_from_current(self, name: str, a: str, b: str, through: str, factor: float) -> None:
        """Carries factor · (current through the ammeter ``through``) from a to b."""
        self._add(f"f{name}", f"{a} {b} v{through}", factor)

    def impedance(self, name: str, a: str, b: str, z: Callable[[float], complex]) -> None:
        """Any impedance over ω as a resistor and an inductor in series."""
        self.resistor(name, a, f"{name}_m", lambda w: z(w).real)
        self.inductor(name, f"{name}_m", b, lambda w: z(w).imag / w)

    def admittance(self, name: str, a: str, b: str, y: Callable[[float], complex]) -> None:
        """Any admittance over ω, with a positive real part, as a resistor beside a capacitor."""
        self.resistor(name, a, b, lambda w: 1.0 / y(w).real)
        self.capacitor(name, a, b, lambda w: y(w).imag / w)

    def netlist(self, omega: float) -> str:
        """The whole circuit with its values at one frequency."""
        lines = [f"* {self.title}"]
        lines += [f"{e.name} {e.nodes} {e.unit} {e.at(omega)!r}" for e in self.elements]
        return "\n".join([*lines, ".end", ""])

    def changes(self, omega: float) -> Iterable[str]:
        """Commands that set every value that depends on frequency."""
        return (f"alter {e.name} = {e.at(omega)!r}" for e in self.elements if callable(e.value))


def analyse(circuits: Sequence[Circuit], frequency: Sequence[NDArray[np.float64]]) -> list[Vectors]:
    """Small-signal solution of every circuit at its own frequencies [Hz], all in one process."""
    with tempfile.TemporaryDirectory(prefix="circuits-") as folder:
        script = ["* all circuits", ".control", "set filetype=binary", "set appendwrite"]
        for number, (circuit, hertz) in enumerate(zip(circuits, frequency, strict=True)):
            (Path(folder) / f"{number}.cir").write_text(circuit.netlist(2.0 * np.pi * float(hertz[0])))
            script.append(f"source {number}.cir")
            for f in map(float, hertz):
                script += circuit.changes(2.0 * np.pi * f)
                script += [f"ac lin 1 {f!r} {f!r}", f"write {number}.raw all", "destroy all"]
            script.append("remcirc")
        script += ["quit", ".endc", ".end", ""]
        (Path(folder) / "run.cir").write_text("\n".join(script))
        done = subprocess.run(
            [executable(), "-b", "run.cir"],
            cwd=folder,
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        results = []
        for number, hertz in enumerate(frequency):
            path = Path(folder) / f"{number}.raw"
            points = _read(path.read_bytes()) if path.exists() else []
            if len(points) != len(hertz):
                raise RuntimeError(
                    f"ngspice answered {len(points)} of {len(hertz)} points of {circuits[number].title!r}:\n"
                    + done.stdout[-2000:]
                    + done.stderr[-2000:]
                )
            results.append({name: np.array([p[name] for p in points]) for name in points[0]})
    return results


def _read(raw: bytes) -> list[dict[str, complex]]:
    """Points of a binary result file that holds one analysis of one point after another."""
    points = []
    while raw:
        head, _, rest = raw.partition(b"Binary:\n")
        lines = head.decode("ascii").split("\n")
        count = next(int(line.split(":")[1]) for line in lines if line.startswith("No. Variables:"))
        start = lines.index("Variables:") + 1
        names = [line.split("\t")[2] for line in lines[start : start + count]]
        values = np.frombuffer(rest[: 16 * count], dtype=np.complex128)
        points.append(dict(zip(names, values, strict=True)))
        raw = rest[16 * count :].lstrip(b"\n")
    return points
