"""Checked tables of parts to drivers and passives, completed from whatever the data sheet gives."""

from __future__ import annotations

from typing import Any

from boxwright.air import Air
from boxwright.files.lines import KeyPath
from boxwright.files.reader import Reader, given, picked
from boxwright.files.schema_parts import CurveTable, DriverCurves, DriverTable, PassiveCurves, PassiveTable
from boxwright.parts import Body, Coil, Curve, Curves, Driver, Passive
from boxwright.parts.completing import complete_driver, complete_passive
from boxwright.parts.plausible import check_driver, check_passive

__all__ = ["driver_from", "passive_from"]

_DRIVER = ("re", "bl", "mms", "cms", "rms", "sd")
_DRIVER_SHEET = (*_DRIVER, "diameter", "fs", "qms", "qes", "qts", "vas", "eta0")
_PASSIVE = ("mmp", "cmp", "rmp", "sp")
_PASSIVE_SHEET = (*_PASSIVE, "diameter", "fp", "qmp", "vap")


def driver_from(reader: Reader, path: KeyPath, table: DriverTable, air: Air) -> Driver:
    """Make a driver from any sufficient part of its data sheet.

    Parameters
    ----------
    reader : Reader
        The document.
    path : tuple
        Where the table stands in it.
    table : DriverTable
        The checked table.
    air : Air
        In which a volume of air is worth a compliance.
    """
    sheet = picked(table, *_DRIVER_SHEET)
    named = given(table, Driver, *_DRIVER, "coil", "curves")
    named |= {"coil": _coil(table), "body": Body(**given(table, Body)), "curves": _curves(table.curves)}
    if set(sheet) == set(_DRIVER):  # complete already: taken to the last bit, and rms may be 0
        driver = Driver(**sheet, **named)
        reader.at(path, check_driver, driver)
        return driver
    completed = reader.at(path, complete_driver, sheet, air=air, **named)
    for warning in completed.warnings:
        reader.note(path, warning)
    return completed.driver


def passive_from(reader: Reader, path: KeyPath, table: PassiveTable, air: Air) -> Passive:
    """Make a passive from any sufficient part of its data sheet; parameters as for a driver."""
    sheet = picked(table, *_PASSIVE_SHEET)
    named = given(table, Passive, *_PASSIVE, "curves")
    named |= {"body": Body(**given(table, Body)), "curves": _curves(table.curves)}
    if set(sheet) == set(_PASSIVE):
        passive = Passive(**sheet, **named)
        reader.at(path, check_passive, passive)
        return passive
    completed = reader.at(path, complete_passive, sheet, air=air, **named)
    for warning in completed.warnings:
        reader.note(path, warning)
    return completed.passive


def _coil(table: DriverTable) -> Coil:
    stated: dict[str, Any] = {} if table.coil is None else given(table.coil, Coil)
    for flat, key in (("le", "le"), ("coil_k", "k"), ("coil_n", "n"), ("coil_l2", "l2"), ("coil_r2", "r2")):
        if flat in table.model_fields_set:
            stated[key] = getattr(table, flat)
    return Coil(**stated)


def _curves(table: DriverCurves | PassiveCurves | None) -> Curves:
    if table is None:
        return Curves()
    stated = picked(table, *type(table).model_fields)
    return Curves(**{key: _curve(each) for key, each in stated.items()})


def _curve(table: CurveTable) -> Curve:
    return Curve(polynomial=table.polynomial, table=table.table)
