"""Values against a schema: the model, or the first thing that is wrong with them in the order of the file."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Mapping
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from boxwright.errors import InputError
from boxwright.files.fields import find, table_of
from boxwright.files.lines import KeyPath
from boxwright.files.reading import Document, shown
from boxwright.files.values import OURS

__all__ = ["checked", "heading", "nearest"]

M = TypeVar("M", bound=BaseModel)

_MOST_KEYS, _MOST_TABLES, _MOST_VALUES = 200, 200, 20_000
_TAGS = ("passive", "vent")


def checked(model: type[M], document: Document) -> M:
    """Check a whole document.

    Parameters
    ----------
    model : type
        The schema of the file.
    document : Document
        The values and their places.

    Returns
    -------
    BaseModel
        The model with every value read.

    Raises
    ------
    InputError
        For the problem that stands first in the file.
    """
    _check_format(model, document)
    try:
        _check_size(document, (), document.values)
        return model.model_validate(document.values)
    except ValidationError as error:
        problems = [_problem(model, document, each) for each in error.errors(include_url=False)]
    except RecursionError:
        raise InputError("file must not nest lists or tables hundreds deep", place=document.name) from None
    order = {path: number for number, path in enumerate(document.lines)}
    path, message, mend = min(problems, key=lambda each: _position(order, each[0]))
    raise InputError(message, place=document.place(path), mend=mend)


def heading(path: KeyPath) -> str:
    """Name a table as the file writes it: ``[rear]``, ``[[opening]]``."""
    names = [step for step in path if isinstance(step, str)]
    if not names:
        return "the file"
    inner = ".".join(names)
    return f"[[{inner}]]" if isinstance(path[-1], int) else f"[{inner}]"


def nearest(word: str, known: list[str]) -> str:
    """Find the known word most like this one; "" if there is none."""
    by_lower = {each.lower(): each for each in known}
    close = difflib.get_close_matches(word[:100].lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else ""


def _check_format(model: type[BaseModel], document: Document) -> None:
    wanted = get_args(model.model_fields["format"].annotation)[0]
    found = document.values.get("format")
    if found == wanted:
        return
    got = "none" if found is None else shown(found)
    raise InputError(
        f'format must be "{wanted}", got {got}',
        place=document.place(("format",)),
        mend=f'begin the file with format = "{wanted}"' if found is None else "is it the right file?",
    )


def _check_size(document: Document, path: KeyPath, values: object) -> None:
    """Refuse what is long beyond any use before each of its parts is looked at."""
    if isinstance(values, dict):
        most, what, inner = _MOST_KEYS, "keys", list(values.items())
    elif isinstance(values, list):
        of_tables = any(isinstance(each, dict) for each in values)
        most, what = (_MOST_TABLES, "tables") if of_tables else (_MOST_VALUES, "values")
        inner = list(enumerate(values))
    else:
        return
    if len(inner) > most:
        message = f"{heading(path)} must have at most {most} {what}, got {len(inner)}"
        raise InputError(message, place=document.place(path))
    for step, each in inner:
        _check_size(document, (*path, step), each)


def _position(order: Mapping[KeyPath, int], path: KeyPath) -> tuple[int, int]:
    """Place in the file; what stands nowhere (a missing key) counts after its table's heading."""
    missing = 0
    while path and path not in order:
        path, missing = path[:-1], missing + 1
    return order.get(path, -1 if missing == 0 else len(order)), missing


def _problem(model: type[BaseModel], document: Document, error: ErrorDetails) -> tuple[KeyPath, str, str]:
    """Where, what, and what would mend it."""
    path = _untagged(error["loc"])
    kind = error["type"]
    context: dict[str, Any] = error.get("ctx", {})
    field = next((step for step in reversed(path) if isinstance(step, str)), "file")
    if kind == OURS:
        key = context["key"]
        return ((*path, key) if key else path), context["message"], context["mend"]
    if kind == "extra_forbidden":
        return path, *_unknown(model, document, path)
    if kind == "missing":
        if isinstance(path[-1], int):
            return path[:-1], f"{field} must have {path[-1] + 1} or more values", ""
        return path, f"{heading(path[:-1])} must have `{field}`", f"add {field}"
    if kind == "literal_error":
        words = context["expected"].replace("' or '", "', '").strip("'").split("', '")
        close = nearest(error["input"], words) if isinstance(error["input"], str) else ""
        listed = " or ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]
        return (
            path,
            f"{field} must be {listed}, got {shown(error['input'])}",
            f'did you mean "{close}"?' if close else "",
        )
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        given = error["input"].get("kind") if isinstance(error["input"], dict) else None
        if not isinstance(error["input"], dict):
            return path, f"{field} must be a table, got {shown(error['input'])}", f"write [[{field}]]"
        if given is None:
            return path, f"{heading(path)} must have `kind`", 'add kind = "vent" or kind = "passive"'
        close = nearest(given, list(_TAGS)) if isinstance(given, str) else ""
        mend = f'did you mean "{close}"?' if close else ""
        return (*path, "kind"), f"kind must be passive or vent, got {shown(given)}", mend
    if kind in ("model_type", "model_attributes_type"):
        return path, f"{field} must be a table, got {shown(error['input'])}", f"write [{field}]"
    if kind in ("tuple_type", "list_type"):
        found = find(model, path, document.values)[1]
        table = table_of(found) is not None if found else False
        wanted, mend = ("a list of tables", f"write [[{field}]]") if table else ("a list", "")
        return path, f"{field} must be {wanted}, got {shown(error['input'])}", mend
    if kind == "too_long":
        return path, f"{field} must have {context['max_length']} values, got {context['actual_length']}", ""
    return path, f"{field} cannot be used: {error['msg'][:200]}", ""


def _untagged(location: tuple[int | str, ...]) -> KeyPath:
    """Take out the names that pydantic adds for the sort of an opening."""
    path: list[int | str] = []
    for number, step in enumerate(location):
        before = location[max(0, number - 2) : number]
        if step in _TAGS and number >= 2 and before[0] == "opening" and isinstance(before[1], int):
            continue
        path.append(step)
    return tuple(path)


def _unknown(model: type[BaseModel], document: Document, path: KeyPath) -> tuple[str, str]:
    key = str(path[-1])
    table = find(model, path, document.values)[0]
    close = nearest(key, list(table.model_fields))
    odd = [c for c in key if not c.isascii()]
    written = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in key[:60])
    message = f"unknown key `{written}` in {heading(path[:-1])}"
    if odd:
        message += f" with the character U+{ord(odd[0]):04X} ({unicodedata.name(odd[0], 'unnamed')})"
    return message, f"did you mean `{close}`?" if close else ""
