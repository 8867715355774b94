"""Random designs driven to their travel, and the state equations of a loudspeaker at level written out plainly.

Nothing here goes through the product's equations: every chamber keeps its own filling, the coil its flux, curves are
polynomials evaluated as such, vents and leaks come from the circuit's support files. Only the parts themselves (the
equivalent driver) and the ladders that stand for lossy coils and creep are the product's.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from tests.support.circuit import chamber_tuning
from tests.support.ducts import area, vent_duct
from tests.support.random_designs import bandpass, closed, coupled, passive, vented

from boxwright.acoustics.motion import solve
from boxwright.air import Air
from boxwright.compound import equivalent_driver
from boxwright.design import Chamber, Design, PassiveOpening
from boxwright.largesignal.ladders import coil_ladder, creep_ladder
from boxwright.parts import Coil, Curve, Curves

Real = NDArray[np.float64]
GRAVITY = 9.80665
FAMILIES = {"closed": closed, "vented": vented, "passive": passive, "bandpass": bandpass, "coupled": coupled}


@dataclass(frozen=True, slots=True)
class Drive:
    """A design, and a sine that brings its cone or its passives near their travel."""

    design: Design
    frequency: float
    voltage: float  # rms


def drives(
    seed: int, each: int, families: tuple[str, ...] = ("closed", "vented", "passive", "bandpass")
) -> dict[str, Drive]:
    """So many of each family, by name; the same for the same seed."""
    rng = np.random.default_rng(seed)
    air = Air(density=1.199314, speed_of_sound=343.9869)
    return {
        f"{family} {n}": _driven(rng, FAMILIES[family](rng, air)) for family in families for n in range(each)
    }


def _driven(rng: np.random.Generator, design: Design) -> Drive:
    coil = design.driver.coil
    if coil.k > 0.0:
        coil = Coil(le=float(rng.uniform(0.2e-3, 2e-3)))
    one = replace(design.driver, coil=coil, creep=0.0)
    plain = replace(design, driver=one)
    driver = equivalent_driver(one, plain.arrangement)
    frequency = driver.fs * float(np.exp(rng.uniform(np.log(0.6), np.log(2.5))))
    voltage = float(np.exp(rng.uniform(np.log(4.0), np.log(30.0))))
    moved = solve(plain, driver, np.array([frequency]))
    omega = 2.0 * math.pi * frequency
    travel = math.sqrt(2.0) * voltage * abs(moved.velocity[0]) / omega
    # a sine that sets in carries low notes, which the box does not hold back
    travel = max(travel, 0.7 * math.sqrt(2.0) * voltage * driver.bl / driver.re * driver.cms)
    # so far past its rated travel the linear cone would go
    rated = travel / float(rng.uniform(1.4, 2.2))
    curves = Curves(
        bl=_curve(rng, rated, 0.12, (-0.20, -0.08)),
        kms=_curve(rng, rated, 0.20, (0.15, 0.60)),
        le=_curve(rng, rated, 0.30, (-0.05, 0.10)) if rng.random() < 0.8 else None,
    )
    openings = []
    for opening, flow in zip(plain.openings, moved.inner, strict=True):
        if isinstance(opening, PassiveOpening):
            part = opening.passive
            goes = math.sqrt(2.0) * voltage * abs(flow[0]) / (omega * part.sp * opening.count)
            sag = (part.mmp + opening.added_mass) * GRAVITY * part.cmp
            goes = max(goes, travel * driver.sd / (part.sp * opening.count), sag)
            xmax = goes / float(rng.uniform(0.8, 1.6))
            kmp = Curves(kmp=_curve(rng, xmax, 0.15, (0.15, 0.6)))
            facing = str(rng.choice(["sideways", "up", "down"]))
            opening = replace(opening, passive=replace(part, xmax=xmax, curves=kmp), facing=facing)  # type: ignore[arg-type]  # noqa: PLW2901
        openings.append(opening)
    facing = (
        str(rng.choice(["sideways", "sideways", "up", "down"]))
        if plain.arrangement.mounting != "push-push"
        else "sideways"
    )
    return Drive(
        replace(
            plain,
            driver=replace(one, curves=curves, xmax=rated),
            arrangement=replace(plain.arrangement, facing=facing),  # type: ignore[arg-type]
            openings=tuple(openings),
        ),
        frequency,
        voltage,
    )


def _curve(rng: np.random.Generator, scale: float, tilt: float, bend: tuple[float, float]) -> Curve:
    return Curve(polynomial=(1.0, rng.uniform(-tilt, tilt) / scale, rng.uniform(*bend) / scale**2))


def polynomial(curve: Curve | None, *, mirrored: bool = False) -> np.polynomial.Polynomial:
    """A curve's ratio; of drivers face to face the even part."""
    terms = list(curve.polynomial) if curve is not None else [1.0]
    if mirrored:
        terms = [0.0 if k % 2 else a for k, a in enumerate(terms)]
    return np.polynomial.Polynomial(terms)


@dataclass(frozen=True, slots=True)
class Part:
    """Something that moves between two chambers, -1 being the outside."""

    mass: float
    damping: float
    stiffness: float
    area: float
    ratio: np.polynomial.Polynomial
    loss: float
    weight: float
    begins: int
    ends: int


@dataclass(frozen=True, slots=True)
class Room:
    """Air in a chamber."""

    volume: float
    leak: float
    absorption: float


@dataclass(slots=True)
class Plain:
    """One design as numbers under plain names; `rates` is its right-hand side."""

    resistance: float
    bl: np.polynomial.Polynomial
    le: float
    shape: np.polynomial.Polynomial
    cells: tuple[tuple[float, float], ...]
    creeps: tuple[tuple[float, float], ...]
    parts: list[Part]
    rooms: list[Room]
    bulk: float
    pressure: float
    adiabatic: bool

    def start(self) -> Real:
        """At rest: flux, cell fluxes, creeps, then travels, velocities, fillings."""
        creeps = [self.parts[0].weight * c for c, _ in self.creeps]
        hung = [self._hangs(part, sum(creeps) if part is self.parts[0] else 0.0) for part in self.parts]
        return np.array(
            [0.0] * (1 + len(self.cells)) + creeps + hung + [0.0] * (len(self.parts) + len(self.rooms))
        )

    def _hangs(self, part: Part, crept: float) -> float:
        if part.weight == 0.0:
            return 0.0
        return float(
            brentq(
                lambda x: part.stiffness * part.ratio(x) * (x - crept) - part.weight, -0.2, 0.2, xtol=1e-14
            )
        )

    def current(self, y: Real, e: float) -> float:
        x, v = y[self.travel_at(0)], y[self.speed_at(0)]
        shape = float(self.shape(x))
        if self.le > 0.0:
            return float(y[0] / (shape * self.le))
        # without an inductance the current follows from the voltages alone
        volts, ohms = e - float(self.bl(x)) * v, self.resistance
        for k, (r, inductance) in enumerate(self.cells):
            ohms += shape * r
            volts += r * y[1 + k] / inductance
        return float(volts / ohms)

    def travel_at(self, m: int) -> int:
        return 1 + len(self.cells) + len(self.creeps) + m

    def speed_at(self, m: int) -> int:
        return self.travel_at(len(self.parts)) + m

    def air(self, y: Real) -> tuple[list[float], list[float]]:
        """Pressure and net inflow of every chamber."""
        into = [0.0] * len(self.rooms)
        for m, part in enumerate(self.parts):
            flow = part.area * y[self.speed_at(m)]
            if part.begins >= 0:
                into[part.begins] -= flow
            if part.ends >= 0:
                into[part.ends] += flow
        pressures, net = [], []
        for k, room in enumerate(self.rooms):
            q = y[self.speed_at(len(self.parts)) + k]
            if self.adiabatic:
                spring = self.pressure * (
                    (room.volume / (room.volume - q)) ** (self.bulk / self.pressure) - 1.0
                )
            else:
                spring = self.bulk * q / room.volume
            # node: spring + absorption·(into − leak·p) = p
            p = (spring + room.absorption * into[k]) / (1.0 + room.absorption * room.leak)
            pressures.append(p)
            net.append(into[k] - room.leak * p)
        return pressures, net

    def outside(self, y: Real) -> float:
        pressures, _ = self.air(y)
        total = sum(room.leak * p for room, p in zip(self.rooms, pressures, strict=True))
        for m, part in enumerate(self.parts):
            total += part.area * y[self.speed_at(m)] * ((part.ends < 0) - (part.begins < 0))
        return float(total)

    def rates(self, y: Real, e: float) -> Real:
        out = np.zeros_like(y)
        x, v = y[self.travel_at(0)], y[self.speed_at(0)]
        shape, slope, i = float(self.shape(x)), float(self.shape.deriv()(x)), self.current(y, e)
        volts = e - self.resistance * i - float(self.bl(x)) * v
        pull = 0.5 * slope * self.le * i * i
        for k, (r, inductance) in enumerate(self.cells):
            j = y[1 + k] / (shape * inductance)
            out[1 + k] = shape * r * (i - j)
            volts -= out[1 + k]
            pull += 0.5 * slope * inductance * j * j
        out[0] = volts if self.le > 0.0 else 0.0
        pressures, net = self.air(y)
        crept = sum(y[1 + len(self.cells) + k] for k in range(len(self.creeps)))
        for m, part in enumerate(self.parts):
            x, v = y[self.travel_at(m)], y[self.speed_at(m)]
            spring = part.stiffness * float(part.ratio(x)) * (x - (crept if m == 0 else 0.0))
            push = (pressures[part.begins] if part.begins >= 0 else 0.0) - (
                pressures[part.ends] if part.ends >= 0 else 0.0
            )
            force = part.area * push - part.damping * v - part.loss * v * abs(v) - spring + part.weight
            if m == 0:
                force += float(self.bl(x)) * i + pull
                for k, (compliance, delay) in enumerate(self.creeps):
                    at = 1 + len(self.cells) + k
                    out[at] = (compliance * spring - y[at]) / delay
            out[self.travel_at(m)], out[self.speed_at(m)] = v, force / part.mass
        out[self.speed_at(len(self.parts)) :] = net
        return out


def plain(design: Design, *, adiabatic: bool = False) -> Plain:
    """The numbers of a design."""
    driver = equivalent_driver(design.driver, design.arrangement)
    mirrored = design.arrangement.mounting == "face-to-face"
    coil = coil_ladder(driver.coil, driver.re)
    creep = creep_ladder(driver.creep, 2.0 * math.pi * driver.fs)
    chambers = [(c, name) for c, name in ((design.rear, "rear"), (design.front, "front")) if c is not None]
    chambers += [(c, c.name) for c in design.chambers]
    place = {name: k for k, (_, name) in enumerate(chambers)} | {"outside": -1}
    bulk = design.air.bulk_modulus
    rooms = [_room(design, chamber, name) for chamber, name in chambers]
    down = {"down": 1.0, "up": -1.0, "sideways": 0.0}
    parts = [
        Part(
            driver.mms, driver.rms, 1.0 / (driver.cms * creep.prompt), driver.sd,
            polynomial(driver.curves.kms, mirrored=mirrored), 0.0,
            down[design.arrangement.facing] * driver.mms * GRAVITY, place.get("rear", -1), place.get("front", -1),
        )
    ]  # fmt: skip
    for opening in design.openings:
        begins, ends, n = place[opening.chamber], place[opening.to], opening.count
        if isinstance(opening, PassiveOpening):
            part = opening.passive
            mass = n * (part.mmp + opening.added_mass)
            parts.append(
                Part(mass, n * part.rmp, n / part.cmp, n * part.sp, polynomial(part.curves.kmp), 0.0,
                     down[opening.facing] * mass * GRAVITY, begins, ends)
            )  # fmt: skip
            continue
        omega = 2.0 * math.pi * chamber_tuning(design, opening.chamber)
        duct, length = vent_duct(opening, design.air)
        characteristic, gamma = duct(omega)
        # half the duct's air at either end, and between them what makes up the duct's own input
        breath = n * (cmath.tanh(gamma * length / 2.0) / characteristic).imag / omega
        z = 1.0 / (n / (characteristic * cmath.tanh(gamma * length)) - 1j * omega * breath)
        for end in (begins, ends):
            rooms = [
                replace(r, volume=r.volume + breath * bulk) if k == end else r for k, r in enumerate(rooms)
            ]
        s = n * area(opening)
        parts.append(
            Part(s**2 * z.imag / omega, s**2 * z.real, 0.0, s, polynomial(None), 0.5 * design.air.density * s, 0.0,
                 begins, ends)
        )  # fmt: skip
    return Plain(
        resistance=driver.re + design.source.series_resistance,
        bl=driver.bl * polynomial(driver.curves.bl, mirrored=mirrored),
        le=coil.le,
        shape=polynomial(driver.curves.le, mirrored=mirrored),
        cells=coil.cells,
        creeps=tuple((driver.cms * share, delay) for share, delay in creep.cells),
        parts=parts,
        rooms=rooms,
        bulk=bulk,
        pressure=design.air.pressure,
        adiabatic=adiabatic,
    )


def _room(design: Design, chamber: Chamber, name: str) -> Room:
    """Light filling is credited with up to 20 % more volume (common practice, no source)."""
    volume = chamber.volume * (1.0 + 0.2 * chamber.fill)
    rate = 2.0 * math.pi * chamber_tuning(design, name) * volume / design.air.bulk_modulus
    return Room(
        volume=volume,
        leak=rate / chamber.q_leak if chamber.q_leak else 0.0,
        absorption=1.0 / (chamber.q_absorption * rate) if chamber.q_absorption else 0.0,
    )


def integrate(
    numbers: Plain, y: Real, voltage: Callable[[float], float], times: Real, *, rtol: float = 1e-10
) -> Real:
    """States at the times by scipy's DOP853, shape (n, nt)."""
    from scipy.integrate import solve_ivp

    scale = np.full(y.size, 1e-12)
    done = solve_ivp(
        lambda t, state: numbers.rates(state, voltage(t)),
        (float(times[0]), float(times[-1])), y, method="DOP853", t_eval=times, rtol=rtol, atol=scale,
        first_step=1e-7, max_step=float(times[-1] - times[0]) / 100.0,
    )  # fmt: skip
    assert done.success, done.message
    return np.asarray(done.y, np.float64)
