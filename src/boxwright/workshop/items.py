"""What has to be placed on the box, with the room it needs before and behind the panel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from boxwright.brief import FACES
from boxwright.errors import InputError
from boxwright.workshop.bodies import cone_diameter, driver_body, passive_body
from boxwright.workshop.displacement import SHOULDER

if TYPE_CHECKING:
    from boxwright.parts import Driver, Passive, VentStock

__all__ = ["KINDS", "Item", "driver_item", "passive_item", "vent_item"]

KINDS = ("driver", "passive", "vent")
TRAVEL_TO_CONE = 0.06
"""Inward travel of a passive whose data sheet states none, over its cone diameter. Common practice, no source. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing that sits on a face.

    Attributes
    ----------
    kind : str
        driver, passive or vent.
    name : str
        For messages.
    frame_diameter : float
        Of a round thing; 0 for a slot. [m]
    width, height : float
        Outer section of a slot, its panels included; it may lie along walls. 0 for a round thing. [m]
    cutout_diameter : float
        Of the wide part behind the panel, at most the frame's. [m]
    shoulder_depth : float
        How deep the wide part reaches behind the panel's outer face. [m]
    behind_diameter : float
        Of the deep part (magnet, moving cone, tube), at most the frame's. [m]
    depth : float
        How deep that reaches behind the panel's outer face, travel included. [m]
    clearance : float
        Air behind it. [m]
    faces : tuple of str
        That may carry it, of FACES.
    opposed_with : int or None
        Index of the item that has to sit straight opposite, back to back; the other one says the same of this one.
    """

    kind: Literal["driver", "passive", "vent"]
    name: str = ""
    frame_diameter: float = 0.0
    width: float = 0.0
    height: float = 0.0
    cutout_diameter: float = 0.0
    shoulder_depth: float = 0.0
    behind_diameter: float = 0.0
    depth: float = 0.0
    clearance: float = 0.0
    faces: tuple[str, ...] = FACES
    opposed_with: int | None = None

    def __post_init__(self) -> None:
        """Reject what is no thing at all."""
        for name in (
            "frame_diameter", "width", "height", "cutout_diameter", "shoulder_depth", "behind_diameter", "depth",
            "clearance",
        ):  # fmt: skip
            value = getattr(self, name)
            if not math.isfinite(value) or value < 0.0:
                raise InputError(f"{name} must be >= 0 m, got {value:g}")
        slot = self.width > 0.0 and self.height > 0.0
        if slot == (self.frame_diameter > 0.0):
            raise InputError(f"{self.label} must have either a frame_diameter or a width and a height > 0 m")
        if not slot and max(self.cutout_diameter, self.behind_diameter) > self.frame_diameter + 1e-9:
            raise InputError(f"{self.label} must be no wider behind the panel than its frame")
        if slot and self.opposed_with is not None:
            raise InputError("opposed_with must be left out for a slot")
        for face in self.faces:
            if face not in FACES:
                raise InputError(f"faces must be of {', '.join(FACES)}, got {face!r}")

    @property
    def label(self) -> str:
        """For messages: size and kind."""
        if self.frame_diameter > 0.0:
            return f"{1e3 * self.frame_diameter:.0f} mm {self.kind}"
        return f"{1e3 * self.width:.0f} × {1e3 * self.height:.0f} mm {self.kind}"

    @property
    def row(self) -> tuple[float, ...]:
        """Kind, half sizes, radii and depths, faces as bits: what the compiled layout reads."""
        sides = float(sum(1 << FACES.index(face) for face in set(self.faces)))
        kind = float(KINDS.index(self.kind))
        if self.frame_diameter > 0.0:
            return (
                kind, 0.5 * self.frame_diameter, 0.0, 0.5 * self.cutout_diameter, self.shoulder_depth,
                0.5 * self.behind_diameter, self.depth + self.clearance, sides,
            )  # fmt: skip
        a, b = max(self.width, self.height), min(self.width, self.height)
        return (kind, 0.5 * a, 0.5 * b, 0.0, 0.0, 0.0, self.depth + self.clearance, sides)


def driver_item(
    driver: Driver,
    *,
    faces: tuple[str, ...] = FACES,
    clearance: float = 0.02,
    opposed_with: int | None = None,
) -> Item:
    """A driver: its basket as wide as the cutout, then its magnet and the air that it needs to breathe."""
    body, _ = driver_body(driver)
    depth = body.depth or 0.0
    return Item(
        kind="driver", name=driver.name, frame_diameter=body.frame_diameter or 0.0,
        cutout_diameter=body.cutout_diameter or 0.0, shoulder_depth=SHOULDER * depth,
        behind_diameter=body.magnet_diameter or 0.0, depth=depth, clearance=clearance, faces=faces,
        opposed_with=opposed_with,
    )  # fmt: skip


def passive_item(
    passive: Passive,
    *,
    faces: tuple[str, ...] = FACES,
    clearance: float = 0.02,
    opposed_with: int | None = None,
) -> Item:
    """A passive: its frame as deep as stated, its cone as far as it can travel inwards, and air behind that."""
    body, _ = passive_body(passive)
    cone = cone_diameter(passive.sp)
    travel = passive.xmech if passive.xmech is not None else passive.xmax
    if travel is None:
        travel = TRAVEL_TO_CONE * cone
    return Item(
        kind="passive", name=passive.name, frame_diameter=body.frame_diameter or 0.0,
        cutout_diameter=body.cutout_diameter or 0.0, shoulder_depth=body.depth or 0.0,
        behind_diameter=min(cone, body.cutout_diameter or cone), depth=(body.depth or 0.0) + travel,
        clearance=clearance, faces=faces, opposed_with=opposed_with,
    )  # fmt: skip


def vent_item(
    vent: VentStock, length: float = 0.0, *, faces: tuple[str, ...] = FACES, clearance: float | None = None
) -> Item:
    """A vent that runs straight in for ``length``; 0 asks for its place on the face only.

    The clearance behind a straight one is its inner diameter (a slot's inner height) unless another is given. A slot's
    section has a panel of its own on two sides.
    """
    if vent.shape == "round":
        if vent.diameter is None or vent.diameter <= 0.0:
            raise InputError(f"diameter must be > 0 m for a round vent, got {vent.diameter!r}")
        outer = vent.diameter + 2.0 * max(vent.wall, vent.flare)
        gap = vent.diameter if clearance is None else clearance
        tube = vent.diameter + 2.0 * vent.wall
        return Item(
            kind="vent", name=vent.name, frame_diameter=outer, cutout_diameter=tube, shoulder_depth=0.0,
            behind_diameter=tube, depth=length, clearance=gap if length > 0.0 else 0.0, faces=faces,
        )  # fmt: skip
    if not vent.width or not vent.height or min(vent.width, vent.height) <= 0.0:
        raise InputError(f"width and height must be > 0 m for a slot, got {vent.width!r} and {vent.height!r}")
    gap = min(vent.width, vent.height) if clearance is None else clearance
    return Item(
        kind="vent", name=vent.name, width=vent.width + vent.wall, height=vent.height + vent.wall, depth=length,
        clearance=gap if length > 0.0 else 0.0, faces=faces,
    )  # fmt: skip
