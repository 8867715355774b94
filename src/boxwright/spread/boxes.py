"""From standard normal numbers to many slightly different boxes: as columns for the kernel, or as designs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boxwright.design import Chamber, Design, PassiveOpening, VentOpening
from boxwright.errors import InputError
from boxwright.spread.tolerances import LABELS, Tolerances
from boxwright.workshop.shape import inside_volume

__all__ = ["Boxes", "Variable", "draw", "variables_of", "variant"]

Real = NDArray[np.float64]

_DRIVER = ("re", "bl", "mms", "cms", "rms", "sd", "le", "xmax")
_PASSIVE = ("mmp", "cmp", "rmp", "sp", "xmax", "added_mass")


@dataclass(frozen=True, slots=True, kw_only=True)
class Variable:
    """One thing that strays on its own.

    Attributes
    ----------
    key : str
        Of its tolerance.
    place : str
        driver, wall, opening 0, opening 1, … or the name of a chamber.
    units : int
        Equal units that stray together.
    label : str
        In words.
    """

    key: str
    place: str
    units: int
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxes:
    """Values of n boxes; each array has shape (n,).

    Attributes
    ----------
    driver : dict of str to ndarray
        Fields of one driver as bought; ``le`` as a factor on the whole coil, ``xmax`` as one on its travels.
    openings : tuple of dict of str to ndarray
        Fields of each set of openings; ``xmax`` as a factor, ``length`` of vents.
    chambers : dict of str to dict of str to ndarray
        volume, q_leak (inf: tight), q_absorption (inf: none) of each chamber.
    """

    count: int
    driver: dict[str, Real]
    openings: tuple[dict[str, Real], ...]
    chambers: dict[str, dict[str, Real]]


def chambers_of(design: Design) -> dict[str, Chamber]:
    """Chambers by the names that openings use."""
    found = {} if design.rear is None else {"rear": design.rear}
    if design.front is not None:
        found["front"] = design.front
    return {**found, **{c.name: c for c in design.chambers}}


def variables_of(design: Design) -> tuple[Variable, ...]:
    """Everything about a design that strays, in a fixed order."""
    part = design.driver
    coil = part.coil
    has = {"le": coil.le > 0.0 or coil.k > 0.0 or coil.l2 > 0.0, "rms": part.rms > 0.0}
    has["xmax"] = part.xmax is not None or part.xmech is not None
    found = [
        Variable(
            key=f"driver.{f}", place="driver", units=design.arrangement.count, label=LABELS[f"driver.{f}"]
        )
        for f in _DRIVER
        if has.get(f, True)
    ]
    sets = len(design.openings)
    for k, opening in enumerate(design.openings):
        which = f" (opening {k + 1})" if sets > 1 else ""
        if isinstance(opening, VentOpening):
            keys: tuple[str, ...] = ("vent.length",)
        else:
            p = opening.passive
            there = {"rmp": p.rmp > 0.0, "xmax": p.xmax is not None or p.xmech is not None}
            there["added_mass"] = opening.added_mass > 0.0
            keys = tuple(f"passive.{f}" for f in _PASSIVE if there.get(f, True))
        found += [
            Variable(key=key, place=f"opening {k}", units=opening.count, label=LABELS[key] + which)
            for key in keys
        ]
    chambers = chambers_of(design)
    for name, chamber in chambers.items():
        which = f" of the {name} chamber" if len(chambers) > 1 else ""
        keys = ("box.volume",) if not chamber.segments else ()
        keys += ("box.q_leak",) if chamber.q_leak else ()
        keys += ("box.q_absorption",) if chamber.q_absorption else ()
        found += [Variable(key=key, place=name, units=1, label=LABELS[key] + which) for key in keys]
    if design.box is not None and chambers:
        found.append(Variable(key="box.wall", place="wall", units=1, label=LABELS["box.wall"]))
    return tuple(found)


def _wall_factor(design: Design, wall: Real) -> Real:
    """Net volume over nominal when the sheet is thicker or thinner and the outside stays. [-]."""
    if design.box is None:
        return np.ones_like(wall)
    step = 1e-5
    more, less = (inside_volume(replace(design.box, wall=design.box.wall + d)) for d in (step, -step))
    net = sum(c.volume for c in chambers_of(design).values())
    # the walls take their volume from the air, all chambers alike; straight over a fraction of a millimetre
    return np.maximum(1.0 + (more - less) / (2.0 * step) * (wall - design.box.wall) / net, 0.05)


def draw(design: Design, tolerances: Tolerances, variables: tuple[Variable, ...], z: Real) -> Boxes:
    """Boxes from independent standard normal numbers.

    Parameters
    ----------
    variables : tuple of Variable
        From `variables_of`.
    z : ndarray, shape (len(variables), n)
        [-]

    Notes
    -----
    fs and cms move together because cms and mms are drawn and fs follows. The mechanical loss follows the suspension:
    ``rms = rms₀·√(cms₀/cms)·own``, which leaves qms where it was; the same for passives (their loss is material
    damping; common practice, no source).
    """
    n = z.shape[1]
    mixing = tolerances.mixing(tuple(v.key for v in variables))
    if mixing is not None:
        z = mixing @ z
    part = design.driver
    one = np.ones(n)
    nominal = {
        "re": part.re, "bl": part.bl, "mms": part.mms, "cms": part.cms, "rms": part.rms, "sd": part.sd, "le": 1.0,
        "xmax": 1.0,
    }  # fmt: skip
    driver = {name: value * one for name, value in nominal.items()}
    openings = []
    for o in design.openings:
        if isinstance(o, PassiveOpening):
            p = o.passive
            values = {
                "mmp": p.mmp, "cmp": p.cmp, "rmp": p.rmp, "sp": p.sp, "xmax": 1.0, "added_mass": o.added_mass,
            }  # fmt: skip
        else:
            values = {"length": o.length}
        openings.append({name: value * one for name, value in values.items()})
    chambers = {
        name: {
            "volume": c.volume * one,
            "q_leak": (c.q_leak or np.inf) * one,
            "q_absorption": (c.q_absorption or np.inf) * one,
        }
        for name, c in chambers_of(design).items()
    }
    wall = None
    for variable, row in zip(variables, z, strict=True):
        stray = tolerances.of(variable.key, variable.units)
        name = variable.key.split(".")[1]
        if variable.place == "driver":
            driver[name] = stray.value(nominal[name], row)
        elif variable.place == "wall" and design.box is not None:
            wall = stray.value(design.box.wall, row)
        elif variable.place.startswith("opening "):
            own = openings[int(variable.place.split()[1])]
            own[name] = stray.value(float(own[name][0]), row)
            if name == "length":  # no shorter than its rounded ends
                opening = design.openings[int(variable.place.split()[1])]
                own[name] = np.maximum(
                    own[name], 2.0 * opening.flare if isinstance(opening, VentOpening) else 0.0
                )
        else:
            own = chambers[variable.place]
            own[name] = stray.value(float(own[name][0]), row)
    driver["rms"] = driver["rms"] * np.sqrt(part.cms / driver["cms"])
    for o, own in zip(design.openings, openings, strict=True):
        if isinstance(o, PassiveOpening):
            own["rmp"] = own["rmp"] * np.sqrt(o.passive.cmp / own["cmp"])
    if wall is not None:
        factor = _wall_factor(design, wall)
        for name, own in chambers.items():
            if not chambers_of(design)[name].segments:
                own["volume"] = own["volume"] * factor
    return Boxes(count=n, driver=driver, openings=tuple(openings), chambers=chambers)


def variant(design: Design, boxes: Boxes, index: int) -> Design:
    """One of the boxes as a design.

    Raises
    ------
    InputError
        If there is no such box.
    """
    if not 0 <= index < boxes.count:
        raise InputError(f"index must be 0 to {boxes.count - 1}, got {index}")

    def at(values: dict[str, Real], *names: str) -> dict[str, Any]:
        return {name: float(values[name][index]) for name in names}

    def longer(stated: float | None, factor: float) -> float | None:
        return None if stated is None else stated * factor

    part = design.driver
    grown = float(boxes.driver["le"][index])
    coil = replace(
        part.coil,
        le=part.coil.le * grown,
        k=part.coil.k * grown,
        l2=part.coil.l2 * grown,
        r2=part.coil.r2 * grown,
    )
    far = float(boxes.driver["xmax"][index])
    driver = replace(
        part, coil=coil, xmax=longer(part.xmax, far), xmech=longer(part.xmech, far),
        **at(boxes.driver, "re", "bl", "mms", "cms", "rms", "sd"),
    )  # fmt: skip
    openings: list[PassiveOpening | VentOpening] = []
    for opening, own in zip(design.openings, boxes.openings, strict=True):
        if isinstance(opening, PassiveOpening):
            far = float(own["xmax"][index])
            p = opening.passive
            changed = replace(
                p, xmax=longer(p.xmax, far), xmech=longer(p.xmech, far), **at(own, "mmp", "cmp", "rmp", "sp")
            )
            openings.append(replace(opening, passive=changed, **at(own, "added_mass")))
        else:
            openings.append(replace(opening, **at(own, "length")))

    def chamber(name: str, nominal: Chamber | None) -> Chamber | None:
        if nominal is None:
            return None
        own = boxes.chambers[name]
        changed = replace(nominal, volume=float(own["volume"][index]))
        if nominal.q_leak:
            changed = replace(changed, q_leak=float(own["q_leak"][index]))
        if nominal.q_absorption:
            changed = replace(changed, q_absorption=float(own["q_absorption"][index]))
        return changed

    return replace(
        design,
        driver=driver,
        openings=tuple(openings),
        rear=chamber("rear", design.rear),
        front=chamber("front", design.front),
        chambers=tuple(c for c in (chamber(c.name, c) for c in design.chambers) if c is not None),
    )
