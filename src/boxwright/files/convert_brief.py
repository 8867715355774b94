"""A checked brief file to a Brief."""

from __future__ import annotations

from typing import Any

from boxwright.brief import Brief, Limits, PartsChoice, Space, Target
from boxwright.files.convert import air_from, placement_from, source_from
from boxwright.files.convert_parts import driver_from, passive_from
from boxwright.files.reader import Reader, given, picked
from boxwright.files.reading import Document, shown
from boxwright.files.schema_brief import BriefFile
from boxwright.parts import Sheet, VentStock

__all__ = ["brief_from"]


def brief_from(model: BriefFile, document: Document) -> tuple[Brief, tuple[str, ...]]:
    """Turn a checked brief file into a Brief.

    Parameters
    ----------
    model : BriefFile
        The checked file.
    document : Document
        Where everything stands in it.

    Returns
    -------
    tuple
        The brief, and notes: data that disagree, choices that were made for want of a value.
    """
    reader = Reader(document)
    _check_names(reader, model)
    air = air_from(reader, model.air)
    stated: dict[str, Any] = picked(model, "name", "notes")
    if model.source is not None:
        stated |= picked(model.source, "protection") | {"source": source_from(model.source)}
    if model.limits is not None:
        stated |= picked(model.limits, "passive_facing") | {"limits": Limits(**given(model.limits, Limits))}
    if model.parts is not None:
        stated["parts"] = PartsChoice(**given(model.parts, PartsChoice))
    brief = Brief(
        **stated,
        air=air,
        space=Space(**given(model.space, Space)),
        target=Target(
            **given(model.target, Target, "placement"),
            placement=placement_from(reader, ("target", "placement"), model.target.placement),
        ),
        drivers=tuple(driver_from(reader, ("driver", n), each, air) for n, each in enumerate(model.driver)),
        passives=tuple(
            passive_from(reader, ("passive", n), each, air) for n, each in enumerate(model.passive)
        ),
        vents=tuple(VentStock(**given(each, VentStock)) for each in model.vent),
        sheets=tuple(Sheet(**given(each, Sheet)) for each in model.sheet),
    )
    return brief, tuple(reader.notes)


def _check_names(reader: Reader, model: BriefFile) -> None:
    """Refuse two parts of a kind under one name, since parts are asked for by name."""
    for kind in ("driver", "passive", "vent", "sheet"):
        seen: set[str] = set()
        for number, part in enumerate(getattr(model, kind)):
            if part.name and part.name in seen:
                raise reader.refusal(
                    (kind, number, "name"), f"name of a {kind} must be its own, got {shown(part.name)} twice"
                )
            seen.add(part.name)
