"""From the volume velocity of a box to the pressure at a listener.

References
----------
morse1968, kuttruff
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from boxwright.acoustics.room import modal_sum, modes_of
from boxwright.errors import InputError

if TYPE_CHECKING:
    from boxwright.air import Air
    from boxwright.design import Placement, Room, TransferTable

__all__ = ["SOLID_ANGLES", "check", "transfer"]

Frequencies = np.ndarray[tuple[int], np.dtype[np.float64]]
Response = np.ndarray[tuple[int], np.dtype[np.complex128]]

SOLID_ANGLES = {
    "free": 4.0 * math.pi,
    "half": 2.0 * math.pi,
    "quarter": math.pi,
    "eighth": 0.5 * math.pi,
}
"""Ω into which a small source radiates. [sr]"""

_LEAST_DISTANCE = 0.1


def transfer(placement: Placement, air: Air, frequency: Frequencies) -> Response:
    """Pressure at the listener over the volume velocity of the box.

    Parameters
    ----------
    placement : Placement
        A space with a distance, a room, or a measured table on top of a space.
    air : Air
        Between them.
    frequency : ndarray, shape (nf,)
        > 0. [Hz]

    Returns
    -------
    ndarray of complex, shape (nf,)
        [Pa·s/m³]

    Raises
    ------
    InputError
        If the placement is impossible, or the room too large for the highest frequency.

    Notes
    -----
    Space: jωρ/(Ω·r), *without* the flight time e^{−jkr}, so that phase and group delay are those of the box.
    A room cannot be parted from its flight times: its phase has them. Room: ``jωρc²/V · Σ ψ(r)ψ(r0)/(Λ·(ωn²
    − ω² + 2jζωnω))``, all modes; the zeroth has −ω² + jω·ω_leak instead, which is the pressure zone of a
    closed cabin: +12 dB per octave towards low notes against an open space, down to the leak's corner.
    Table: its gain and unwrapped phase, straight over log frequency, its end values beyond its ends.

    References
    ----------
    morse1968, kuttruff
    """
    check(placement)
    frequency = np.asarray(frequency, np.float64)
    if not (np.all(np.isfinite(frequency)) and np.all(frequency > 0.0)):
        raise InputError(f"frequency must be > 0 Hz, got {float(np.min(frequency)):g}")
    omega = 2.0 * np.pi * frequency
    if placement.room is not None:
        return _in_room(placement.room, air, omega)
    plain = 1j * omega * air.density / (SOLID_ANGLES[placement.space] * placement.distance)
    if placement.table is not None:
        plain = plain * _interpolated(placement.table, frequency)
    return np.asarray(plain, np.complex128)


def _in_room(room: Room, air: Air, omega: Frequencies) -> Response:
    if omega.size == 0:
        return np.zeros(0, np.complex128)
    modes = modes_of(room.size, room.source, room.listener, air.speed_of_sound, float(np.max(omega)))
    total = modal_sum(modes, omega, room.damping, 0.0, 2.0 * math.pi * room.leak_frequency)
    return np.asarray(1j * omega * air.bulk_modulus / math.prod(room.size) * total, np.complex128)


def _interpolated(table: TransferTable, frequency: Frequencies) -> Response:
    at = np.log(frequency)
    known = np.log(np.array(table.frequency))
    level = np.interp(at, known, table.level)
    phase = np.interp(at, known, np.unwrap(np.radians(table.phase)))
    return np.asarray(10.0 ** (level / 20.0) * np.exp(1j * phase), np.complex128)


def check(placement: Placement) -> None:
    """Refuse a placement that cannot be.

    Raises
    ------
    InputError
        With the field, what it must be and what it is.
    """
    if placement.room is not None:
        if placement.table is not None:
            raise InputError("placement must have a room or a table, got both", mend="leave one of them out")
        _check_room(placement.room)
        return
    if placement.space not in SOLID_ANGLES:
        raise InputError(f"space must be one of {', '.join(SOLID_ANGLES)}, got {placement.space}")
    if not (math.isfinite(placement.distance) and placement.distance > 0.0):
        raise InputError(f"distance must be > 0 m, got {placement.distance:g}")
    if placement.table is not None:
        _check_table(placement.table)


def _check_room(room: Room) -> None:
    sides = ("length", "width", "height")
    for name, size in zip(sides, room.size, strict=True):
        if not (math.isfinite(size) and size > 0.0):
            raise InputError(f"{name} of the room must be > 0 m, got {size:g}")
    for what, point in (("source", room.source), ("listener", room.listener)):
        for name, value, size in zip(sides, point, room.size, strict=True):
            if not 0.0 <= value <= size:
                raise InputError(
                    f"{what} must be inside the room, from 0 to {size:g} m along its {name}, got {value:g}"
                )
    apart = math.dist(room.source, room.listener)
    if apart < _LEAST_DISTANCE:
        raise InputError(f"listener must be ≥ {_LEAST_DISTANCE:g} m away from the source, got {apart:g} m")
    if not 0.0 < room.damping < 1.0:
        raise InputError(f"damping of the room must be > 0 and < 1, got {room.damping:g}")
    if not (math.isfinite(room.leak_frequency) and room.leak_frequency >= 0.0):
        raise InputError(f"leak_frequency must be ≥ 0 Hz, got {room.leak_frequency:g}")


def _check_table(table: TransferTable) -> None:
    count = len(table.frequency)
    if not (count >= 1 and count == len(table.level) == len(table.phase)):
        raise InputError(
            "table must have as many levels and phases as frequencies, at least one, "
            f"got {count} frequencies, {len(table.level)} levels, {len(table.phase)} phases"
        )
    if not all(math.isfinite(v) for v in (*table.frequency, *table.level, *table.phase)):
        raise InputError("table must have finite numbers only, got one that is not")
    if table.frequency[0] <= 0.0:
        raise InputError(f"frequency of a table must be > 0 Hz, got {table.frequency[0]:g}")
    for low, high in zip(table.frequency, table.frequency[1:], strict=False):
        if not high > low:
            raise InputError(f"frequency of a table must rise strictly, got {high:g} Hz after {low:g} Hz")
