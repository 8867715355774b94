"""A checked design file to a Design."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from boxwright.air import Air, air, air_warnings, standard_air
from boxwright.compound import wiring
from boxwright.design import (
    Arrangement,
    BoxPlan,
    Chamber,
    Design,
    DuctSegment,
    Filter,
    Opening,
    PassiveOpening,
    Placement,
    Room,
    Source,
    TransferTable,
    VentOpening,
)
from boxwright.files.checking import nearest
from boxwright.files.convert_parts import driver_from, passive_from
from boxwright.files.lines import KeyPath
from boxwright.files.reader import Reader, given, picked
from boxwright.files.reading import Document, shown
from boxwright.files.schema_design import (
    ChamberTable,
    DesignDriverTable,
    DesignFile,
    PassiveOpeningTable,
    SegmentTable,
    VentOpeningTable,
)
from boxwright.files.schema_shared import AirTable, PlacementTable, SourceTable

__all__ = ["air_from", "design_from", "placement_from", "segments_volume", "source_from"]

_TAKEN = ("rear", "front", "outside")


def design_from(model: DesignFile, document: Document) -> tuple[Design, tuple[str, ...]]:
    """Turn a checked design file into a Design.

    Parameters
    ----------
    model : DesignFile
        The checked file.
    document : Document
        Where everything stands in it.

    Returns
    -------
    tuple
        The design, and notes: data that disagree, choices that were made for want of a value.
    """
    reader = Reader(document)
    medium = air_from(reader, model.air)
    driver = driver_from(reader, ("driver",), model.driver, medium)
    arrangement = _arrangement(reader, model.driver)
    rear = None if model.rear is None else _chamber(reader, ("rear",), model.rear)
    front = None if model.front is None else _chamber(reader, ("front",), model.front)
    chambers = tuple(_chamber(reader, ("chamber", n), each) for n, each in enumerate(model.chamber))
    _check_connections(reader, model)
    design = Design(
        **picked(model, "name", "notes"),
        air=medium,
        source=Source() if model.source is None else source_from(model.source),
        driver=driver,
        arrangement=arrangement,
        rear=rear,
        front=front,
        chambers=chambers,
        openings=tuple(
            _opening(reader, ("opening", n), each, medium) for n, each in enumerate(model.opening)
        ),
        placement=placement_from(reader, ("placement",), model.placement),
        box=None if model.box is None else BoxPlan(**given(model.box, BoxPlan)),
    )
    return design, tuple(reader.notes)


def air_from(reader: Reader, table: AirTable | None) -> Air:
    """Air from its state or outright; the standard air where the file says nothing."""
    if table is None or not table.model_fields_set:
        return standard_air()
    stated = given(table, Air)
    if "density" in stated:
        return Air(**stated)
    state = picked(table, "temperature", "pressure", "altitude", "humidity")
    medium = reader.at(("air",), air, **state)
    for warning in air_warnings(**state):
        reader.note(("air",), warning)
    return medium


def source_from(table: SourceTable) -> Source:
    """Amplifier, cable and filters."""
    filters = tuple(Filter(**given(each, Filter)) for each in table.filter)
    return Source(**given(table, Source), filters=filters)


def placement_from(reader: Reader, path: KeyPath, table: PlacementTable | None) -> Placement:
    """Where the box plays and where it is heard."""
    if table is None:
        return Placement()
    stated: dict[str, Any] = picked(table, "space", "distance")
    if table.room is not None:
        stated["room"] = Room(**given(table.room, Room))
    if table.table is not None:
        values = given(table.table, TransferTable)
        if "phase" not in values:
            values["phase"] = (0.0,) * len(table.table.frequency)
            reader.note((*path, "table"), "has no phase: taken as 0 throughout")
        stated["table"] = TransferTable(**values)
    return Placement(**stated)


def segments_volume(segments: Iterable[DuctSegment]) -> float:
    """Air in a line: the sum of its truncated cones, V = L/3·(A₁ + A₂ + √(A₁·A₂)). [m³]."""
    return math.fsum(
        each.length / 3.0 * (each.area_start + each.area_end + math.sqrt(each.area_start * each.area_end))
        for each in segments
    )


def _arrangement(reader: Reader, table: DesignDriverTable) -> Arrangement:
    path = ("driver",)
    count = 1 if table.count is None else table.count
    stated: dict[str, Any] = picked(table, "coil_wiring", "mounting", "facing")
    if table.wiring is None:
        if count > 1:
            reader.note(path, f"has no wiring: {count} drivers are taken as wired in parallel")
        stated["parallel"] = count
    else:
        stated["series"], stated["parallel"] = reader.at(path, wiring, table.wiring.strip().lower(), count)
    arrangement = Arrangement(**stated)
    if arrangement.mounting != "side-by-side" and count % 2:
        raise reader.refusal(
            (*path, "mounting"),
            f"mounting {arrangement.mounting} must have an even count of drivers, got {count}",
            "set count = 2",
        )
    return arrangement


def _chamber(reader: Reader, path: KeyPath, table: ChamberTable) -> Chamber:
    own = path[0] if len(path) == 1 else ""
    if own and table.name not in ("", own):
        raise reader.refusal(
            (*path, "name"), f'name of [{own}] must be "{own}" or left out, got {shown(table.name)}'
        )
    stated: dict[str, Any] = given(table, Chamber)
    if table.end is not None:
        stated["line_end"] = table.end
    if table.segment:
        segments = tuple(_segment(each) for each in table.segment)
        volume = segments_volume(segments)
        stated["segments"] = segments
        stated.setdefault("volume", volume)
        if abs(stated["volume"] - volume) > 0.01 * volume:
            raise reader.refusal(
                (*path, "volume"),
                f"volume must be that of the segments, {1e3 * volume:.4g} L, got {1e3 * stated['volume']:.4g} L",
                "leave volume out of a line",
            )
    return Chamber(**stated)


def _segment(table: SegmentTable) -> DuctSegment:
    stated: dict[str, Any] = given(table, DuctSegment)
    if table.area is not None:
        stated |= {"area_start": table.area, "area_end": table.area}
    for end in ("start", "end"):
        diameter = table.diameter if table.diameter is not None else getattr(table, f"diameter_{end}")
        if diameter is not None:
            stated[f"area_{end}"] = math.pi / 4.0 * diameter**2
    return DuctSegment(**stated)


def _check_connections(reader: Reader, model: DesignFile) -> None:
    """Every opening leads from one chamber that exists to another place that exists."""
    known = [name for name in ("rear", "front") if getattr(model, name) is not None]
    for number, chamber in enumerate(model.chamber):
        path: KeyPath = ("chamber", number)
        if not chamber.name:
            raise reader.refusal(path, "[[chamber]] must have `name`", "add name")
        if chamber.name in _TAKEN:
            raise reader.refusal(
                (*path, "name"), f'name of a chamber must not be "{chamber.name}"', "choose another"
            )
        if chamber.name in known:
            raise reader.refusal(
                (*path, "name"), f"name of a chamber must be its own, got {shown(chamber.name)} twice"
            )
        known.append(chamber.name)
    used: set[str] = set()
    for number, opening in enumerate(model.opening):
        for key, names in (("chamber", known), ("to", [*known, "outside"])):
            name = getattr(opening, key)
            if name not in names:
                close = nearest(name, names)
                listed = ", ".join(names) or "none: the file has no chamber"
                raise reader.refusal(
                    ("opening", number, key),
                    f"{key} must be a chamber of this file ({listed}), got {shown(name)}",
                    f'did you mean "{close}"?' if close else "",
                )
            used.add(name)
        if opening.chamber == opening.to:
            raise reader.refusal(
                ("opening", number, "to"), f"to must be another place than chamber, got {shown(name)}"
            )
    for number, chamber in enumerate(model.chamber):
        if chamber.name not in used:
            reader.note(("chamber", number), f"{shown(chamber.name)} is reached by no opening")


def _opening(
    reader: Reader, path: KeyPath, table: PassiveOpeningTable | VentOpeningTable, medium: Air
) -> Opening:
    if isinstance(table, VentOpeningTable):
        return VentOpening(**given(table, VentOpening))
    passive = passive_from(reader, path, table, medium)
    opening = PassiveOpening(**given(table, PassiveOpening), passive=passive)
    most = passive.added_mass_max
    if most is not None and opening.added_mass > most:
        reader.note(
            path,
            f"added_mass of {1e3 * opening.added_mass:.4g} g is more than the passive takes, {1e3 * most:.4g} g",
        )
    return opening
