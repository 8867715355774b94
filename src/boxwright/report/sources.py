"""The sources that one design's results rest on, out of the project's one list."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from boxwright.design import Design, PassiveOpening, VentOpening

__all__ = ["Source", "sources_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One entry of the list, with what it was used for here.

    Attributes
    ----------
    key : str
        As cited in docstrings.
    used_for : str
        What of this design rests on it.
    note : str
        What the list itself remarks, e.g. what is from memory.
    """

    key: str
    authors: str
    title: str
    where: str
    year: int
    used_for: str
    note: str = ""


@cache
def _listed() -> dict[str, dict[str, object]]:
    text = (resources.files("boxwright") / "data" / "references.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _used(design: Design) -> list[tuple[str, str]]:
    """Keys with what they were used for, in the order of the signal's way."""
    coil = design.driver.coil
    vents = [o for o in design.openings if isinstance(o, VentOpening)]
    passives = [o for o in design.openings if isinstance(o, PassiveOpening)]
    found = [("small1972direct", "driver as a circuit, level of a direct radiator")]
    if coil.k:
        found.append(("leach2002", "lossy coil"))
    if coil.l2:
        found.append(("iec62458", "second inductance of the coil"))
    if design.driver.creep:
        found.append(("knudsen1993", "creep of the suspension"))
    if not design.openings and design.rear is not None:
        found.append(("small1972closed", "closed box"))
    if vents:
        found += [
            ("small1973vented", "vented box"),
            ("stinson1991", "losses of air in a duct"),
            ("levine1948", "free end of a duct"),
            ("nomura1960", "flanged end of a duct"),
            ("roozen1998", "onset of noise in a vent"),
            ("salvatti2002", "air speed allowed in a vent"),
        ]
    if passives:
        found.append(("small1974", "passive radiators"))
    if design.placement.room is not None:
        found += [("morse1968", "modes of a room"), ("kuttruff", "modes of a room")]
    return [*found, ("picard2008", "density of the air"), ("cramer1993", "speed of sound")]


def sources_of(design: Design, *, also: tuple[tuple[str, str], ...] = ()) -> tuple[Source, ...]:
    """Sources that the results of a design rest on, each with what it was used for.

    Parameters
    ----------
    also : tuple of (str, str)
        Further keys, with what they were used for; one that is listed already keeps its own words.
    """
    listed = _listed()
    found = []
    used = dict(_used(design))
    for key, used_for in {**dict(also), **used}.items():
        entry = listed[key]
        found.append(
            Source(
                key=key,
                authors=str(entry["authors"]),
                title=str(entry["title"]),
                where=str(entry["where"]),
                year=int(str(entry["year"])),
                used_for=used_for,
                note=str(entry.get("note", "")),
            )
        )
    return tuple(found)
