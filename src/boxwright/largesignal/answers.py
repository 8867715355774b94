"""One steady sine, and a proof, as plain numbers for JSON."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.checking import check_design, check_voltage
from boxwright.compound import equivalent_driver
from boxwright.design import Design, Opening, PassiveOpening
from boxwright.errors import CannotSolve, InputError
from boxwright.largesignal.bursts import CURVE_ENDS
from boxwright.largesignal.heat import COPPER, STATED_AT
from boxwright.largesignal.model import model_of
from boxwright.largesignal.steady import steady
from boxwright.largesignal.waves import LevelMap, Steady, Wave
from boxwright.parts import Driver, Passive

if TYPE_CHECKING:
    from boxwright.largesignal.proof import Proof

__all__ = ["proof_dict", "sine_at", "steady_dict"]

_WARMEST = 700.0
_LOWEST, _HIGHEST = 0.5, 2000.0


def sine_at(
    design: Design, frequency: float, voltage: float, *, coil_temperature: float | None = None
) -> Steady:
    """Steady motion of a design under one sine at the amplifier, behind the filters.

    Parameters
    ----------
    frequency : float
        > 0. [Hz]
    voltage : float
        At the amplifier, rms, > 0; the cable's resistance counts. [V]
    coil_temperature : float, optional
        By default that at which the data sheet's resistance counts. [K]

    Raises
    ------
    InputError
        If the frequency is not from 0.5 to 2000 Hz, the voltage is not positive, or the coil is hotter than
        any coil gets.
    CannotSolve
        If the voltage is beyond what the equations can be followed to, or a chamber is a line.
    """
    check_design(design)
    check_voltage(voltage)
    if not _LOWEST <= frequency <= _HIGHEST:
        raise InputError(f"frequency must be from {_LOWEST:g} to {_HIGHEST:g} Hz, got {frequency:g}")
    re = None
    if coil_temperature is not None:
        if not 200.0 <= coil_temperature <= _WARMEST:
            raise InputError(
                f"temperature of the coil must be from 200 to {_WARMEST:.0f} K, got {coil_temperature:g}"
            )
        cold = equivalent_driver(design.driver, design.arrangement).re
        re = cold * (1.0 + COPPER * (coil_temperature - STATED_AT))
    found = steady(model_of(design, re=re), frequency, voltage)
    if not np.all(np.isfinite(found.driver_travel.harmonics)):
        raise CannotSolve(f"no motion was found at {voltage:g} V: it is far beyond what the model can follow")
    return replace(found, remarks=(*found.remarks, *_too_far(design, found)))


def _too_far(design: Design, found: Steady) -> list[str]:
    """Where the motion is larger than what is known about a part."""
    parts: list[tuple[str, Driver | Passive, Wave]] = [("cone", design.driver, found.driver_travel)]
    said = []
    for opening, wave in zip(design.openings, found.openings, strict=True):
        if isinstance(opening, PassiveOpening):
            parts.append(("passive", opening.passive, wave))
    for kind, part, wave in parts:
        farthest = max(float(wave.highest), -float(wave.lowest))
        if part.xmech is not None and farthest > part.xmech:
            said.append(
                f"the {kind} moves {farthest * 1e3:.3g} mm, its stop is at {part.xmech * 1e3:.3g} mm: it hits it"
            )
        elif part.xmax is not None and farthest > CURVE_ENDS * part.xmax:
            said.append(
                f"the {kind} moves {farthest * 1e3:.3g} mm, over {CURVE_ENDS:g} times its xmax: no curve tells more"
            )
    return said


def steady_dict(design: Design, found: Steady) -> dict[str, object]:
    """Plain lists and numbers, SI; what is no number becomes None.

    Parameters
    ----------
    design : Design
        That was asked about.
    """
    answer = _motion(design, found)
    others = [] if found.other is None else [_motion(design, found.other)]
    return {
        "name": design.name,
        "frequency_hz": found.frequency,
        "voltage_v": found.voltage,
        **answer,
        "other_motions": others,
        "warnings": list(found.remarks),
    }


def _motion(design: Design, found: Steady) -> dict[str, object]:
    distortion = float(found.pressure.distortion)
    return {
        "status": found.status,
        "driver_travel_m": _wave(found.driver_travel, extremes=True),
        "openings": [_opening(o, wave) for o, wave in zip(design.openings, found.openings, strict=True)],
        "current_a": _wave(found.current, extremes=True),
        "pressure_pa": _wave(found.pressure),
        "distortion": distortion if math.isfinite(distortion) else None,
        "multiplier": found.multiplier if math.isfinite(found.multiplier) else None,
    }


def _opening(opening: Opening, wave: Wave) -> dict[str, object]:
    if isinstance(opening, PassiveOpening):
        head = {"kind": "passive", "name": opening.passive.name, "count": opening.count}
        return {**head, "travel_m": _wave(wave, extremes=True)}
    head = {"kind": "vent", "name": "", "count": opening.count}
    return {**head, "air_speed_m_s": _wave(wave, extremes=True)}


def _wave(wave: Wave, *, extremes: bool = False) -> dict[str, object]:
    told: dict[str, object] = {"harmonics": [float(h) if math.isfinite(h) else None for h in wave.harmonics]}
    if extremes:
        told |= {"lowest": float(wave.lowest), "highest": float(wave.highest)}
    return told


def proof_dict(proof: Proof) -> dict[str, object]:
    """Plain lists and numbers, SI; what is infinite or no number becomes None."""
    clean = proof.clean
    limits = [
        {
            "name": limit.name,
            "part": limit.part,
            "allowed": _finite(limit.allowed),
            "voltage_v": _plain(limit.voltage),
            "margin_db": _plain(margin),
        }
        for limit, margin in zip(clean.limits, clean.margins(), strict=True)
    ]
    return {
        "name": proof.design.name,
        "band_hz": list(proof.band),
        "target_level_db": proof.target.level if proof.target is not None else None,
        "keeps": proof.keeps,
        "lowest_clean_level_db": _finite(proof.lowest_clean),
        "lowest_clean_frequency_hz": float(clean.frequency[proof.worst]),
        "drive_v": proof.drive,
        "broken_below_band": {
            name: {"up_to_hz": highest, "over_db": _finite(over)} for name, (highest, over) in proof.below.items()
        },
        "frequency_hz": _plain(clean.frequency),
        "clean_level_db": _plain(clean.level),
        "clean_voltage_v": _plain(clean.voltage),
        "binding": list(clean.binding),
        "linear_clean_level_db": _plain(clean.linear.clean_level),
        "linear_binding": list(clean.linear.binding),
        "distortion_threshold": clean.threshold,
        "distortion": _plain(clean.distortion),
        "driver_offset_m": _plain(clean.offset),
        "limits": limits,
        "target_voltage_v": _plain(proof.needed_voltage),
        "target_distortion": _plain(proof.needed_distortion),
        "sweep": _sweep(proof.design, clean.sweep),
        "bursts": [burst.to_dict() for burst in proof.bursts],
        "heat": proof.warming.to_dict() if proof.warming is not None else None,
        "hangs": [
            {"kind": h.kind, "name": h.name, "facing": h.facing, "sag_m": h.sag, "travel_m": _finite(h.travel),
             "left_m": _finite(h.left), "words": h.words}
            for h in proof.hangs
        ],
        "recoil": proof.recoil.to_dict() if proof.recoil is not None else None,
        "panels": proof.panels.to_dict() if proof.panels is not None else None,
        "spread": proof.spread.to_dict() if proof.spread is not None else None,
        "matters": proof.shares.to_dict() if proof.shares is not None else None,
        "warnings": list(proof.warnings),
    }  # fmt: skip


def _sweep(design: Design, sweep: LevelMap) -> dict[str, object]:
    """Harmonics at every frequency and level: lists of frequencies of levels of orders 0 to 7."""
    openings: list[dict[str, object]] = []
    for opening, wave in zip(design.openings, sweep.openings, strict=True):
        passive = isinstance(opening, PassiveOpening)
        openings.append(
            {
                "kind": "passive" if passive else "vent",
                "travel_m" if passive else "air_speed_m_s": _orders(wave),
            }
        )
    return {
        "voltage_v": _plain(sweep.voltage),
        "settled": sweep.settled.tolist(),
        "jumped": sweep.jumped.tolist(),
        "two_ways": sweep.two_ways.tolist(),
        "driver_travel_m": _orders(sweep.driver),
        "openings": openings,
        "pressure_pa": _orders(sweep.pressure),
    }


def _orders(wave: Wave) -> dict[str, object]:
    return {"harmonics": [[_plain(level) for level in frequency] for frequency in wave.harmonics]}


def _plain(values: NDArray[np.float64]) -> list[float | None]:
    return [_finite(float(v)) for v in values]


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
