"""Random, sane designs of every family from a seed, in SI; no real parts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from boxwright.air import Air
from boxwright.design import (
    Arrangement,
    Chamber,
    Design,
    DuctSegment,
    Opening,
    PassiveOpening,
    Placement,
    Source,
    VentOpening,
)
from boxwright.parts import Coil, Driver, Passive

Rng = np.random.Generator


def _between(rng: Rng, low: float, high: float) -> float:
    """Evenly over the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _maybe(rng: Rng, share: float, low: float, high: float) -> float | None:
    return _between(rng, low, high) if rng.random() < share else None


def _coil(rng: Rng) -> Coil:
    kinds = (
        Coil,
        lambda: Coil(le=_between(rng, 0.2e-3, 3e-3)),
        lambda: Coil(k=_between(rng, 5e-3, 4e-2), n=rng.uniform(0.55, 0.85)),
        lambda: Coil(
            le=_between(rng, 0.2e-3, 1e-3), l2=_between(rng, 0.5e-3, 3e-3), r2=_between(rng, 2.0, 20.0)
        ),
    )
    return kinds[rng.integers(len(kinds))]()


def driver(rng: Rng, air: Air) -> Driver:
    sd = _between(rng, 0.010, 0.080)
    fs, qms, qes = _between(rng, 18.0, 55.0), _between(rng, 2.5, 10.0), _between(rng, 0.25, 0.8)
    mms = _between(rng, 1.0, 2.5) * sd**1.2
    cms = 1.0 / ((2.0 * math.pi * fs) ** 2 * mms)
    re = _between(rng, 2.8, 7.0)
    impedance = math.sqrt(mms / cms)
    return Driver(
        re=re,
        bl=math.sqrt(impedance * re / qes),
        mms=mms,
        cms=cms,
        rms=impedance / qms,
        sd=sd,
        coil=_coil(rng),
        creep=rng.uniform(0.02, 0.15) if rng.random() < 0.3 else 0.0,
        coils=int(rng.integers(1, 3)),
        coils_as=str(rng.choice(["series", "parallel", "single"])),
    )


def arrangement(rng: Rng) -> Arrangement:
    series, parallel = int(rng.integers(1, 3)), int(rng.integers(1, 3))
    mountings = ["side-by-side", "side-by-side", "push-push"]
    if series * parallel % 2 == 0:
        mountings += ["face-to-face", "push-push"]
    mounting = rng.choice(mountings) if series * parallel % 2 == 0 else "side-by-side"
    wiring = rng.choice(["as stated", "series", "parallel", "single"])
    return Arrangement(
        series=series,
        parallel=parallel,
        mounting=str(mounting),  # type: ignore[arg-type]
        coil_wiring=None if wiring == "as stated" else str(wiring),  # type: ignore[arg-type]
    )


def _vent(rng: Rng, air: Air, volume: float, tuning: float, **where: str) -> VentOpening:
    """Round or slot, some of equal ones, with about the wanted tuning."""
    count = int(rng.integers(1, 4))
    area = _between(rng, 2e-3, 12e-3) * (volume / 0.05) ** 0.5 / count
    length = count * area * air.speed_of_sound**2 / ((2.0 * math.pi * tuning) ** 2 * volume)
    length = float(np.clip(length - 1.4 * math.sqrt(area / math.pi), 0.02, 0.8))
    ends = tuple(str(e) for e in rng.choice(["flanged", "free"], size=2))
    if rng.random() < 0.5:
        return VentOpening(
            diameter=2.0 * math.sqrt(area / math.pi), length=length, ends=ends, count=count, **where
        )
    height = math.sqrt(area / _between(rng, 1.0, 12.0))
    return VentOpening(
        shape="slot",
        width=area / height,
        height=height,
        length=length,
        ends=ends,
        walls=int(rng.integers(0, 3)),
        count=count,
        **where,
    )


def _passives(rng: Rng, air: Air, volume: float, tuning: float, count: int, **where: str) -> PassiveOpening:
    sp = _between(rng, 0.012, 0.06)
    cab = volume / air.bulk_modulus
    mass = (_between(rng, 1.05, 1.8) * count * sp**2 / cab) / (2.0 * math.pi * tuning) ** 2
    own = tuning * _between(rng, 0.2, 0.6)
    cmp = 1.0 / (mass * (2.0 * math.pi * own) ** 2)
    added = mass * rng.uniform(0.0, 0.6)
    return PassiveOpening(
        passive=Passive(
            mmp=mass - added, cmp=cmp, rmp=math.sqrt(mass / cmp) / _between(rng, 3.0, 12.0), sp=sp
        ),
        count=count,
        added_mass=added,
        **where,
    )


def _design(rng: Rng, air: Air, part: Driver, **parts: object) -> Design:
    return Design(
        air=air,
        source=Source(voltage=_between(rng, 1.0, 20.0), series_resistance=rng.choice([0.0, 0.05, 0.4])),
        driver=part,
        arrangement=arrangement(rng),
        placement=Placement(
            space=str(rng.choice(["free", "half", "quarter", "eighth"])),  # type: ignore[arg-type]
            distance=_between(rng, 0.5, 5.0),
        ),
        **parts,  # type: ignore[arg-type]
    )


def _chamber(rng: Rng, volume: float, name: str = "") -> Chamber:
    return Chamber(
        name=name,
        volume=volume,
        q_leak=_maybe(rng, 0.6, 3.0, 30.0),
        q_absorption=_maybe(rng, 0.5, 5.0, 100.0),
        fill=rng.choice([0.0, rng.uniform(0.0, 1.0)]),
    )


def closed(rng: Rng, air: Air) -> Design:
    part = driver(rng, air)
    return _design(rng, air, part, rear=_chamber(rng, part.vas(air) / _between(rng, 0.5, 6.0)))


def vented(rng: Rng, air: Air) -> Design:
    part = driver(rng, air)
    volume = part.vas(air) / _between(rng, 0.5, 5.0)
    openings: list[Opening] = [_vent(rng, air, volume, part.fs * _between(rng, 0.7, 1.5))]
    if rng.random() < 0.4:
        openings.append(_vent(rng, air, volume, part.fs * _between(rng, 0.5, 1.5)))
    return _design(rng, air, part, rear=_chamber(rng, volume), openings=tuple(openings))


def passive(rng: Rng, air: Air) -> Design:
    part = driver(rng, air)
    volume = part.vas(air) / _between(rng, 0.5, 5.0)
    tuning = part.fs * _between(rng, 0.7, 1.5)
    openings = [_passives(rng, air, volume, tuning, int(rng.integers(1, 5)))]
    if rng.random() < 0.4:
        openings.append(_passives(rng, air, volume, tuning * _between(rng, 0.6, 1.6), 2))
    return _design(rng, air, part, rear=_chamber(rng, volume), openings=tuple(openings))


def bandpass(rng: Rng, air: Air) -> Design:
    """Front with vents or passives; rear closed or open too."""
    part = driver(rng, air)
    rear = part.vas(air) / _between(rng, 0.5, 4.0)
    front = rear * _between(rng, 0.3, 2.0)
    tuning = part.fs * _between(rng, 1.0, 2.2)
    if rng.random() < 0.5:
        openings: list[Opening] = [_vent(rng, air, front, tuning, chamber="front")]
    else:
        openings = [_passives(rng, air, front, tuning, int(rng.integers(1, 3)), chamber="front")]
    if rng.random() < 0.5:
        openings.append(_vent(rng, air, rear, part.fs * _between(rng, 0.6, 1.1), chamber="rear"))
    return _design(
        rng, air, part, rear=_chamber(rng, rear), front=_chamber(rng, front), openings=tuple(openings)
    )


def line(rng: Rng, air: Air) -> Design:
    """One to three pieces, tapered or straight, empty or filled, the far end open or closed."""
    part = driver(rng, air)
    area = part.sd * _between(rng, 0.7, 2.0)
    segments = []
    for _ in range(int(rng.integers(1, 4))):
        end = area * _between(rng, 0.5, 1.6)
        resistivity = rng.choice([0.0, _between(rng, 50.0, 2000.0)])
        segments.append(
            DuctSegment(
                length=_between(rng, 0.3, 1.2),
                area_start=area,
                area_end=end,
                flow_resistivity=float(resistivity),
            )
        )
        area = end * rng.choice([1.0, _between(rng, 0.6, 1.6)])
    volume = sum(s.length * (s.area_start + s.area_end) / 2.0 for s in segments)
    rear = Chamber(
        volume=volume,
        segments=tuple(segments),
        line_end=str(rng.choice(["open", "closed"])),  # type: ignore[arg-type]
    )
    return _design(rng, air, part, rear=rear)


def coupled(rng: Rng, air: Air) -> Design:
    """Chambers joined by openings: a third one behind the rear, or the rear opening into the front."""
    part = driver(rng, air)
    rear = part.vas(air) / _between(rng, 0.5, 4.0)
    other = rear * _between(rng, 0.4, 1.5)
    # Q_L and Q_A of a chamber that opens into another would rest on a tuning that only convention fixes.
    tight = [Chamber(volume=rear), Chamber(volume=other)]
    outward = {"chamber": "front", "to": "outside"}
    inward = {"chamber": "rear", "to": "front"}
    if rng.random() < 0.5:
        openings = (
            _vent(rng, air, rear, part.fs, **inward),
            _passives(rng, air, other, part.fs * _between(rng, 1.0, 2.0), 2, **outward),
        )
        return _design(rng, air, part, rear=tight[0], front=tight[1], openings=openings)
    openings = (
        _vent(rng, air, rear, part.fs * _between(rng, 0.8, 1.5), chamber="rear", to="behind"),
        _passives(rng, air, other, part.fs * _between(rng, 0.8, 1.5), 1, chamber="rear", to="behind"),
        _vent(rng, air, other, part.fs * _between(rng, 0.6, 1.2), chamber="behind", to="outside"),
        _vent(rng, air, rear, part.fs * _between(rng, 0.8, 1.5), chamber="rear", to="outside"),
    )
    return _design(
        rng, air, part, rear=tight[0], chambers=(replace(tight[1], name="behind"),), openings=openings
    )


FAMILIES: dict[str, Callable[[Rng, Air], Design]] = {
    "closed": closed,
    "vented": vented,
    "passive": passive,
    "bandpass": bandpass,
    "line": line,
    "coupled": coupled,
}


def designs(seed: int, each: int) -> dict[str, Design]:
    """So many of each family, by name; the same for the same seed."""
    rng = np.random.default_rng(seed)
    air = Air(density=1.199314, speed_of_sound=343.9869)
    return {f"{family} {n}": make(rng, air) for family, make in FAMILIES.items() for n in range(each)}
