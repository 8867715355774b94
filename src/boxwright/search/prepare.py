"""From a brief and its parts to the tasks of a search."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from boxwright.brief import Brief
from boxwright.design import Filter
from boxwright.errors import DoesNotFit, InputError
from boxwright.parts import Sheet
from boxwright.search.blocks import Task
from boxwright.search.checking import check_brief, check_parts
from boxwright.search.families import (
    Family,
    PartsOffer,
    driver_choices,
    driver_table,
    families_of,
    opening_choices,
    opening_table,
)
from boxwright.search.geometry import geometry_for
from boxwright.search.kernel import CLOSED, FRONT
from boxwright.search.partition import front_half, partition_for, with_panel
from boxwright.search.rooms import rooms_for
from boxwright.search.signal import bounds_of, high_passes, signal_of
from boxwright.search.tables import Grid

__all__ = ["Prepared", "prepare", "retargeted"]

Real = np.ndarray[tuple[int], np.dtype[np.float64]]

VOLUMES, TUNINGS = 12, 10
SMALLEST = 0.12  # of the space's capacity
SHARES = (0.3, 0.4, 0.5, 0.6, 0.7)
# Range of the tuning over the reach; a bandpass box may be tuned up to the band's top.
LOWEST_TUNING, HIGHEST_TUNING = 0.6, 1.5
LEAST_SHEET = 0.015
# What a box is made of when nothing else is known (common practice, no source).
PLAIN_SHEET = Sheet(
    name="18 mm plywood (assumed)",
    length=2.44,
    width=1.22,
    thickness=0.018,
    density=680.0,
    youngs_modulus=7.5e9,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """The tasks, and what was found out on the way.

    Attributes
    ----------
    refused : dict of str to int
        Candidates of each family whose wiring the amplifier cannot feed.
    high_passes : tuple of Filter or None
        What the column ``high_pass`` of a row counts.
    """

    tasks: tuple[Task, ...]
    refused: dict[str, int]
    high_passes: tuple[Filter | None, ...]
    warnings: tuple[str, ...]


def _sheet(brief: Brief, sheets: tuple[Sheet, ...]) -> tuple[Sheet, tuple[str, ...]]:
    if brief.parts.sheet:
        for sheet in sheets:
            if sheet.name.casefold() == brief.parts.sheet.casefold():
                return sheet, ()
        names = ", ".join(s.name for s in sheets) or "none"
        raise InputError(
            f"sheet must be one of the store's or the brief's, got {brief.parts.sheet!r}",
            place="[parts]",
            mend=f"there are: {names}",
        )
    thick = [s for s in sheets if s.thickness >= LEAST_SHEET - 1e-9]
    if not thick:
        return PLAIN_SHEET, (
            f"no sheet of {LEAST_SHEET * 1e3:.0f} mm or more is offered: {PLAIN_SHEET.name}",
        )

    def by_area(sheet: Sheet) -> tuple[float, str]:
        price = sheet.price if sheet.price is not None else math.inf
        return price / (sheet.length * sheet.width), sheet.name

    return min(thick, key=by_area), ()


def _tunings(brief: Brief, family: Family) -> Real:
    reach, top = brief.target.reach, brief.target.band_top
    highest = max(HIGHEST_TUNING * reach, 1.1 * top) if family.where == FRONT else HIGHEST_TUNING * reach
    return np.geomspace(LOWEST_TUNING * reach, highest, TUNINGS)


def retargeted(brief: Brief, task: Task) -> Task:
    """The same task for another target: its frequencies, its level and its range of tunings."""
    return replace(
        task,
        signal=signal_of(brief),
        bounds=bounds_of(brief),
        grid=task.grid._replace(tuning=_tunings(brief, task.family)),
    )


def prepare(brief: Brief, parts: PartsOffer) -> Prepared:
    """Set up every task of a search.

    Raises
    ------
    InputError
        If the brief contradicts itself, or the walls leave no room in its space.
    """
    check_brief(brief)
    check_parts(parts)
    warnings: list[str] = []
    sheet, remarks = _sheet(brief, parts.sheets)
    warnings += remarks
    signal, bounds = signal_of(brief), bounds_of(brief)
    try:
        geometry = geometry_for(brief.space, brief.limits, sheet)
    except DoesNotFit as error:
        raise InputError(
            f"space must leave room within its walls: {error}",
            place="[space]",
            mend=f"enlarge it, or name a sheet thinner than {sheet.name} under [parts]",
        ) from error
    except InputError as error:
        raise error.at("[space]") from error
    drivers, refused = driver_choices(brief, parts.drivers)
    if not parts.drivers:
        warnings.append("no driver is offered: nothing to search")
    for kind, stock in (("passive", parts.passives), ("vented", parts.vents)):
        if kind in brief.limits.families and not stock:
            warnings.append(f"the brief allows {kind} boxes but no such part is offered")
    unpriced = sorted(
        {d.name for d in parts.drivers if d.price is None}
        | {p.name for p in parts.passives if p.price is None}
        | ({sheet.name} if sheet.price is None else set())
    )
    if unpriced and brief.limits.budget is not None:
        shown = ", ".join(unpriced[:5]) + (" …" if len(unpriced) > 5 else "")
        warnings.append(f"without a price, counted as free: {shown}")
    inside = np.geomspace(SMALLEST * geometry.capacity, geometry.capacity, VOLUMES)
    inside[-1] = geometry.capacity
    weight, price = geometry.wood(inside)
    table = driver_table(brief, drivers, geometry.wall)
    tasks = []
    turned_away: Counter[str] = Counter()
    for family in families_of(brief):
        openings = [geometry.with_width(c) for c in opening_choices(brief, family.opening, parts)]
        if family.where != CLOSED and not openings:
            continue
        tunings = _tunings(brief, family)
        shares = np.array(SHARES if family.where == FRONT else (1.0,))
        each = inside.size * shares.size * (tunings.size if family.where != CLOSED else 1)
        turned_away[family.name] += refused * max(len(openings), 1) * each
        if not drivers:
            continue
        choices, offered = tuple(drivers), tuple(openings)
        pieces, own, partition, chamber = geometry.pieces(choices, offered), table, None, None
        if family.where == FRONT:
            partition = partition_for(geometry, pieces)
            pieces = pieces._replace(drivers=np.zeros_like(pieces.drivers))
            own = with_panel(table, partition)
            chamber = front_half  # the grid's front chamber; `realise` looks at the real one
        rooms = rooms_for(geometry, inside, pieces, offered, chamber)
        tasks.append(
            Task(
                family=family,
                drivers=choices,
                openings=offered,
                driver_table=own,
                opening_table=opening_table(brief, openings, wall=geometry.wall),
                grid=Grid(
                    inside=inside,
                    tuning=tunings,
                    share=shares,
                    wood_weight=weight,
                    wood_price=price,
                    room=rooms.longest.max(axis=0) if rooms is not None else np.empty((0, 0, 0)),
                ),
                signal=signal,
                bounds=bounds,
                geometry=geometry,
                pieces=pieces,
                partition=partition,
                rooms=rooms,
            )
        )
    return Prepared(
        tasks=tuple(tasks),
        refused=dict(turned_away),
        high_passes=high_passes(brief),
        warnings=tuple(warnings),
    )
