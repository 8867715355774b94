"""From a design to the arrays that the state equations read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.loads import chamber_losses, named_chambers
from boxwright.compound import equivalent_driver
from boxwright.design import Design, VentOpening
from boxwright.errors import CannotSolve, InputError
from boxwright.largesignal import equations as eq
from boxwright.largesignal.curves import CurveSet, curves_for
from boxwright.largesignal.curvetable import CELLS, CurveTable
from boxwright.largesignal.ladders import CoilLadder, coil_ladder, creep_ladder
from boxwright.largesignal.movers import Mover, cone_of, opening_of, sagged, tight_chambers, vent_loss
from boxwright.parts.driver import Driver

__all__ = ["Model", "linearised", "model_of"]

Real = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """One design at level: its state equations in numbers.

    Attributes
    ----------
    rows, inflow, cubics : ndarray
        See `equations`.
    rest : ndarray, shape (n,)
        States at rest, sagged where parts face up or down.
    states : tuple of str
        What each state is.
    driver : Driver
        The equivalent driver.
    chambers : tuple of str
        Names in the order of the pressures.
    travel_at, speed_at : tuple of int
        Places of travel and velocity of the cone and then of every opening among the states; a vent has no travel: −1.
    areas : tuple of float
        Of the cone and then of every set of openings, all equal ones together. [m²]
    announced : tuple of str
        Everything that rests on a default or is left out, in words.
    """

    design: Design
    driver: Driver
    rows: Real
    inflow: Real
    cubics: Real
    rest: Real
    states: tuple[str, ...]
    chambers: tuple[str, ...]
    travel_at: tuple[int, ...]
    speed_at: tuple[int, ...]
    areas: tuple[float, ...]
    announced: tuple[str, ...]

    @property
    def width(self) -> int:
        """Length of what `equations.derivative` writes. [-]."""
        return len(self.states) + eq.outputs(len(self.chambers))


def model_of(
    design: Design, *, air: Literal["linear", "adiabatic"] = "linear", re: float | None = None
) -> Model:
    """The state equations of a design.

    Parameters
    ----------
    air : str
        "linear": pressure in a chamber in proportion to the volume pushed in; "adiabatic": the exact law.
    re : float or None
        Resistance of the equivalent driver's coil when it is warm; None: as stated. [Ω]

    Returns
    -------
    Model

    Raises
    ------
    InputError
        If a curve cannot be used or an opening names a chamber that is not there.
    CannotSolve
        If a chamber is a line: a duct has no finite set of states.

    Notes
    -----
    The adiabatic exponent is ρc²/P0, so that both laws agree at small level. Coil and creep: see `ladders`; vents: see
    `movers`.

    References
    ----------
    klippel2006
    """
    driver = equivalent_driver(design.driver, design.arrangement)
    if any(chamber.segments for chamber in named_chambers(design)):
        raise CannotSolve(
            "the large-signal model has no lines: their ducts cannot be followed in time; use a lumped chamber"
        )
    for chamber in named_chambers(design):
        if not chamber.volume > 0.0:
            raise InputError(f"volume of a chamber must be > 0 m³, got {chamber.volume:g}")
    curves = curves_for(design, driver)
    coil = coil_ladder(driver.coil, driver.re)
    creep = creep_ladder(driver.creep, 2.0 * np.pi * driver.fs)
    movers = [cone_of(design, driver, curves.kms, creep)]
    for opening, curve in zip(design.openings, curves.kmp, strict=True):
        movers.append(opening_of(design, driver, opening, curve, len(movers)))
    said = (*curves.announced, *_remarks(design, coil, creep.error))
    return _assembled(design, driver, coil, curves, movers, air, driver.re if re is None else re, said)


def _remarks(design: Design, coil: CoilLadder, creep_error: float) -> list[str]:
    said = []
    if coil.error > 0.0:
        said.append(
            f"driver coil: k·(jω)^n is met by an inductance and {len(coil.cells)} cells R ∥ L, "
            f"within {100.0 * coil.error:.1g} % of its impedance from 5 to 1000 Hz"
        )
    if creep_error > 0.0:
        said.append(
            f"driver suspension: creep is met by springs that give way late, "
            f"within {100.0 * creep_error:.1g} % of its compliance from 5 to 200 Hz"
        )
    if design.arrangement.mounting == "push-push" and design.arrangement.facing != "sideways":
        said.append("push-push drivers facing up and down: their opposite sag is left out")
    for number, opening in enumerate(design.openings, start=1):
        if isinstance(opening, VentOpening):
            said.append(
                f"vent {number}: loses {vent_loss(opening):.2g}·½ρv² at its ends (assumed from its edges, no source)"
            )
    return said


def linearised(model: Model) -> tuple[Real, Real]:
    """The equations near rest: ``d(state)/dt = A·(state − rest) + b·e``.

    Returns
    -------
    a : ndarray, shape (n + 2 + nc, n)
        Of rates and then of the outputs that `equations.derivative` appends.
    b : ndarray, shape (n + 2 + nc,)
    """
    n = len(model.states)
    args = (model.rows, model.inflow, model.cubics)
    a, low, high = np.zeros((model.width, n)), np.zeros(model.width), np.zeros(model.width)
    for k in range(n):
        # all terms are at most cubic in steps this small: the central difference is exact to rounding
        delta = 1e-5 if k in model.travel_at else 1e-4
        for sign, out in ((1.0, high), (-1.0, low)):
            y = model.rest.copy()
            y[k] += sign * delta
            eq.derivative(y, 0.0, *args, out)
        a[:, k] = (high - low) / (2.0 * delta)
    eq.derivative(model.rest, 1.0, *args, high)
    eq.derivative(model.rest, -1.0, *args, low)
    return a, 0.5 * (high - low)


def _assembled(
    design: Design,
    driver: Driver,
    coil: CoilLadder,
    curves: CurveSet,
    movers: list[Mover],
    air: Literal["linear", "adiabatic"],
    re: float,
    announced: tuple[str, ...],
) -> Model:
    chambers = named_chambers(design)
    place = {chamber.name: k for k, chamber in enumerate(chambers)} | {"outside": -1}
    for mover in movers:
        for name in (mover.begins, mover.ends):
            if name not in place:
                raise InputError(f"chamber of an opening must be one of {', '.join(place)}, got {name}")
    losses = [chamber_losses(design, chamber, driver) for chamber in chambers]
    sprung = [m.stiffness > 0.0 for m in movers]
    follows = tight_chambers(movers, [leak for _, leak, _ in losses], place)

    states: list[str] = ["coil current"] if coil.le > 0.0 else []
    states += [f"current of coil cell {k + 1}" for k in range(len(coil.cells))]
    creeps = movers[0].creep
    crept_at = len(states)
    states += [f"creep {k + 1} of the suspension" for k in range(len(creeps))]
    travel_at = []
    for mover, is_sprung in zip(movers, sprung, strict=True):
        travel_at.append(len(states) if is_sprung else -1)
        states += [f"travel of {mover.name}"] if is_sprung else []
    speed_at = [len(states) + k for k in range(len(movers))]
    states += [f"velocity of {mover.name}" for mover in movers]
    filled_at = []
    for chamber in chambers:
        free = chamber.name not in follows
        filled_at.append(len(states) if free else -1)
        states += [f"filling of {chamber.name}"] if free else []

    tables: list[CurveTable] = []

    def entered(table: CurveTable | None) -> float:
        if table is None:
            return eq.STEADY
        tables.append(table)
        return float(len(tables) - 1)

    rest = np.zeros(len(states))
    rest[crept_at : crept_at + len(creeps)] = [movers[0].weight * compliance for compliance, _ in creeps]
    inflow = np.zeros((max(len(chambers), 1), len(states)))
    ohms = re + design.source.series_resistance
    counts = (len(states), len(coil.cells), len(creeps), len(movers), len(chambers))
    rows = [_row(*counts, ohms, coil.le, driver.bl, entered(curves.bl), entered(curves.le))]
    rows += [_row(*cell) for cell in (*coil.cells, *creeps)]
    for m, mover in enumerate(movers):
        rows.append(
            _row(1.0 / mover.mass, mover.damping, mover.stiffness, mover.area, mover.quadratic, mover.weight,
                 place[mover.begins], place[mover.ends], entered(mover.curve), travel_at[m], speed_at[m])
        )  # fmt: skip
        if sprung[m]:
            rest[travel_at[m]] = sagged(mover)
    for k, chamber in enumerate(chambers):
        cab, leak, absorption = losses[k]
        cab += sum(m.give for m in movers for name in (m.begins, m.ends) if name == chamber.name)
        if filled_at[k] >= 0:
            inflow[k, filled_at[k]] = 1.0
        else:
            for m, mover in enumerate(movers):
                if sprung[m]:
                    gain = (mover.ends in follows[chamber.name]) - (mover.begins in follows[chamber.name])
                    inflow[k, travel_at[m]] += mover.area * gain
            for other in follows[chamber.name]:
                if other != chamber.name:
                    inflow[k, filled_at[place[other]]] = -1.0
        bulk, pressure = design.air.bulk_modulus, design.air.pressure
        gamma = bulk / pressure if air == "adiabatic" else 0.0
        rows.append(
            _row(cab * bulk, 1.0 / cab, gamma, pressure, leak, absorption, 1.0 / (1.0 + leak * absorption),
                 -inflow[k] @ rest, filled_at[k])
        )  # fmt: skip
    for k, table in enumerate(tables):
        rows.append(_row(table.reach, 0.5 * CELLS / table.reach, k * (CELLS + 2)))
    return Model(
        design=design,
        driver=replace(driver, re=re),
        rows=np.array(rows),
        inflow=inflow,
        cubics=np.concatenate([t.cubics for t in tables]) if tables else np.zeros((1, 4)),
        rest=rest,
        states=tuple(states),
        chambers=tuple(c.name for c in chambers),
        travel_at=tuple(travel_at),
        speed_at=tuple(speed_at),
        areas=tuple(m.area for m in movers),
        announced=announced,
    )


def _row(*values: float) -> Real:
    row = np.zeros(eq.WIDTH)
    row[: len(values)] = values
    return row
