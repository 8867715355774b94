"""What else is bought: vent tubes and slots, amplifiers, sheet goods."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Amplifier", "Sheet", "VentStock"]


@dataclass(frozen=True, slots=True, kw_only=True)
class VentStock:
    """A vent that can be bought as a tube or built as a slot.

    Attributes
    ----------
    shape : str
        "round" (a tube) or "slot" (built from sheet along a wall). [-]
    diameter : float or None
        Inner diameter of a tube. [m]
    width, height : float or None
        Inner size of a slot. [m]
    wall : float
        Wall thickness of the tube, or of the slot's panel. [m]
    flare : float
        Radius of the rounding at each end; 0: a plain edge. [m]
    max_length : float or None
        Longest piece sold; None: any. [m]
    bend_price : float or None
        Price of one bend; None: cannot be folded.
    price : float or None
        Fixed price of one vent (flares, elbows left out), in the user's currency.
    price_per_metre : float or None
        In the user's currency per metre of length.
    """

    name: str = ""
    shape: str = "round"
    diameter: float | None = None
    width: float | None = None
    height: float | None = None
    wall: float = 0.003
    flare: float = 0.0
    max_length: float | None = None
    bend_price: float | None = None
    price: float | None = None
    price_per_metre: float | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amplifier:
    """An amplifier channel.

    Attributes
    ----------
    power : float
        Rated power into the rated load. [W]
    load : float
        Lowest load it is rated for. [Ω]
    max_voltage, max_current : float or None
        Limits, rms; None: what power and load imply. [V], [A]
    output_resistance : float
        [Ω]
    """

    name: str = ""
    power: float
    load: float
    max_voltage: float | None = None
    max_current: float | None = None
    output_resistance: float = 0.0
    weight: float | None = None
    price: float | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet good.

    Attributes
    ----------
    length, width : float
        Size as sold. [m]
    thickness : float
        Real thickness. [m]
    nominal_thickness : float or None
        What it is sold as; None: the same. [m]
    density : float
        [kg/m³]
    youngs_modulus : float or None
        [Pa]
    price : float or None
        Of one sheet, in the user's currency.
    """

    name: str = ""
    length: float
    width: float
    thickness: float
    nominal_thickness: float | None = None
    density: float = 700.0
    youngs_modulus: float | None = None
    price: float | None = None
    notes: str = ""
