"""Where a box is tuned, and what tunes it where one wants it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boxwright.air import Air
from boxwright.errors import InputError
from boxwright.parts.passive import Passive

__all__ = [
    "added_mass_for",
    "closed_resonance",
    "effective_volume",
    "passive_tuning",
    "resonance_of",
    "unladen_volume",
    "vent_length_for",
    "vented_tuning",
]

# Full light filling is credited with 20 % more volume; the isothermal limit would be 40 % (γ = 1.4). The 20 % is
# common practice, no source.
FILL_GAIN = 0.20


def effective_volume(volume: float, fill: float) -> float:
    """Volume that a chamber seems to have with its filling. [m³].

    Parameters
    ----------
    volume : float
        Net volume. [m³]
    fill : float
        Share that is lightly filled, 0 to 1. [-]
    """
    return volume * (1.0 + FILL_GAIN * fill)


def resonance_of(cab: float, masses: Sequence[float], stiffnesses: Sequence[float]) -> float:
    """Frequency at which openings resonate in phase with the air of their chamber. [Hz].

    The root of ``ω·Cab = Σ 1/(ω·Mᵢ − Kᵢ/ω)`` above every opening's own resonance; for one opening it is
    ``ω² = (1/Cab + K)/M``.

    Parameters
    ----------
    cab : float
        Acoustic compliance of the chamber. [m³/Pa]
    masses, stiffnesses : sequence of float
        Acoustic mass and stiffness of each set of openings. [kg/m⁴], [Pa/m³]
    """
    own = [k / m for m, k in zip(masses, stiffnesses, strict=True)]
    if len(own) == 1:
        return math.sqrt((1.0 / cab + stiffnesses[0]) / masses[0]) / (2.0 * math.pi)

    def excess(w2: float) -> float:
        return cab - sum(1.0 / (m * (w2 - o)) for m, o in zip(masses, own, strict=True))

    low, high = max(own), max(own) + sum(1.0 / (m * cab) for m in masses)
    # `excess` rises from −∞ just above the highest own resonance to ≥ 0 at `high`
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if excess(middle) < 0.0:
            low = middle
        else:
            high = middle
    return math.sqrt(high) / (2.0 * math.pi)


def _positive(value: float, name: str, unit: str) -> None:
    if not (value > 0.0 and math.isfinite(value)):
        raise InputError(f"{name} must be > 0 {unit}, got {value:g}")


def passive_tuning(
    passive: Passive, volume: float, count: int, air: Air, *, added_mass: float = 0.0
) -> float:
    """Frequency at which the passives' mass resonates with box air and their own suspension.

    Parameters
    ----------
    volume : float
        Effective net volume shared by all passives, > 0. [m³]
    count : int
        Equal passives on that volume, > 0. [-]
    added_mass : float
        On each. [kg]

    Returns
    -------
    float
        Tuning frequency. [Hz]

    Raises
    ------
    InputError
        If volume, count or the whole mass is not positive.

    Notes
    -----
    ``ω² = (1/Cmp + n·Sp²/Cab) / (Mmp + added)``. Valid: lumped chamber, k·l ≪ 1.

    References
    ----------
    small1974
    """
    _positive(volume, "volume", "m³")
    _positive(count, "count", "")
    _positive(passive.mmp + added_mass, "mass of the passive with what is added", "kg")
    spring = 1.0 / passive.cmp + count * passive.sp**2 * air.bulk_modulus / volume
    return math.sqrt(spring / (passive.mmp + added_mass)) / (2.0 * math.pi)


def added_mass_for(passive: Passive, volume: float, count: int, air: Air, tuning: float) -> float:
    """Mass to add to each passive for a wanted tuning; negative: it is too heavy already. [kg].

    Parameters
    ----------
    volume : float
        Effective net volume shared by all passives, > 0. [m³]
    count : int
        Equal passives on that volume, > 0. [-]
    tuning : float
        Wanted. [Hz]

    References
    ----------
    small1974
    """
    _positive(volume, "volume", "m³")
    _positive(tuning, "tuning", "Hz")
    spring = 1.0 / passive.cmp + count * passive.sp**2 * air.bulk_modulus / volume
    return spring / (2.0 * math.pi * tuning) ** 2 - passive.mmp


def unladen_volume(passive: Passive, count: int, air: Air, tuning: float) -> float:
    """Volume at which the passives without added mass already tune to ``tuning``; inf below their own fp. [m³].

    References
    ----------
    small1974
    """
    _positive(tuning, "tuning", "Hz")
    spare = passive.mmp * (2.0 * math.pi * tuning) ** 2 - 1.0 / passive.cmp
    return count * passive.sp**2 * air.bulk_modulus / spare if spare > 0 else math.inf


def vented_tuning(area: float, effective_length: float, volume: float, count: int, air: Air) -> float:
    """Tuning of a vented box (Helmholtz resonance), lumped. [Hz].

    Parameters
    ----------
    area : float
        Cross-section of each vent. [m²]
    effective_length : float
        With end corrections. [m]
    volume : float
        Effective net volume. [m³]
    count : int
        Equal vents. [-]

    References
    ----------
    small1973vented
    """
    for value, name, unit in (
        (area, "area", "m²"),
        (effective_length, "length", "m"),
        (volume, "volume", "m³"),
    ):
        _positive(value, name, unit)
    return air.speed_of_sound / (2.0 * math.pi) * math.sqrt(count * area / (volume * effective_length))


def vent_length_for(
    area: float, end_corrections: float, volume: float, count: int, air: Air, tuning: float
) -> float:
    """Physical length of each vent for a wanted tuning; negative: the opening alone is too much. [m].

    Parameters
    ----------
    end_corrections : float
        Sum of both ends' added lengths. [m]

    References
    ----------
    small1973vented
    """
    for value, name, unit in (
        (area, "area", "m²"),
        (volume, "volume", "m³"),
        (count, "count", ""),
        (tuning, "tuning", "Hz"),
    ):
        _positive(value, name, unit)
    if not 0.0 <= end_corrections < math.inf:
        raise InputError(f"end_corrections must be ≥ 0 m, got {end_corrections:g}")
    w = 2.0 * math.pi * tuning
    return count * area * air.speed_of_sound**2 / (w * w * volume) - end_corrections


def closed_resonance(cms: float, mms: float, sd: float, cab: float) -> float:
    """Resonance of a cone on a closed chamber. [Hz].

    References
    ----------
    small1972closed
    """
    return math.sqrt((1.0 / cms + sd**2 / cab) / mms) / (2.0 * math.pi)
