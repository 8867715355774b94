"""The panels of a box: where they begin to ring, how much of the box's springiness is theirs, what braces change."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shapely import Polygon

from boxwright.air import standard_air
from boxwright.errors import InputError
from boxwright.largesignal import plates
from boxwright.workshop.prism import faces
from boxwright.workshop.shape import inside_volume

if TYPE_CHECKING:
    from boxwright.air import Air
    from boxwright.design import BoxPlan, Design
    from boxwright.parts import Sheet

__all__ = [
    "PLAIN_MODULUS",
    "POISSON",
    "Panel",
    "PanelReport",
    "braces_for",
    "design_panels",
    "examine_panels",
]

POISSON = 0.3
"""Of wood-based sheets (from memory); 0.25 to 0.3 is usual, and 0.05 of it moves a mode by 1.5 %. [-]"""
PLAIN_MODULUS = 3.5e9
"""Stiffness of a sheet that states none: particleboard and MDF in [woodhandbook]. [Pa]"""
MOST_BRACES = 8
CARE_SHARE = 0.02
"""Share of the box's compliance beyond which the walls are worth a remark. Common practice, no source. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One face of the box, or one of the equal bays that braces make of it.

    Attributes
    ----------
    face : str
        Name of the face.
    short, long : float
        Free sides of one bay, between walls and braces. [m]
    bays : int
        Equal bays that the face has. [-]
    supported, clamped : float
        First mode if the edges only hold the panel, and if they hold it without letting it turn. A glued edge lies
        between. [Hz]
    give_supported, give_clamped : float
        Volume that the whole face gives per pressure, far below its first mode. [m³/Pa]
    """

    face: str
    short: float
    long: float
    bays: int
    supported: float
    clamped: float
    give_supported: float
    give_clamped: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelReport:
    """All panels together.

    Attributes
    ----------
    panels : tuple of Panel
        The one that rings lowest first.
    share_supported, share_clamped : float
        What the walls give over what the box's air gives. [-]
    tuning_shift : float
        Tuning of a vent with walls that give (edges held halfway between both) over that with rigid ones; a passive's
        falls less, its own suspension is part of the spring. [-]
    warnings, notes : tuple of str
        In words.
    """

    panels: tuple[Panel, ...]
    share_supported: float
    share_clamped: float
    tuning_shift: float
    warnings: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def lowest(self) -> float:
        """First mode of the softest panel, edges simply supported. [Hz]."""
        return self.panels[0].supported

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON."""
        return {
            "panels": [
                {
                    "face": p.face,
                    "short_m": p.short,
                    "long_m": p.long,
                    "bays": p.bays,
                    "supported_hz": p.supported,
                    "clamped_hz": p.clamped,
                    "give_supported_m3_pa": p.give_supported,
                    "give_clamped_m3_pa": p.give_clamped,
                }
                for p in self.panels
            ],
            "share_supported": self.share_supported,
            "share_clamped": self.share_clamped,
            "tuning_shift": self.tuning_shift,
            "warnings": list(self.warnings),
            "notes": list(self.notes),
        }


def _sizes(plan: BoxPlan) -> list[tuple[str, float, float, bool]]:
    """Name and both sizes of each face, and whether braces divide the first of them. [m]."""
    inner = {
        "x": plan.width - 2.0 * plan.wall,
        "y": plan.height - 2.0 * plan.wall,
        "z": plan.depth - 2.0 * plan.wall,
    }
    # as the workshop lays them: across the longest inner edge of a box, across the width of anything else
    axis = max(inner, key=lambda k: inner[k]) if plan.shape == "box" else "x"
    found = []
    for face in faces(plan):
        outline = Polygon(face.usable)
        if outline.is_empty or outline.area <= 0.0:
            continue
        directions = ("xyz"[_axis(face.axis_u)], "xyz"[_axis(face.axis_v)])
        if axis in directions:
            low_u, low_v, high_u, high_v = outline.bounds
            spans = (high_u - low_u, high_v - low_v)
            along = directions.index(axis)
            found.append((face.name, spans[along], spans[1 - along], True))
        else:
            corners = list(outline.minimum_rotated_rectangle.exterior.coords)
            one, two = math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])
            found.append((face.name, one, two, False))
    return found


def _axis(direction: tuple[float, float, float]) -> int:
    return max(range(3), key=lambda k: abs(direction[k]))


def _panel(face: tuple[str, float, float, bool], plan: BoxPlan, stiffness: float, mass: float) -> Panel:
    name, along, other, divided = face
    bays = plan.braces + 1 if divided else 1
    one = (along - (bays - 1) * plan.wall) / bays
    if one <= 0.0:
        raise InputError(
            f"{plan.braces} braces of {plan.wall * 1e3:.0f} mm must leave room between them on the {name}, "
            f"which is {along * 1e3:.0f} mm long"
        )
    short, long = min(one, other), max(one, other)
    ratio = short / long
    give = bays * short**5 * long / stiffness
    return Panel(
        face=name,
        short=short,
        long=long,
        bays=bays,
        supported=plates.mode_frequency(plates.supported_modes(ratio, 1)[0], short, stiffness, mass),
        clamped=plates.mode_frequency(plates.clamped_modes(ratio, 1)[0], short, stiffness, mass),
        give_supported=give * plates.supported_volume(ratio),
        give_clamped=give * plates.clamped_volume(ratio),
    )


def examine_panels(
    plan: BoxPlan,
    sheet: Sheet,
    *,
    volume: float | None = None,
    air: Air | None = None,
    band_top: float = 100.0,
    poisson: float = POISSON,
) -> PanelReport:
    """First modes of every panel, and how much the walls give.

    Parameters
    ----------
    plan : BoxPlan
        Outer sizes, wall thickness, braces.
    sheet : Sheet
        Its density and stiffness.
    volume : float, optional
        Air in the box; by default all that is inside its walls. [m³]
    air : Air, optional
        By default standard air.
    band_top : float
        Highest note that the box has to play. [Hz]
    poisson : float
        Of the sheet. [-]

    Returns
    -------
    PanelReport

    Raises
    ------
    InputError
        If a size or a property of the sheet is not positive, or the braces leave no room.

    Notes
    -----
    Thin plates of an even, isotropic sheet; plywood has two stiffnesses, of which its data sheet's is taken for both.
    Window braces divide a box across its longest inner edge (anything else across its width) into equal bays and count
    as rigid along their line. Cutouts, frames and the mass of drivers are left out; a face that is no rectangle counts
    as the least rectangle around it, which is on the soft side. Give is that far below the first mode; at half of it a
    panel gives a third more.

    References
    ----------
    leissa1973, timoshenko1959
    """
    medium = air if air is not None else standard_air()
    modulus = sheet.youngs_modulus if sheet.youngs_modulus is not None else PLAIN_MODULUS
    if not (math.isfinite(sheet.density) and sheet.density > 0.0):
        raise InputError(f"density of the sheet must be > 0 kg/m³, got {sheet.density:g}")
    stiffness = plates.bending_stiffness(modulus, plan.wall, poisson)
    held = inside_volume(plan) if volume is None else volume
    if not (math.isfinite(held) and held > 0.0):
        raise InputError(f"volume must be > 0 m³, got {held:g}")
    panels = sorted(
        (_panel(face, plan, stiffness, sheet.density * plan.wall) for face in _sizes(plan)),
        key=lambda panel: panel.supported,
    )
    springs = held / medium.bulk_modulus
    soft = sum(p.give_supported for p in panels) / springs
    firm = sum(p.give_clamped for p in panels) / springs
    notes = ["edges of a glued panel lie between simply supported and clamped: both are given"]
    if sheet.youngs_modulus is None:
        notes.append(f"the sheet states no stiffness: {PLAIN_MODULUS / 1e9:.1f} GPa is assumed")
    return PanelReport(
        panels=tuple(panels),
        share_supported=soft,
        share_clamped=firm,
        tuning_shift=1.0 / math.sqrt(1.0 + math.sqrt(soft * firm)),
        warnings=_warnings(tuple(panels), soft, firm, band_top, plan, sheet),
        notes=tuple(notes),
    )


def _warnings(
    panels: tuple[Panel, ...], soft: float, firm: float, band_top: float, plan: BoxPlan, sheet: Sheet
) -> tuple[str, ...]:
    found = []
    for panel in panels:
        if panel.supported < band_top:
            sure = "" if panel.clamped < band_top else "may "
            found.append(
                f"the {panel.face} panel ({panel.long * 1e3:.0f} × {panel.short * 1e3:.0f} mm free) {sure}ring"
                f"{'s' if not sure else ''} inside the band: between {panel.supported:.0f} and {panel.clamped:.0f} Hz"
            )
    if found:
        enough = braces_for(plan, sheet, band_top)
        found.append(
            f"{enough} brace{'s' if enough != 1 else ''} would lift every first mode above {band_top:.0f} Hz"
            if enough is not None
            else f"window braces alone do not lift every first mode above {band_top:.0f} Hz: a thicker sheet is needed"
        )
    if soft > CARE_SHARE:
        found.append(
            f"the walls give {firm * 100.0:.1f} to {soft * 100.0:.1f} % of what the air in the box gives: the tuning "
            "comes out a little lower than with rigid walls"
        )
    return tuple(found)


def braces_for(plan: BoxPlan, sheet: Sheet, frequency: float, *, poisson: float = POISSON) -> int | None:
    """Fewest window braces with which every panel's first mode, simply supported, lies above a frequency.

    Parameters
    ----------
    frequency : float
        [Hz]

    Returns
    -------
    int or None
        None: even eight do not do it, because the faces that they leave whole ring lower.
    """
    modulus = sheet.youngs_modulus if sheet.youngs_modulus is not None else PLAIN_MODULUS
    stiffness = plates.bending_stiffness(modulus, plan.wall, poisson)
    for braces in range(MOST_BRACES + 1):
        tried = replace(plan, braces=braces)
        try:
            panels = [_panel(face, tried, stiffness, sheet.density * plan.wall) for face in _sizes(tried)]
        except InputError:
            return None
        if min(p.supported for p in panels) >= frequency:
            return braces
    return None


def design_panels(
    design: Design, sheet: Sheet, *, band_top: float = 100.0, poisson: float = POISSON
) -> PanelReport:
    """`examine_panels` of a design's own box, with the air of its chambers.

    Raises
    ------
    InputError
        If the design has no box.
    """
    if design.box is None:
        raise InputError("design must have a [box] for this, got none")
    chambers = [c for c in (design.rear, design.front, *design.chambers) if c is not None]
    volume = sum(c.volume for c in chambers) if chambers else None
    return examine_panels(
        design.box, sheet, volume=volume, air=design.air, band_top=band_top, poisson=poisson
    )
