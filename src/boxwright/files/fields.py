"""What the schema knows about a key: which table stands under it, and what its number measures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from boxwright.files.lines import KeyPath
from boxwright.files.values import Amount

__all__ = ["amount_of", "find", "table_of", "tables_in"]


def amount_of(field: FieldInfo) -> Amount | None:
    """Find the quantity that a key, or each element of its list, holds; None: no quantity."""
    return next((each for each in _unfolded(field) if isinstance(each, Amount)), None)


def table_of(field: FieldInfo, value: object = None) -> type[BaseModel] | None:
    """Find the table, or each table of the list, that stands under a key; None: a plain value.

    Where there are several sorts, ``kind`` in ``value`` decides; without it, the first.
    """
    tables = tables_in(field)
    if len(tables) > 1 and isinstance(value, Mapping):
        for table in tables:
            if value.get("kind") in get_args(table.model_fields["kind"].annotation):
                return table
    return tables[0] if tables else None


def tables_in(field: FieldInfo) -> list[type[BaseModel]]:
    """List every sort of table that may stand under a key."""
    return [each for each in _unfolded(field) if isinstance(each, type) and issubclass(each, BaseModel)]


def find(model: type[BaseModel], path: KeyPath, values: object) -> tuple[type[BaseModel], FieldInfo | None]:
    """Follow a key path through the schema.

    Parameters
    ----------
    model : type
        The schema of the file.
    path : tuple
        Keys and list positions.
    values : object
        The file's values, which tell one sort of table from another.

    Returns
    -------
    tuple
        The innermost table that the path passes through, and the field that it ends in (None: an unknown key,
        or the table itself).
    """
    table: type[BaseModel] = model
    field: FieldInfo | None = None
    for step in path:
        if isinstance(step, str):
            inner = table if field is None else table_of(field, values)
            if inner is None:
                return table, None
            table = inner
            field = table.model_fields.get(step)
            if field is None:
                return table, None
        values = _inside(values, step)
    return table, field


def _inside(values: object, step: str | int) -> object:
    if isinstance(values, Mapping):
        return values.get(step)
    if isinstance(values, list) and isinstance(step, int) and step < len(values):
        return values[step]
    return None


def _unfolded(field: FieldInfo) -> Iterator[Any]:
    yield from field.metadata
    todo: list[Any] = [field.annotation]
    while todo:
        each = todo.pop(0)
        yield each
        todo += [*getattr(each, "__metadata__", ()), *get_args(each)]
