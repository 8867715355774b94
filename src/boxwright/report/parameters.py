"""The parameters a design rests on, as text for a reader: every part, its source, its air."""

from __future__ import annotations

import math
from dataclasses import dataclass

from boxwright.air import Air
from boxwright.design import Arrangement, Design, Filter, PassiveOpening, VentOpening
from boxwright.parts import Driver, Passive
from boxwright.quantity import Kind, show
from boxwright.report.figures import hertz, price
from boxwright.report.layout import plain
from boxwright.report.text import shown_count

__all__ = ["Group", "Row", "driver_rows", "groups", "passive_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A symbol, its value, and what it is."""

    symbol: str
    value: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The parameters of one thing."""

    title: str
    rows: tuple[Row, ...]


def _row(symbol: str, value: float | None, kind: Kind, meaning: str) -> Row:
    shown = "not stated" if value is None else show(value, kind)
    return Row(symbol=symbol, value=shown, meaning=meaning)


def driver_rows(driver: Driver, air: Air) -> tuple[Row, ...]:
    """The full parameter set of a driver, stored and derived."""
    coil = driver.coil
    rows = [
        _row("fs", driver.fs, Kind.FREQUENCY, "resonance in free air"),
        _row("qts", driver.qts, Kind.RATIO, "total Q"),
        _row("qes", driver.qes, Kind.RATIO, "electrical Q"),
        _row("qms", driver.qms, Kind.RATIO, "mechanical Q"),
        _row("vas", driver.vas(air), Kind.VOLUME, "air of the same compliance"),
        _row("re", driver.re, Kind.RESISTANCE, "resistance of the coil"),
        _row("bl", driver.bl, Kind.FORCE_FACTOR, "force factor"),
        _row("mms", driver.mms, Kind.MASS, "moving mass with air load"),
        _row("cms", driver.cms, Kind.COMPLIANCE, "compliance of the suspension"),
        _row("rms", driver.rms, Kind.MECHANICAL_RESISTANCE, "mechanical resistance"),
        _row("sd", driver.sd, Kind.AREA, "cone area"),
        Row(
            symbol="eta0",
            value=f"{100.0 * driver.eta0(air):.3g} %",
            meaning="reference efficiency, half space",
        ),
        _row("xmax", driver.xmax, Kind.LENGTH, "linear travel, one way"),
        _row("pmax", driver.pmax, Kind.POWER, "rated power"),
    ]
    if driver.xmech is not None:
        rows.append(_row("xmech", driver.xmech, Kind.LENGTH, "travel to the stop, one way"))
    if coil.le:
        rows.append(_row("le", coil.le, Kind.INDUCTANCE, "inductance of the coil"))
    if coil.k:
        rows.append(Row(symbol="k, n", value=f"{coil.k:.3g} Ω·sⁿ, {coil.n:.3g}", meaning="lossy coil"))
    if coil.l2:
        rows.append(_row("l2", coil.l2, Kind.INDUCTANCE, "second inductance"))
        rows.append(_row("r2", coil.r2, Kind.RESISTANCE, "resistance beside it"))
    if driver.creep:
        rows.append(_row("λ", driver.creep, Kind.RATIO, "creep of the suspension"))
    return tuple(rows)


def passive_rows(passive: Passive, air: Air) -> tuple[Row, ...]:
    """The full parameter set of a passive, stored and derived."""
    rows = [
        _row("fp", passive.fp, Kind.FREQUENCY, "resonance in free air"),
        _row("qmp", passive.qmp, Kind.RATIO, "mechanical Q"),
        _row("vap", passive.vap(air), Kind.VOLUME, "air of the same compliance"),
        _row("mmp", passive.mmp, Kind.MASS, "moving mass with air load"),
        _row("cmp", passive.cmp, Kind.COMPLIANCE, "compliance of the suspension"),
        _row("rmp", passive.rmp, Kind.MECHANICAL_RESISTANCE, "mechanical resistance"),
        _row("sp", passive.sp, Kind.AREA, "cone area"),
        _row("xmax", passive.xmax, Kind.LENGTH, "linear travel, one way"),
    ]
    if passive.added_mass_max is not None:
        rows.append(_row("mass", passive.added_mass_max, Kind.MASS, "most it takes in addition"))
    return tuple(rows)


def _arrangement(arrangement: Arrangement) -> list[Row]:
    if arrangement.count == 1 and arrangement.facing == "sideways":
        return []
    wiring = f"{arrangement.series} in series, {arrangement.parallel} such strings in parallel"
    rows = [Row(symbol="wiring", value=wiring, meaning="")] if arrangement.count > 1 else []
    if arrangement.mounting != "side-by-side":
        rows.append(Row(symbol="mounting", value=arrangement.mounting, meaning=""))
    if arrangement.facing != "sideways":
        rows.append(Row(symbol="faces", value=arrangement.facing, meaning=""))
    return rows


def _passive(opening: PassiveOpening, air: Air) -> Group:
    rows = [_row("added", opening.added_mass, Kind.MASS, "mass put on each")]
    if opening.facing != "sideways":
        rows.append(Row(symbol="faces", value=opening.facing, meaning="sag is taken off its travel"))
    name = opening.passive.name or "unnamed"
    title = f"Passive: {shown_count(opening.count, name)}"
    return Group(title=title, rows=(*rows, *passive_rows(opening.passive, air)))


def _vent(opening: VentOpening) -> Group:
    if opening.shape == "round":
        size = _row("diameter", opening.diameter, Kind.LENGTH, "inside")
    else:
        sides = f"{opening.width * 1e3:.4g} × {opening.height * 1e3:.4g} mm"
        size = Row(symbol="slot", value=sides, meaning="width × height, inside")
    rows = [
        size,
        _row("length", opening.length, Kind.LENGTH, "of the duct itself"),
        Row(symbol="ends", value=" and ".join(opening.ends), meaning="outer and inner"),
    ]
    if opening.flare:
        rows.append(_row("flare", opening.flare, Kind.LENGTH, "radius, both ends"))
    title = "Vent" if opening.count == 1 else f"Vents: {opening.count} of"
    return Group(title=title, rows=tuple(rows))


def _filter(entry: Filter) -> Row:
    if entry.kind in {"high-pass", "low-pass"}:
        return Row(
            symbol=entry.kind, value=hertz(entry.frequency), meaning=f"{entry.family}, order {entry.order}"
        )
    gain = f"{entry.gain:+.3g} dB, Q {entry.q:.3g}".replace("-", "−")
    return Row(symbol=entry.kind, value=hertz(entry.frequency), meaning=gain)


def _source(design: Design) -> Group:
    source = design.source
    rows = [_row("voltage", source.voltage, Kind.VOLTAGE, "for the curves, rms")]
    if source.voltage_limit is not None:
        rows.append(_row("limit", source.voltage_limit, Kind.VOLTAGE, "the amplifier gives, rms"))
    if source.current_limit is not None:
        rows.append(_row("limit", source.current_limit, Kind.CURRENT, "the amplifier gives, rms"))
    if source.series_resistance:
        rows.append(_row("series", source.series_resistance, Kind.RESISTANCE, "cable and output resistance"))
    return Group(title="Amplifier and filters", rows=(*rows, *(_filter(f) for f in source.filters)))


def _air_and_box(design: Design) -> Group:
    rows = []
    for where, chamber in (("rear", design.rear), ("front", design.front)):
        if chamber is None:
            continue
        rows.append(_row(f"V {where}", chamber.volume, Kind.VOLUME, "net air"))
        if chamber.q_leak is not None and math.isfinite(chamber.q_leak):
            rows.append(_row("QL", chamber.q_leak, Kind.RATIO, "leakage, assumed"))
        if chamber.q_absorption is not None and math.isfinite(chamber.q_absorption):
            rows.append(_row("QA", chamber.q_absorption, Kind.RATIO, "absorption, assumed"))
        if chamber.fill:
            note = "share lightly filled; a full one counts as 20 % more air (common practice)"
            rows.append(Row(symbol="fill", value=f"{100.0 * chamber.fill:.3g} %", meaning=note))
    box = design.box
    if box is not None:
        rows.append(_row("wall", box.wall, Kind.LENGTH, box.sheet or "thickness of the sheet"))
    air, place = design.air, design.placement
    rows.append(_row("ρ", air.density, Kind.DENSITY, "density of the air"))
    rows.append(_row("c", air.speed_of_sound, Kind.SPEED, "speed of sound"))
    if place.room is not None:
        sides = " × ".join(f"{side:.3g}" for side in place.room.size)
        rows.append(Row(symbol="room", value=f"{sides} m", meaning="heard inside it"))
    else:
        rows.append(
            Row(symbol="heard", value=show(place.distance, Kind.LENGTH), meaning=f"{place.space} space")
        )
    return Group(title="Box, air and place", rows=tuple(rows))


def groups(design: Design) -> tuple[Group, ...]:
    """Everything that a design's numbers rest on."""
    driver = design.driver
    title = f"Driver: {shown_count(design.arrangement.count, driver.name or 'unnamed')}"
    found = [Group(title=title, rows=(*_arrangement(design.arrangement), *driver_rows(driver, design.air)))]
    for opening in design.openings:
        if isinstance(opening, PassiveOpening):
            found.append(_passive(opening, design.air))
        else:
            found.append(_vent(opening))
    found += [_air_and_box(design), _source(design)]
    if driver.price is not None:
        rows = (Row(symbol="driver", value=price(driver.price), meaning="each"),)
        extra = tuple(
            Row(symbol="passive", value=price(o.passive.price), meaning="each")
            for o in design.openings
            if isinstance(o, PassiveOpening) and o.passive.price is not None
        )
        found.append(Group(title="Prices", rows=(*rows, *extra)))
    return tuple(Group(title=plain(g.title), rows=tuple(map(_readable, g.rows))) for g in found)


def _readable(row: Row) -> Row:
    return Row(symbol=row.symbol, value=row.value, meaning=plain(row.meaning))
