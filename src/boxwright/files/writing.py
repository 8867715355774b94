"""Nested values to TOML text: one order of keys, units where they are exact, plain SI elsewhere."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from boxwright.files.fields import amount_of, table_of
from boxwright.files.schema_parts import BodyTable, CurveTable
from boxwright.files.values import Amount
from boxwright.quantity import write

__all__ = ["text_of", "value_text"]

_FIRST = ("format", "kind", "chamber", "to", "name", "shape", "space")
_LAST = (*BodyTable.model_fields, "price", "notes")
_SHORT = 8  # values that share a line


def text_of(model: type[BaseModel], values: Mapping[str, Any]) -> str:
    """Write a whole file.

    Parameters
    ----------
    model : type
        Its schema, which says what each number measures.
    values : mapping
        Keys to numbers in SI, texts, lists and further mappings.
    """
    lines: list[str] = []
    _table(lines, model, values, "")
    return "\n".join(lines).strip("\n") + "\n"


def value_text(field: FieldInfo | None, value: Any) -> str:
    """Write one value as TOML, with a unit where that is exact.

    Parameters
    ----------
    field : FieldInfo or None
        What the schema says of its key; None: nothing.
    value : object
        A number in SI, text, list or mapping.
    """
    amount = amount_of(field) if field else None
    if isinstance(value, Mapping):
        table = table_of(field, value) if field else None
        fields = table.model_fields if table else {}
        pairs = (f"{key} = {value_text(fields.get(key), each)}" for key, each in value.items())
        return "{ " + ", ".join(pairs) + " }" if value else "{}"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, Sequence):
        # Short lists (a point in a room) read better with units, long ones (a table) as plain numbers.
        return _list(value, amount if len(value) <= 3 else None)
    return _number(value, amount)


def _table(lines: list[str], model: type[BaseModel], values: Mapping[str, Any], header: str) -> None:
    later: list[tuple[str, Any, FieldInfo]] = []
    for key in sorted(values, key=lambda key: _rank(model, key)):
        value, field = values[key], model.model_fields[key]
        table = table_of(field, value)
        if table is None or issubclass(table, CurveTable) or isinstance(value, str):
            lines.append(f"{key} = {value_text(field, value)}")
        else:
            later.append((key, value, field))
    for key, value, field in later:
        name = f"{header}.{key}" if header else key
        single = isinstance(value, Mapping)
        for each in [value] if single else value:
            table = table_of(field, each)
            if table is None:
                continue
            lines += ["", f"[{name}]" if single else f"[[{name}]]"]
            _table(lines, table, each, name)


def _rank(model: type[BaseModel], key: str) -> tuple[int, int]:
    if key in _FIRST:
        return (0, _FIRST.index(key))
    if key in _LAST and issubclass(model, BodyTable):
        return (2, _LAST.index(key))
    return (1, list(model.model_fields).index(key))


def _number(value: Any, amount: Amount | None) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    text = write(float(value), amount.kind) if amount else repr(float(value))
    try:
        float(text)
    except ValueError:
        return _quoted(text)
    return text


def _list(values: Sequence[Any], amount: Amount | None) -> str:
    def each(value: Any) -> str:
        if isinstance(value, str):
            return _quoted(value)
        if isinstance(value, Sequence):
            return _list(value, None)
        return _number(value, amount)

    texts = [each(value) for value in values]
    if len(texts) <= _SHORT and sum(map(len, texts)) < 90:
        return "[" + ", ".join(texts) + "]"
    rows = (", ".join(texts[start : start + _SHORT]) for start in range(0, len(texts), _SHORT))
    return "[\n" + "".join(f"    {row},\n" for row in rows) + "]"


def _quoted(text: str) -> str:
    """Write a basic string: JSON's escapes are a part of TOML's, except that DEL must be escaped as well."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
