"""Design and Brief to nested values under the keys of the files; what is at its default is left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from typing import Any

from boxwright.air import Air, standard_air
from boxwright.brief import Brief
from boxwright.design import (
    Arrangement,
    Chamber,
    Design,
    DuctSegment,
    Filter,
    Opening,
    PassiveOpening,
    Placement,
    Source,
)
from boxwright.files.convert import segments_volume
from boxwright.parts import Curves, Driver, Passive

__all__ = ["brief_table", "design_table"]

Values = dict[str, Any]


def design_table(design: Design) -> Values:
    """Take a Design apart into the keys of a design file.

    Parameters
    ----------
    design : Design
        Any design.

    Returns
    -------
    dict
        Keys to numbers in SI, texts, lists and further dicts.
    """
    own = _changed(design)
    values: Values = {"format": "boxwright-design/1", **_kept(own, "name", "notes")}
    values |= _shared(own)
    values["driver"] = _driver(design.driver) | _arrangement(design.arrangement)
    for key in ("rear", "front"):
        if key in own:
            values[key] = _chamber(own[key])
    if design.chambers:
        values["chamber"] = [_chamber(each) for each in design.chambers]
    if design.openings:
        values["opening"] = [_opening(each) for each in design.openings]
    if "placement" in own:
        values["placement"] = _placement(design.placement)
    if design.box is not None:
        values["box"] = _changed(design.box)
    return values


def brief_table(brief: Brief) -> Values:
    """Take a Brief apart into the keys of a brief file; as :func:`design_table`."""
    own = _changed(brief)
    values: Values = {"format": "boxwright-brief/1", **_kept(own, "name", "notes")}
    values["space"] = _changed(brief.space)
    target = _changed(brief.target)
    if "placement" in target:
        target["placement"] = _placement(brief.target.placement)
    values["target"] = target
    values |= _shared(own)
    if "protection" in own:
        values["source"] = values.get("source", {}) | {"protection": brief.protection}
    limits = _changed(brief.limits) | _kept(own, "passive_facing")
    if limits:
        values["limits"] = limits
    if "parts" in own:
        values["parts"] = _changed(brief.parts)
    for key, tables in (
        ("driver", [_driver(each) for each in brief.drivers]),
        ("passive", [_passive(each) for each in brief.passives]),
        ("vent", [_changed(each) for each in brief.vents]),
        ("sheet", [_changed(each) for each in brief.sheets]),
    ):
        if tables:
            values[key] = tables
    return values


def _changed(thing: Any) -> Values:
    """Fields that are required or differ from their default."""
    found: Values = {}
    for field in fields(thing):
        value = getattr(thing, field.name)
        default = field.default if field.default_factory is MISSING else field.default_factory()
        if default is MISSING or value != default:
            found[field.name] = value
    return found


def _kept(values: Mapping[str, Any], *names: str) -> Values:
    return {name: values[name] for name in names if name in values}


def _shared(own: Values) -> Values:
    values: Values = {}
    if "air" in own:
        values["air"] = _air(own["air"])
    if "source" in own:
        values["source"] = _source(own["source"])
    return values


def _air(air: Air) -> Values:
    return {} if air == standard_air() else _changed(air)


def _source(source: Source) -> Values:
    values = _changed(source)
    filters = values.pop("filters", ())
    if filters:
        values["filter"] = [_filter(each) for each in filters]
    return values


def _filter(each: Filter) -> Values:
    values = _changed(each)
    return values if each.kind.endswith("pass") else values | {"gain": each.gain}


def _driver(driver: Driver) -> Values:
    values = _changed(driver)
    coil = _changed(values.pop("coil")) if "coil" in values else {}
    values |= {key if key == "le" else f"coil_{key}": value for key, value in coil.items()}
    return _part(values)


def _passive(passive: Passive) -> Values:
    return _part(_changed(passive))


def _part(values: Values) -> Values:
    if "body" in values:
        values |= _changed(values.pop("body"))
    if "curves" in values:
        values["curves"] = _curves(values["curves"])
    return values


def _curves(curves: Curves) -> Values:
    return {key: _changed(curve) for key, curve in _changed(curves).items()}


def _arrangement(arrangement: Arrangement) -> Values:
    values = _changed(arrangement)
    series, parallel = values.pop("series", 1), values.pop("parallel", 1)
    if (series, parallel) != (1, 1):
        values["count"] = series * parallel
        values["wiring"] = (
            "parallel" if series == 1 else "series" if parallel == 1 else f"{series}s{parallel}p"
        )
    return values


def _chamber(chamber: Chamber) -> Values:
    values = _changed(chamber)
    if "line_end" in values:
        values["end"] = values.pop("line_end")
    if chamber.segments:
        values["segment"] = [_segment(each) for each in values.pop("segments")]
        if values["volume"] == segments_volume(chamber.segments):
            del values["volume"]
    return values


def _segment(segment: DuctSegment) -> Values:
    values = _changed(segment)
    if segment.area_start == segment.area_end:
        del values["area_start"], values["area_end"]
        values["area"] = segment.area_start
    return values


def _opening(opening: Opening) -> Values:
    values = _changed(opening) | {"chamber": opening.chamber, "to": opening.to}
    if isinstance(opening, PassiveOpening):
        del values["passive"]
        return {"kind": "passive", **values, **_passive(opening.passive)}
    if "ends" in values:
        values["ends"] = "-".join(opening.ends)
    return {"kind": "vent", **values}


def _placement(placement: Placement) -> Values:
    values = _changed(placement)
    for key in ("room", "table"):
        if key in values:
            values[key] = _changed(values[key])
    return values
