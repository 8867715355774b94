"""The invented systems whose figures were worked out in closed form and in a circuit simulator."""

from __future__ import annotations

from tests.support.normalised import AIR

from boxwright.air import Air
from boxwright.design import Chamber, Design, PassiveOpening, Source
from boxwright.parts import Driver, Passive

DRIVER = Driver(re=3.6, bl=11.0, mms=0.060, cms=0.55e-3, rms=2.0, sd=0.0214)
PASSIVE = Passive(mmp=0.110, cmp=0.80e-3, rmp=1.6, sp=0.0330)


def passive_box(*, voltage: float = 1.0, air: Air = AIR) -> Design:
    """The passive box of passive_worked.toml: 18 L, Q_L 7."""
    return Design(
        air=air,
        source=Source(voltage=voltage),
        driver=DRIVER,
        rear=Chamber(name="rear", volume=0.018, q_leak=7.0),
        openings=(PassiveOpening(passive=PASSIVE),),
    )
