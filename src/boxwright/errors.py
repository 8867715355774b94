"""The one family of errors a user can meet.

Every message says what is wrong, where, and what would mend it:
``sd must be > 0 m², got -0.02 (design.toml, line 7)``.
"""

from __future__ import annotations

__all__ = ["BoxwrightError", "CannotSolve", "DoesNotFit", "InputError"]


class BoxwrightError(Exception):
    """Base of everything this package raises on purpose."""

    exit_code = 1


class InputError(BoxwrightError):
    """Something the user gave cannot be used.

    Parameters
    ----------
    message : str
        Field, requirement and the value received.
    place : str, optional
        File, key and line, as far as they are known.
    mend : str, optional
        What would make the input acceptable.
    """

    exit_code = 2

    def __init__(self, message: str, *, place: str = "", mend: str = "") -> None:
        self.message = message
        self.place = place
        self.mend = mend
        text = message
        if place:
            text += f" ({place})"
        if mend:
            text += f"; {mend}"
        super().__init__(text)

    def __reduce__(self) -> tuple[object, ...]:
        """Keep place and mend when the error crosses a process border."""
        return (_rebuild, (type(self), self.message, self.place, self.mend))

    def at(self, place: str) -> InputError:
        """Return the same error with its place filled in, if it had none."""
        return self if self.place else type(self)(self.message, place=place, mend=self.mend)


class DoesNotFit(BoxwrightError):
    """A thing has been asked to go where there is no room for it."""


class CannotSolve(BoxwrightError):
    """A computation did not reach an answer that can be stood behind."""


def _rebuild(kind: type[InputError], message: str, place: str, mend: str) -> InputError:
    return kind(message, place=place, mend=mend)
