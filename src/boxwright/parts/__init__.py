"""What you buy: drivers, passives, vents, amplifiers, sheets, and the store that keeps them."""

from boxwright.parts.curve import Curve, Curves
from boxwright.parts.driver import Body, Coil, Driver
from boxwright.parts.passive import Passive
from boxwright.parts.stock import Amplifier, Sheet, VentStock

__all__ = ["Amplifier", "Body", "Coil", "Curve", "Curves", "Driver", "Passive", "Sheet", "VentStock"]
