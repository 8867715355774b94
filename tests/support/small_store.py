"""A few invented parts and a small brief that they can meet, for tests of the search."""

from __future__ import annotations

import math
from dataclasses import replace

from boxwright.air import Air
from boxwright.brief import Brief, Limits, Space, Target
from boxwright.design import Source
from boxwright.parts import Body, Coil, Driver, Passive, Sheet, VentStock
from boxwright.search.families import PartsOffer

__all__ = ["AIR", "BOARD", "OFFER", "brief", "driver", "passive", "tube"]

AIR = Air(density=1.2, speed_of_sound=343.4)
BOARD = Sheet(name="board", length=2.5, width=1.25, thickness=0.015, density=650.0, price=60.0)


def driver(name: str = "Wren", **changes: object) -> Driver:
    """A 200 mm driver with every value stated; ``fs``, ``qes`` and ``qms`` may be changed like fields."""
    sd = float(changes.pop("sd", 0.022))  # type: ignore[arg-type]
    fs = float(changes.pop("fs", 27.0))  # type: ignore[arg-type]
    qes = float(changes.pop("qes", 0.42))  # type: ignore[arg-type]
    qms = float(changes.pop("qms", 5.0))  # type: ignore[arg-type]
    mms = float(changes.pop("mms", 0.055))  # type: ignore[arg-type]
    re = float(changes.pop("re", 3.5))  # type: ignore[arg-type]
    root = 2.0 * math.pi * fs * mms  # √(mms/cms)
    part = Driver(
        name=name,
        re=re,
        bl=math.sqrt(root * re / qes),
        mms=mms,
        cms=1.0 / ((2.0 * math.pi * fs) ** 2 * mms),
        rms=root / qms,
        sd=sd,
        coil=Coil(le=0.8e-3),
        xmax=8e-3,
        xmech=14e-3,
        pmax=200.0,
        body=Body(
            frame_diameter=0.210, cutout_diameter=0.186, depth=0.090, magnet_diameter=0.110,
            displacement=1.1e-3, weight=2.6,
        ),
        price=70.0,
    )  # fmt: skip
    return replace(part, **changes)  # type: ignore[arg-type]


def passive(name: str = "Clover", **changes: object) -> Passive:
    """A 250 mm passive with every value stated."""
    part = Passive(
        name=name,
        mmp=0.090,
        cmp=0.6e-3,
        rmp=1.5,
        sp=0.034,
        xmax=13e-3,
        xmech=18e-3,
        added_mass_max=0.4,
        body=Body(frame_diameter=0.262, cutout_diameter=0.235, depth=0.045, displacement=0.6e-3, weight=0.9),
        price=32.0,
    )
    return replace(part, **changes)  # type: ignore[arg-type]


def tube(name: str = "Fern", diameter: float = 0.075, **changes: object) -> VentStock:
    """A vent tube that can be folded."""
    part = VentStock(
        name=name, diameter=diameter, wall=0.003, flare=0.008, bend_price=8.0, price=6.0, price_per_metre=12.0
    )
    return replace(part, **changes)  # type: ignore[arg-type]


OFFER = PartsOffer(
    drivers=(
        driver(),
        driver(
            "Tern",
            sd=0.0137,
            fs=31.0,
            mms=0.030,
            qes=0.36,
            xmax=7e-3,
            pmax=120.0,
            price=48.0,
            body=Body(
                frame_diameter=0.166, cutout_diameter=0.146, depth=0.080, magnet_diameter=0.090,
                displacement=0.6e-3, weight=1.6,
            ),
        ),
    ),
    passives=(
        passive(),
        passive(
            "Sorrel",
            sp=0.0215,
            mmp=0.050,
            cmp=0.8e-3,
            rmp=1.0,
            xmax=11e-3,
            xmech=15e-3,
            added_mass_max=0.3,
            price=21.0,
            body=Body(frame_diameter=0.210, cutout_diameter=0.186, depth=0.040, displacement=0.4e-3, weight=0.6),
        ),
    ),
    vents=(tube(), tube("Moss", 0.068, price=5.0, bend_price=None)),
    sheets=(BOARD,),
)  # fmt: skip


def brief(**changes: object) -> Brief:
    """A brief that the store's parts meet; fields of target and limits may be given beside those of the brief."""
    target = Target(reach=34.0, level=98.0, band_top=100.0)
    limits = Limits(weight=16.0, budget=260.0, passives=2, vents=2, cones=1)
    for name in ("reach", "level", "band_top", "content_from", "placement"):
        if name in changes:
            target = replace(target, **{name: changes.pop(name)})  # type: ignore[arg-type]
    for name in Limits.__dataclass_fields__:
        if name in changes:
            limits = replace(limits, **{name: changes.pop(name)})  # type: ignore[arg-type]
    plain = Brief(
        name="small",
        air=AIR,
        space=Space(width=0.56, height=0.30, depth=0.36),
        target=target,
        source=Source(max_power=150.0, load=4.0),
        limits=limits,
        passive_facing="sideways",
    )
    return replace(plain, **changes)  # type: ignore[arg-type]
