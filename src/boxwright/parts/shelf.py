"""One SQLite file of parts: how it is opened, brought up to date, written and asked."""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
import stat
from collections.abc import Iterator
from pathlib import Path

from boxwright.errors import InputError

__all__ = ["APPLICATION", "MIGRATIONS", "Shelf"]

APPLICATION = 0x62787772
"""Marks the file as a parts store of ours (``bxwr``)."""

BUSY_SECONDS = 10.0

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE part (
            id INTEGER PRIMARY KEY,
            kind TEXT NOT NULL,
            name TEXT NOT NULL,
            key TEXT NOT NULL,
            notes TEXT NOT NULL,
            data TEXT NOT NULL,
            given TEXT NOT NULL,
            provenance TEXT NOT NULL,
            added TEXT NOT NULL,
            UNIQUE (kind, key))""",
        """CREATE TABLE figure (
            part INTEGER NOT NULL REFERENCES part (id) ON DELETE CASCADE,
            field TEXT NOT NULL,
            value REAL NOT NULL,
            PRIMARY KEY (part, field)) WITHOUT ROWID""",
        "CREATE INDEX figure_by_value ON figure (field, value)",
    ),
    (
        """CREATE VIRTUAL TABLE part_text USING fts5 (
            name, notes,
            content = 'part', content_rowid = 'id', tokenize = 'unicode61 remove_diacritics 2')""",
        """CREATE TRIGGER part_text_added AFTER INSERT ON part BEGIN
            INSERT INTO part_text (rowid, name, notes) VALUES (new.id, new.name, new.notes);
        END""",
        """CREATE TRIGGER part_text_removed AFTER DELETE ON part BEGIN
            INSERT INTO part_text (part_text, rowid, name, notes)
            VALUES ('delete', old.id, old.name, old.notes);
        END""",
        """CREATE TRIGGER part_text_changed AFTER UPDATE ON part BEGIN
            INSERT INTO part_text (part_text, rowid, name, notes)
            VALUES ('delete', old.id, old.name, old.notes);
            INSERT INTO part_text (rowid, name, notes) VALUES (new.id, new.name, new.notes);
        END""",
        "INSERT INTO part_text (part_text) VALUES ('rebuild')",
    ),
)
"""What takes a store from each version of its layout to the next. Released steps are never changed."""


class Shelf:
    """A connection to one file of parts, made when it is first needed.

    A file that is not there reads as an empty shelf and is made by the first write, so that looking for parts
    leaves nothing behind. For one thread.

    Parameters
    ----------
    path : Path or None
        The file; None: in memory.
    """

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self._connection: sqlite3.Connection | None = None
        self._depth = 0

    @property
    def place(self) -> str:
        """Where it is, for messages."""
        return "parts in memory" if self.path is None else str(self.path)

    def close(self) -> None:
        """Let go of the file."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def rows(self, query: str, values: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
        """Ask for rows; none if there is no file yet."""
        if self._connection is None and not self._exists():
            return []
        with self._explained():
            found: list[tuple[object, ...]] = self._opened().execute(query, values).fetchall()
        return found

    @contextlib.contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Open a transaction: everything inside is kept together or not at all. May be nested."""
        if self._depth:
            with self._explained():
                yield self._opened()
            return
        with self._explained():
            self._make_folder()
            connection = self._opened()
            connection.execute("BEGIN IMMEDIATE")
            self._depth += 1
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                # SQLite may have rolled back by itself, as it does on a full disk
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise
            finally:
                self._depth -= 1

    def _opened(self) -> sqlite3.Connection:
        if self._connection is None:
            connection = _connected(self.path)
            try:
                self._connection = self._current(connection)
            finally:
                if self._connection is not connection:
                    connection.close()
        return self._connection

    def _current(self, connection: sqlite3.Connection) -> sqlite3.Connection:
        """Bring the layout up to date; of a file that may not be written, in a copy."""
        if self._version(connection) == len(MIGRATIONS):
            return connection
        try:
            self._migrate(connection)
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF not in {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN}:
                raise
            copy = _connected(None)
            connection.backup(copy)
            self._migrate(copy)
            copy.execute("PRAGMA query_only = ON")
            return copy
        return connection

    def _migrate(self, connection: sqlite3.Connection) -> None:
        connection.execute("BEGIN IMMEDIATE")
        try:
            # asked again: another process may have done it while this one waited for the lock
            for step in MIGRATIONS[self._version(connection) :]:
                for statement in step:
                    connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {APPLICATION}")
            connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise

    def _version(self, connection: sqlite3.Connection) -> int:
        version = int(connection.execute("PRAGMA user_version").fetchone()[0])
        application = int(connection.execute("PRAGMA application_id").fetchone()[0])
        tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
        if application != APPLICATION and (tables or version or application):
            raise InputError(
                "store must be a parts store of boxwright, got a database of another program",
                place=self.place,
                mend="name another file; this one was not touched",
            )
        if version > len(MIGRATIONS):
            raise InputError(
                f"store must have layout {len(MIGRATIONS)} or older, got {version}, of a newer boxwright",
                place=self.place,
                mend="update boxwright; the store was not touched",
            )
        return version

    def _exists(self) -> bool:
        """Tell whether there is a file; complain about what cannot be one."""
        if self.path is None:
            return True
        try:
            found = self.path.stat()
        except FileNotFoundError:
            return False
        except NotADirectoryError:
            raise InputError(
                "folder of the store must be a folder, got a file",
                place=self.place,
                mend="name another place",
            ) from None
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise InputError(
                f"store could not be opened: {reason}",
                place=repr(self.place),
                mend="name another file or change the permissions",
            ) from error
        if stat.S_ISDIR(found.st_mode):
            raise InputError("store must be a file, got a folder", place=self.place, mend="add a file name")
        if not stat.S_ISREG(found.st_mode):
            raise InputError("store must be an ordinary file, got a device or pipe", place=self.place)
        if not os.access(self.path, os.R_OK):
            raise InputError(
                "store could not be opened: no permission to read it",
                place=self.place,
                mend="change its permissions or name another file",
            )
        # SQLite would take a file shorter than its own heading for an empty one and write over it
        if found.st_size and _beginning(self.path) != _HEADING:
            raise InputError(f"store {_NOT_A_DATABASE[0]}", place=self.place, mend=_NOT_A_DATABASE[1])
        return True

    def _make_folder(self) -> None:
        if self.path is None or self._connection is not None or self._exists():
            return
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            full = error.errno == errno.ENOSPC
            raise InputError(
                f"folder of the store could not be made: {'the disk is full' if full else error.strerror}",
                place=str(self.path.parent),
                mend="name another store (BOXWRIGHT_STORE) or change the permissions",
            ) from error

    @contextlib.contextmanager
    def _explained(self) -> Iterator[None]:
        """Turn what SQLite says into what is wrong, where, and what would mend it."""
        try:
            yield
        except sqlite3.Error as error:
            what, mend = _REASONS.get(
                (getattr(error, "sqlite_errorcode", None) or sqlite3.SQLITE_ERROR) & 0xFF,
                (f"could not be used: {error}", "try again with another store"),
            )
            raise InputError(f"store {what}", place=self.place, mend=mend) from error


def _connected(path: Path | None) -> sqlite3.Connection:
    connection = sqlite3.connect(
        ":memory:" if path is None else path, timeout=BUSY_SECONDS, isolation_level=None
    )
    connection.execute("PRAGMA foreign_keys = ON")
    # A rollback journal, not WAL: it needs no files beside the store while that is only read.
    connection.execute("PRAGMA synchronous = FULL")
    return connection


def _beginning(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(len(_HEADING))


_UNCHANGED = "nothing was changed"
_ELSEWHERE = (
    "change the permissions of the file and its folder, or name another store (BOXWRIGHT_STORE); "
    + _UNCHANGED
)
_HEADING = b"SQLite format 3\0"
_NOT_A_DATABASE = (
    "must be a parts store, got a file that is not a database",
    "name another file; this one was not touched",
)
_REASONS: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_FULL: ("could not be written: the disk is full", f"free some space; {_UNCHANGED}"),
    sqlite3.SQLITE_IOERR: (
        "could not be read or written: the disk reports an error or is full",
        f"look at the disk; {_UNCHANGED}",
    ),
    sqlite3.SQLITE_READONLY: (
        "could not be written: no permission",
        _ELSEWHERE,
    ),
    sqlite3.SQLITE_PERM: ("could not be opened: no permission", "change its permissions"),
    sqlite3.SQLITE_CANTOPEN: (
        "could not be opened or made there",
        _ELSEWHERE,
    ),
    sqlite3.SQLITE_BUSY: ("is being written by another process", f"try again in a moment; {_UNCHANGED}"),
    sqlite3.SQLITE_LOCKED: ("is being written elsewhere in this process", f"try again; {_UNCHANGED}"),
    sqlite3.SQLITE_NOTADB: _NOT_A_DATABASE,
    sqlite3.SQLITE_CORRUPT: (
        "is damaged",
        "put it aside and import the parts again; what can still be read was not changed",
    ),
}
