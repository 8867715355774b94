"""A whole loudspeaker as a circuit, nothing reduced: the other route to every number of the linear model.

Each driver, each of its coils, each passive and each vent stands as elements of its own. Analogies:
electrical as it is; mechanical with force as voltage and velocity as current; acoustical with pressure as
voltage and volume velocity as current, the outside being ground. Nothing here comes from
`boxwright.acoustics`.

Sources: small1972direct, small1973vented, small1974 for the analogies and the place of the losses;
stinson1991 for the ducts; leach2002 and
knudsen1993 for coil and creep.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from tests.support.ducts import END_CORRECTION, Duct, area, end_lengths, line_duct, vent_duct
from tests.support.ngspice import Circuit, Vectors, analyse

from boxwright.air import Air
from boxwright.design import Chamber, Design, PassiveOpening, VentOpening
from boxwright.parts.driver import Coil, Driver

TIGHT = 1e16
"""Resistance that gives a chamber's node its path to ground at rest. [Pa·s/m³]"""
STEPS = 60
"""Pieces that a tapered segment of a line is cut into; their areas differ by less than 2 %."""

SOLID_ANGLE = {"free": 4.0 * math.pi, "half": 2.0 * math.pi, "quarter": math.pi, "eighth": math.pi / 2.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """What the circuit says of one design; rms phasors over frequency, each of shape (nf,)."""

    frequency: NDArray[np.float64]
    impedance: NDArray[np.complex128]
    flow: NDArray[np.complex128]
    cone_velocity: NDArray[np.complex128]
    opening_speed: tuple[NDArray[np.float64], ...]
    chamber_pressure: dict[str, NDArray[np.complex128]]

    @property
    def driver_travel(self) -> NDArray[np.float64]:
        """Peak. [m]."""
        return math.sqrt(2.0) * np.abs(self.cone_velocity) / (2.0 * math.pi * self.frequency)

    def opening_travel(self, number: int) -> NDArray[np.float64]:
        """Peak. [m]."""
        return math.sqrt(2.0) * self.opening_speed[number] / (2.0 * math.pi * self.frequency)

    def level(self, design: Design) -> NDArray[np.float64]:
        """At the listener of a plain placement. [dB re 20 µPa]."""
        where = design.placement
        pressure = design.air.density * 2.0 * math.pi * self.frequency * np.abs(self.flow)
        return 20.0 * np.log10(pressure / (SOLID_ANGLE[where.space] * where.distance) / 20e-6)


@dataclass(slots=True)
class _Loudspeaker:
    """The circuit in the making, and which of its vectors mean what."""

    design: Design
    circuit: Circuit
    outside: list[tuple[str, float]] = field(default_factory=list)
    openings: list[list[tuple[str, float]]] = field(default_factory=list)

    @property
    def air(self) -> Air:
        return self.design.air


def solve(designs: Sequence[Design], frequency: Sequence[NDArray[np.float64]]) -> list[Solution]:
    """Each design at its own frequencies [Hz], all in one process of the simulator."""
    built = [_write(design, f"design {number}") for number, design in enumerate(designs)]
    answers = analyse([b.circuit for b in built], frequency)
    return [_collect(b, v, f) for b, v, f in zip(built, answers, frequency, strict=True)]


def _collect(built: _Loudspeaker, vectors: Vectors, frequency: NDArray[np.float64]) -> Solution:
    def flow(terms: Sequence[tuple[str, float]]) -> NDArray[np.complex128]:
        return sum((factor * vectors[name] for name, factor in terms), np.zeros(len(frequency), complex))

    return Solution(
        frequency=frequency,
        impedance=vectors["v(terminal)"] / vectors["i(vterminal)"],
        flow=flow(built.outside),
        cone_velocity=vectors["i(vcone0)"],
        opening_speed=tuple(np.max([np.abs(flow([end])) for end in ends], axis=0) for ends in built.openings),
        chamber_pressure={c.name: vectors[f"v({_node(c.name)})"] for c in _chambers(built.design)},
    )


def _node(chamber: str) -> str:
    return "0" if chamber == "outside" else f"p_{chamber}"


def _chambers(design: Design) -> list[Chamber]:
    """Every chamber with its name filled in."""
    found = [(design.rear, "rear"), (design.front, "front"), *((c, c.name) for c in design.chambers)]
    return [
        Chamber(
            name=name,
            volume=c.volume,
            q_leak=c.q_leak,
            q_absorption=c.q_absorption,
            fill=c.fill,
            segments=c.segments,
            line_end=c.line_end,
        )
        for c, name in found
        if c is not None
    ]


def _write(design: Design, title: str) -> _Loudspeaker:
    built = _Loudspeaker(design, Circuit(title))
    circuit = built.circuit
    circuit.voltage("source", "source", "0", design.source.voltage)
    circuit.resistor("cable", "source", "lead", max(design.source.series_resistance, 1e-12))
    circuit.ammeter("terminal", "lead", "terminal")
    _drivers(built)
    for number, opening in enumerate(design.openings):
        for each in range(opening.count):
            name = f"o{number}_{each}"
            if isinstance(opening, PassiveOpening):
                _passive(built, opening, name)
            else:
                _vent(built, opening, name)
            # a passive's ammeter reads its velocity, a vent's two the volume velocity at either end
            passive = isinstance(opening, PassiveOpening)
            ends = [f"i(v{name})"] if passive else [f"i(v{name})", f"i(v{name}_out)"]
            if opening.to == "outside":
                built.outside.append((ends[-1], opening.passive.sp if passive else 1.0))
            if each == 0:
                built.openings.append([(end, 1.0 if passive else 1.0 / area(opening)) for end in ends])
    for chamber in _chambers(design):
        _chamber(built, chamber)
    return built


def _drivers(built: _Loudspeaker) -> None:
    arrangement = built.design.arrangement
    front = _node("front") if built.design.front else "0"
    rear = _node("rear") if built.design.rear else "0"
    paired = arrangement.mounting == "face-to-face"
    number = 0
    for string in range(arrangement.parallel):
        top = "terminal"
        for place in range(arrangement.series):
            bottom = "0" if place == arrangement.series - 1 else f"string{string}_{place}"
            # A pair shares the air between its cones, which is too little to give: a node without compliance.
            gap = f"gap{number // 2}"
            outer = gap if paired and number % 2 == 0 else front
            inner = gap if paired and number % 2 == 1 else rear
            _driver(built, number, electrical=(top, bottom), acoustical=(inner, outer))
            top, number = bottom, number + 1


def _driver(
    built: _Loudspeaker, number: int, *, electrical: tuple[str, str], acoustical: tuple[str, str]
) -> None:
    driver, circuit = built.design.driver, built.circuit
    inner, outer = acoustical
    coils = _coils(driver, built.design.arrangement.coil_wiring or driver.coils_as)
    _flux(circuit, number, driver.coil, coils.share)
    force = "0"
    top, bottom = electrical
    for place in range(coils.driven):
        name = f"{number}_{place}"
        last = place == coils.driven - 1
        end = bottom if last or coils.parallel else f"coil{name}"
        _coil(circuit, name, (top, end), coils, of=number)
        circuit.voltage_from_current(f"force{name}", f"force{name}", force, f"coil{name}", coils.bl)
        force = f"force{name}"
        top = top if coils.parallel else end
    circuit.voltage_from_voltage(f"air{number}", f"push{number}", force, (inner, outer), driver.sd)
    circuit.ammeter(f"cone{number}", f"push{number}", f"mass{number}")
    circuit.inductor(f"mms{number}", f"mass{number}", f"loss{number}", driver.mms)
    circuit.resistor(f"rms{number}", f"loss{number}", f"spring{number}", max(driver.rms, 1e-15))
    _suspension(circuit, driver, f"cms{number}", f"spring{number}")
    circuit.current_from_current(f"flow{number}", inner, outer, f"cone{number}", driver.sd)
    if outer == "0":
        built.outside.append((f"i(vcone{number})", driver.sd))
    if inner == "0":
        built.outside.append((f"i(vcone{number})", -driver.sd))


def _suspension(circuit: Circuit, driver: Driver, name: str, node: str) -> None:
    if driver.creep == 0.0:
        circuit.capacitor(name, node, "0", driver.cms)
        return
    resonance = 1.0 / math.sqrt(driver.mms * driver.cms)

    def mobility(omega: float) -> complex:
        return 1j * omega * driver.cms * (1.0 - driver.creep * cmath.log10(1j * omega / resonance))

    circuit.admittance(name, node, "0", mobility)


@dataclass(frozen=True, slots=True)
class _Coils:
    """One of a driver's coils, how many are driven, and whether side by side."""

    re: float
    bl: float
    share: float
    driven: int
    parallel: bool


def _coils(driver: Driver, wiring: str) -> _Coils:
    n = driver.coils
    # Stated for n coils in series: each has an n-th of re and bl. In parallel: the current divides, so each
    # coil has the whole bl and n times re. Single: the numbers are one coil's own. The coils share one gap
    # and so one flux: in series it links n coils that each make it n-fold, in parallel it is that of one
    # with all the current.
    re, bl, share = {
        "series": (driver.re / n, driver.bl / n, 1.0 / n**2),
        "parallel": (driver.re * n, driver.bl, 1.0),
        "single": (driver.re, driver.bl, 1.0),
    }[driver.coils_as]
    return _Coils(re, bl, share, 1 if wiring == "single" else n, wiring == "parallel")


def _coil(circuit: Circuit, name: str, between: tuple[str, str], coils: _Coils, *, of: int) -> None:
    """Resistance, the voltage that the shared flux induces, and the voltage of the cone's motion."""
    top, bottom = between
    circuit.ammeter(f"coil{name}", top, f"c{name}_a")
    circuit.resistor(f"re{name}", f"c{name}_a", f"c{name}_b", coils.re)
    circuit.voltage_from_voltage(f"flux{name}", f"c{name}_b", f"c{name}_c", (f"flux{of}", "0"), 1.0)
    circuit.voltage_from_current(f"emf{name}", f"c{name}_c", bottom, f"cone{of}", coils.bl)
    circuit.current_from_current(f"turns{name}", "0", f"flux{of}", f"coil{name}", 1.0)


def _flux(circuit: Circuit, number: int, coil: Coil, share: float) -> None:
    """What one coil of a driver induces in itself and in its companions: the sum of their currents through it."""
    name = f"flux{number}"
    circuit.inductor(f"le{number}", name, f"{name}_a", share * coil.le)
    if coil.k > 0.0:
        circuit.impedance(
            f"k{number}", f"{name}_a", f"{name}_b", lambda w: share * coil.k * (1j * w) ** coil.n
        )
    else:
        circuit.ammeter(f"k{number}", f"{name}_a", f"{name}_b")
    if coil.l2 > 0.0 and coil.r2 > 0.0:
        circuit.inductor(f"l2{number}", f"{name}_b", "0", share * coil.l2)
        circuit.resistor(f"r2{number}", f"{name}_b", "0", share * coil.r2)
    else:
        circuit.ammeter(f"l2{number}", f"{name}_b", "0")


def _passive(built: _Loudspeaker, opening: PassiveOpening, name: str) -> None:
    """Positive towards ``to``."""
    circuit, passive = built.circuit, opening.passive
    inside, beyond = _node(opening.chamber), _node(opening.to)
    circuit.voltage_from_voltage(f"air{name}", f"push{name}", "0", (inside, beyond), passive.sp)
    circuit.ammeter(name, f"push{name}", f"mass{name}")
    circuit.inductor(f"mmp{name}", f"mass{name}", f"loss{name}", passive.mmp + opening.added_mass)
    circuit.resistor(f"rmp{name}", f"loss{name}", f"spring{name}", max(passive.rmp, 1e-15))
    circuit.capacitor(f"cmp{name}", f"spring{name}", "0", passive.cmp)
    circuit.current_from_current(f"flow{name}", inside, beyond, name, passive.sp)


def _vent(built: _Loudspeaker, vent: VentOpening, name: str) -> None:
    duct, length = vent_duct(vent, built.air)
    built.circuit.ammeter(name, _node(vent.chamber), f"{name}_a")
    _tee(built.circuit, name, (f"{name}_a", f"{name}_c"), duct, length)
    built.circuit.ammeter(f"{name}_out", f"{name}_c", _node(vent.to))


def _tee(circuit: Circuit, name: str, between: tuple[str, str], duct: Duct, length: float) -> None:
    """A piece of duct as series, shunt, series; exact for an even duct of any length."""

    def series(omega: float) -> complex:
        characteristic, gamma = duct(omega)
        return characteristic * cmath.tanh(gamma * length / 2.0)

    def shunt(omega: float) -> complex:
        characteristic, gamma = duct(omega)
        return cmath.sinh(gamma * length) / characteristic

    circuit.impedance(f"first{name}", between[0], f"{name}_b", series)
    circuit.admittance(f"shunt{name}", f"{name}_b", "0", shunt)
    circuit.impedance(f"second{name}", f"{name}_b", between[1], series)


def _chamber(built: _Loudspeaker, chamber: Chamber) -> None:
    circuit, node = built.circuit, _node(chamber.name)
    circuit.resistor(f"tight_{chamber.name}", node, "0", TIGHT)
    compliance = _compliance(built.design, chamber)
    tuning = 2.0 * math.pi * chamber_tuning(built.design, chamber.name)
    if chamber.segments:
        _line(built, chamber)
    elif chamber.q_absorption is None:
        circuit.capacitor(f"cab_{chamber.name}", node, "0", compliance)
    else:
        circuit.resistor(
            f"ra_{chamber.name}",
            node,
            f"a_{chamber.name}",
            1.0 / (chamber.q_absorption * tuning * compliance),
        )
        circuit.capacitor(f"cab_{chamber.name}", f"a_{chamber.name}", "0", compliance)
    if chamber.q_leak is not None:
        circuit.ammeter(f"leak_{chamber.name}", node, f"l_{chamber.name}")
        circuit.resistor(
            f"ral_{chamber.name}", f"l_{chamber.name}", "0", chamber.q_leak / (tuning * compliance)
        )
        built.outside.append((f"i(vleak_{chamber.name})", 1.0))


def _line(built: _Loudspeaker, chamber: Chamber) -> None:
    """Even pieces one after another: a taper becomes a flight of small steps."""
    here = _node(chamber.name)
    end_area = chamber.segments[-1].area_end
    for s, segment in enumerate(chamber.segments):
        start, end = math.sqrt(segment.area_start), math.sqrt(segment.area_end)
        steps = math.ceil(segment.length / 0.2) if start == end else STEPS
        for k in range(steps):
            section = (start + (end - start) * (k + 0.5) / steps) ** 2
            name = f"{chamber.name}{s}_{k}"
            duct = line_duct(built.air, section, segment.flow_resistivity)
            _tee(built.circuit, name, (here, f"y{name}"), duct, segment.length / steps)
            here = f"y{name}"
    if chamber.line_end == "open":
        added = END_CORRECTION["flanged"] * math.sqrt(end_area / math.pi)
        built.circuit.inductor(
            f"end_{chamber.name}", here, f"e_{chamber.name}", built.air.density * added / end_area
        )
        built.circuit.ammeter(f"end_{chamber.name}", f"e_{chamber.name}", "0")
        built.outside.append((f"i(vend_{chamber.name})", 1.0))


def _compliance(design: Design, chamber: Chamber) -> float:
    """Light filling is credited with up to 20 % more volume (common practice, no source)."""
    return chamber.volume * (1.0 + 0.2 * chamber.fill) / design.air.bulk_modulus


def chamber_tuning(design: Design, name: str) -> float:
    """Frequency that a chamber's Q_L and Q_A are stated at, without losses. [Hz].

    The highest resonance of its openings with its air, the cone held still; a chamber without openings: the
    resonance of the cones on it. As eigenvalues of stiffness over mass.
    """
    chamber = next(c for c in _chambers(design) if c.name == name)
    if chamber.segments:
        return math.nan
    air, driver = design.air, design.driver
    masses: list[float] = []
    springs: list[float] = []
    for opening in design.openings:
        if name not in (opening.chamber, opening.to):
            continue
        for _ in range(opening.count):
            if isinstance(opening, PassiveOpening):
                sp = opening.passive.sp
                masses.append((opening.passive.mmp + opening.added_mass) / sp**2)
                springs.append(1.0 / (opening.passive.cmp * sp**2))
            else:
                section = area(opening)
                masses.append(air.density * (opening.length + end_lengths(opening)) / section)
                springs.append(0.0)
    if not masses:
        cones = design.arrangement.count
        if design.arrangement.mounting == "face-to-face":
            # Only one cone of each pair stands on the chamber, and it carries the other's mass and spring.
            masses = [2.0 * driver.mms / driver.sd**2] * (cones // 2)
            springs = [2.0 / (driver.cms * driver.sd**2)] * (cones // 2)
        else:
            masses = [driver.mms / driver.sd**2] * cones
            springs = [1.0 / (driver.cms * driver.sd**2)] * cones
    root = 1.0 / np.sqrt(np.array(masses))
    stiffness = np.diag(springs) + 1.0 / _compliance(design, chamber)
    eigenvalue = np.linalg.eigvalsh(root[:, None] * stiffness * root[None, :]).max()
    return float(np.sqrt(eigenvalue) / (2.0 * math.pi))
