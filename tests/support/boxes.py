"""Small invented designs and a small brief, for tests of reports and of the command line."""

from __future__ import annotations

from dataclasses import replace

from boxwright.design import BoxPlan, Chamber, Design, Filter, PassiveOpening, Source, VentOpening
from boxwright.parts import Body, Coil, Driver, Passive

BRIEF = """\
format = "boxwright-brief/1"
name = "Small"

[space]
width = "620 mm"
height = "190 mm"
depth = "400 mm"

[target]
reach = "36 Hz"
level = "98 dB"

[source]
max_power = "150 W"
load = "4 ohm"

[limits]
budget = 320
weight = "16 kg"

[parts]
drivers = ["Heron 200"]
passives = ["Moth 250"]
vents = ["Reed 75"]
sheet = "Birch ply 15"
"""
"""Over the bundled example parts: a few thousand boxes."""


def driver(name: str = "Heron") -> Driver:
    """A nominal 200 mm driver."""
    return Driver(
        name=name, re=3.4, bl=9.2, mms=0.065, cms=0.433e-3, rms=2.1, sd=0.0219, coil=Coil(le=1e-3), xmax=0.014,
        xmech=0.024, pmax=190.0, body=Body(weight=3.4), price=118.0,
    )  # fmt: skip


def passive(name: str = "Moth") -> Passive:
    """A nominal 250 mm passive."""
    return Passive(
        name=name, mmp=0.098, cmp=0.798e-3, rmp=1.58, sp=0.0346, xmax=0.016, added_mass_max=0.38, price=54.0
    )


def passive_box(name: str = "A passive box") -> Design:
    """Driven hard enough that its cone leaves its travel below the tuning."""
    return Design(
        name=name,
        driver=driver(),
        rear=Chamber(volume=0.026, q_leak=7.0),
        openings=(PassiveOpening(passive=passive(), count=2, added_mass=0.12, facing="down"),),
        source=Source(
            voltage=20.0,
            max_power=150.0,
            load=4.0,
            filters=(Filter(kind="high-pass", order=4, frequency=22.0),),
        ),
        box=BoxPlan(width=0.602, height=0.19, depth=0.388, wall=0.0147, sheet="Birch ply 15"),
    )


def vented_box(name: str = "A vented box") -> Design:
    """Two vents, unequal."""
    vents = (
        VentOpening(diameter=0.075, length=0.3, flare=0.01),
        VentOpening(shape="slot", width=0.2, height=0.02, length=0.4, walls=1),
    )
    return replace(passive_box(name), openings=vents)


def closed_box(name: str = "A closed box") -> Design:
    """Driven gently enough to keep every limit."""
    return replace(passive_box(name), openings=(), source=Source(voltage=6.0))
