"""A document on its way to plain data: places for complaints, and the notes taken."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any, TypeVar

from pydantic import BaseModel

from boxwright.errors import InputError
from boxwright.files.checking import heading
from boxwright.files.lines import KeyPath
from boxwright.files.reading import Document

__all__ = ["Reader", "given", "picked"]

T = TypeVar("T")


class Reader:
    """A document being turned into plain data, and the notes taken on the way.

    Attributes
    ----------
    document : Document
        Values and places.
    notes : list of str
        Data that disagree, and choices made for want of a value.
    """

    def __init__(self, document: Document) -> None:
        self.document = document
        self.notes: list[str] = []

    def at(self, path: KeyPath, make: Callable[..., T], *arguments: Any, **named: Any) -> T:
        """Call something from a lower room; its complaint gets the place in the file."""
        try:
            return make(*arguments, **named)
        except InputError as error:
            inner = (*path, error.message.split(" ", 1)[0])
            raise error.at(self.document.place(inner if inner in self.document.lines else path)) from error

    def refusal(self, path: KeyPath, message: str, mend: str = "") -> InputError:
        """Build a complaint about one key."""
        return InputError(message, place=self.document.place(path), mend=mend)

    def note(self, path: KeyPath, text: str) -> None:
        """Remember something that the user should know."""
        self.notes.append(f"{heading(path)} {text} ({self.document.place(path)})")


def picked(model: BaseModel, *names: str) -> dict[str, Any]:
    """Those of the named fields that the file states."""
    return {name: getattr(model, name) for name in names if name in model.model_fields_set}


def given(model: BaseModel, make: type, *without: str) -> dict[str, Any]:
    """Pick what the file states of a dataclass's fields; the rest keep the dataclass's defaults."""
    return picked(model, *(field.name for field in fields(make) if field.name not in without))
