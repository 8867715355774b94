"""The compiled heart of the spread: blocks of boxes at every frequency, box by box in the innermost loops.

The same element functions as in the response of one design; what differs from box to box lies in columns, so that the
compiler turns the loops over boxes into vector instructions.
"""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import math

import numpy as np
from numba import njit

from boxwright.acoustics.ducts import duct_abcd
from boxwright.acoustics.elements import (
    chamber_admittance,
    coil_impedance,
    cone_velocity,
    driver_impedance,
    mass_spring_impedance,
    reciprocal,
)
from boxwright.spread.tables import Columns

__all__ = ["fill_block"]

_fast = njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract", "nsz", "arcp"})


@_fast
def _square(z):
    return z.real * z.real + z.imag * z.imag


@_fast
def _piece(z, y, length):
    """A and B of `duct_abcd` for a piece much shorter than the wave, by their power series, and C/y.

    What is left out is |γ·l|⁶/720 at most: 1.4e-12 at a tenth. No root, no exponential, so that loops vectorise.
    """
    x = z * y * (length * length)
    ch = 1.0 + x / 2.0 * (1.0 + x / 12.0)
    sh = length * (1.0 + x / 6.0 * (1.0 + x / 20.0))
    return ch, z * sh, sh


@_fast
def _vents(z, y, number, length, near, across):
    """Admittances of a set of vents in so many boxes: near = A/B and across = 1/B, times their number."""
    size = length.size
    middle = 0.0
    for b in range(size):
        middle += length[b]
    middle /= size
    away = 0.0
    for b in range(size):
        away = max(away, abs(length[b] - middle))
    if abs(z * y) * away * away > 0.01:
        for b in range(size):
            one_a, one_b, _, _ = duct_abcd(z, y, length[b])
            across[b] = number * reciprocal(one_b)
            near[b] = one_a * across[b]
        return
    # a duct of the mean length, and behind it what each is longer or shorter
    all_a, all_b, _, _ = duct_abcd(z, y, middle)
    for b in range(size):
        piece_a, piece_b, piece_c = _piece(z, y, length[b] - middle)
        whole_b = all_a * piece_b + all_b * piece_a
        across[b] = number * reciprocal(whole_b)
        near[b] = (all_a * piece_a + all_b * y * piece_c) * across[b]


@_fast
def _cut(first, last, columns):
    """Boxes first to last of the columns: indices from zero are what lets loops vectorise."""
    return Columns(
        columns.re[first:last],
        columns.bl[first:last],
        columns.mms[first:last],
        columns.cms[first:last],
        columns.rms[first:last],
        columns.sd[first:last],
        columns.coil[first:last],
        columns.travel[first:last],
        columns.power2[first:last],
        columns.rear_cab[first:last],
        columns.rear_leak[first:last],
        columns.rear_absorption[first:last],
        columns.front_cab[first:last],
        columns.front_leak[first:last],
        columns.front_absorption[first:last],
        columns.mass[:, first:last],
        columns.resistance[:, first:last],
        columns.stiffness[:, first:last],
        columns.length[:, first:last],
        columns.allowed[:, first:last],
    )


@_fast
def _chambers(w, cab, absorption, leak, out):
    """Admittance of the air and the leak of each box's chamber."""
    for b in range(out.size):
        out[b] = chamber_admittance(w, cab[b], absorption[b]) + leak[b]


@_fast
def _passives(w, mass, resistance, stiffness, near, across):
    """Admittances of a set of passives: the same flow at both sides."""
    for b in range(near.size):
        through = reciprocal(mass_spring_impedance(w, mass[b], resistance[b], 0.0, stiffness[b]))
        near[b] = through
        across[b] = through


@_fast
def _add(values, total):
    for b in range(total.size):
        total[b] += values[b]


@_fast
def _cones(w, inductive, fixed, c, y_rear, y_front, ws, p_rear, p_front, outside, out):
    """Cone, current, impedance and chamber pressures of each box for one volt behind the filters."""
    velocity2, current2, impedance2 = out
    for b in range(ws.size):
        sd = c.sd[b]
        bl = c.bl[b]
        ze = c.re[b] + fixed.series + c.coil[b] * inductive
        zm = driver_impedance(w, c.mms[b], c.rms[b], c.cms[b], fixed.creep, ws[b])
        z_rear = 0.0j
        z_front = 0.0j
        if fixed.rear:
            z_rear = reciprocal(y_rear[b])
        if fixed.front:
            z_front = reciprocal(y_front[b])
        zm = zm + sd * sd * (z_rear + z_front)
        v = cone_velocity(ze, bl, zm)
        v2 = _square(v)
        velocity2[b] = v2
        current2[b] = v2 * _square(zm) / (bl * bl)
        impedance2[b] = _square(ze + bl * bl * reciprocal(zm) - fixed.series)
        p_rear[b] = -sd * v * z_rear
        p_front[b] = sd * v * z_front
        leaving = c.rear_leak[b] * p_rear[b] + c.front_leak[b] * p_front[b]
        if not fixed.front:
            leaving += sd * v
        if not fixed.rear:
            leaving -= sd * v
        outside[b] = leaving


@_fast
def _used(w, by_voltage, by_travel, by_current, velocity2, current2, used2):
    """Largest share of a squared limit that one volt uses, of cone, voltage and current."""
    per = 1.0 / (w * w)
    for b in range(used2.size):
        used2[b] = max(by_voltage, velocity2[b] * per * by_travel[b], current2[b] * by_current[b])


@_fast
def _moved(per, pressure, near, across, by_opening, outside, opening2, used2):
    """What a set of openings moves, adds to the outside and uses of its limit."""
    for b in range(used2.size):
        outside[b] += across[b] * pressure[b]
        flow2 = max(_square(near[b]), _square(across[b])) * _square(pressure[b])
        opening2[b] = flow2
        used2[b] = max(used2[b], flow2 * per * by_opening[b])


@_fast
def _heard(gain2, transfer2, outside, used2, flow2, clean2):
    for b in range(used2.size):
        u2 = _square(outside[b])
        flow2[b] = u2 * gain2
        clean2[b] = u2 * transfer2 / used2[b]


@_fast
def _filtered(gain2, values):
    for b in range(values.size):
        values[b] *= gain2


@_fast
def fill_block(first, last, fixed, columns, curves):
    """Compute boxes first to last at every frequency.

    Parameters
    ----------
    first, last : int
        Boxes. [-]
    fixed : Fixed
    columns : Columns
    curves : Curves
        Written.
    """
    size = last - first
    sets = fixed.behind.size
    y_rear = np.zeros(size, np.complex128)
    y_front = np.zeros(size, np.complex128)
    near = np.zeros((sets, size), np.complex128)
    across = np.zeros((sets, size), np.complex128)
    outside = np.zeros(size, np.complex128)
    p_rear = np.zeros(size, np.complex128)
    p_front = np.zeros(size, np.complex128)
    used2 = np.zeros(size)
    # one over each squared limit: the largest share used decides, and one division a point is enough
    by_travel, by_current, by_opening = np.zeros(size), np.zeros(size), np.zeros((sets, size))
    ws = np.zeros(size)
    c = _cut(first, last, columns)
    for b in range(size):
        ws[b] = 1.0 / math.sqrt(c.mms[b] * c.cms[b])
        by_travel[b] = 2.0 / (c.travel[b] * c.travel[b])
        by_current[b] = 1.0 / min(fixed.current2, c.power2[b])
        for s in range(sets):
            by_opening[s, b] = 2.0 / (c.allowed[s, b] * c.allowed[s, b])
    by_voltage = 1.0 / fixed.voltage2
    le, k, n, l2, r2 = fixed.coil
    for i in range(fixed.w.size):
        w = fixed.w[i]
        inductive = coil_impedance(w, le, k, n, l2, r2)
        if fixed.rear:
            _chambers(w, c.rear_cab, c.rear_absorption, c.rear_leak, y_rear)
        if fixed.front:
            _chambers(w, c.front_cab, c.front_absorption, c.front_leak, y_front)
        for s in range(sets):
            if fixed.vent[s] == 1:
                _vents(
                    fixed.series_z[s, i], fixed.shunt_y[s, i], fixed.number[s], c.length[s], near[s], across[s]
                )  # fmt: skip
            else:
                _passives(w, c.mass[s], c.resistance[s], c.stiffness[s], near[s], across[s])
            _add(near[s], y_rear if fixed.behind[s] == 1 else y_front)
        _cones(
            w,
            inductive,
            fixed,
            c,
            y_rear,
            y_front,
            ws,
            p_rear,
            p_front,
            outside,
            (
                curves.velocity2[i, first:last],
                curves.current2[i, first:last],
                curves.impedance2[i, first:last],
            ),
        )
        _used(
            w,
            by_voltage,
            by_travel,
            by_current,
            curves.velocity2[i, first:last],
            curves.current2[i, first:last],
            used2,
        )
        for s in range(sets):
            pressure = p_rear if fixed.behind[s] == 1 else p_front
            per = 1.0 if fixed.vent[s] == 1 else 1.0 / (w * w)
            _moved(
                per,
                pressure,
                near[s],
                across[s],
                by_opening[s],
                outside,
                curves.opening2[s, i, first:last],
                used2,
            )
        _heard(
            fixed.gain2[i],
            fixed.transfer2[i],
            outside,
            used2,
            curves.flow2[i, first:last],
            curves.clean2[i, first:last],
        )
        if fixed.gain2[i] != 1.0:
            _filtered(fixed.gain2[i], curves.velocity2[i, first:last])
            _filtered(fixed.gain2[i], curves.current2[i, first:last])
            for s in range(sets):
                _filtered(fixed.gain2[i], curves.opening2[s, i, first:last])
