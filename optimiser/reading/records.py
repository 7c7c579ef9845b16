"""The book of a workshop: entries that are read and added, never changed.

One SQLite file in the workshop's folder. A rollback journal keeps all of it in that
one file whenever nothing is being written, so that a copy of it is a copy of the book.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

import msgspec
from msgspec import Struct

from optimiser.domain.record import FILE, BatchMade, Book, Entry, Fact
from optimiser.errors import InputError, Problem
from optimiser.reading.disk import stands
from optimiser.reading.text import absent

__all__ = ["FILE", "FIRST", "New", "add", "read_book"]

APPLICATION = 0x626F6F6B  # "book": whose file it is, in the file's own head
WAIT = 30.0  # seconds that one who writes waits for another
FIRST = 0  # stands for the first entry of those that are added together
# What brings a file of one version to the next; the version is how many have run. A
# row that takes another's place (INSERT OR REPLACE) fires no trigger on DELETE, so a
# trigger on INSERT looks for that.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE entries ("
        " id INTEGER PRIMARY KEY,"
        " at TEXT NOT NULL,"
        " by_whom TEXT NOT NULL,"
        " batch INTEGER REFERENCES entries (id),"
        " corrects INTEGER UNIQUE REFERENCES entries (id),"
        " why TEXT NOT NULL,"
        " fact TEXT,"
        " seal TEXT NOT NULL,"
        " CHECK (fact IS NOT NULL OR corrects IS NOT NULL)"
        ")",
        "CREATE TRIGGER entries_are_not_changed BEFORE UPDATE ON entries"
        " BEGIN SELECT RAISE(ABORT, 'entries are only added'); END",
        "CREATE TRIGGER entries_are_not_removed BEFORE DELETE ON entries"
        " BEGIN SELECT RAISE(ABORT, 'entries are only added'); END",
        "CREATE TRIGGER entries_take_no_place BEFORE INSERT ON entries"
        " WHEN EXISTS (SELECT 1 FROM entries"
        " WHERE id = NEW.id OR corrects = NEW.corrects)"
        " BEGIN SELECT RAISE(ABORT, 'entries are only added'); END",
    ),
)
COLUMNS = "id, at, by_whom, batch, corrects, why, fact"
FACTS: msgspec.json.Decoder[Fact] = msgspec.json.Decoder(Fact)
Row = tuple[int, str, str, int | None, int | None, str, str | None]
LONGEST = 10_000_000  # bytes of an entry


class New(Struct, frozen=True):
    """An entry to add; ``batch`` is FIRST for the batch that is added with it."""

    fact: Fact | None
    batch: int | None = None
    corrects: int | None = None
    why: str = ""


def read_book(path: Path, shown: str) -> Book:
    """Return the book; an empty one where there is no file yet.

    Parameters
    ----------
    shown : str
        The file's name in messages.

    Raises
    ------
    InputError
        If the file is damaged, is no book, or cannot be read.
    """
    if not stands(path):
        return Book()
    with _opened(path, shown) as connection:
        return _book(connection, shown)[0]


def add(
    path: Path,
    shown: str,
    by: str,
    build: Callable[[Book], Sequence[New]],
) -> tuple[Book, tuple[Entry, ...]]:
    """Add entries, all or none, and return the book with them and the new ones.

    When this returns they are on the disk. Nobody else writes between the reading
    of the book that ``build`` is given and the end.

    Parameters
    ----------
    by : str
        Who writes.
    build : function of the book as it is
        What to add; an InputError that it raises leaves the book as it was.

    Raises
    ------
    InputError
        If the file is damaged, is no book, or cannot be written.
    """
    if not stands(path):
        build(Book())  # what is wrong with the first entries leaves no file behind
        _create(path, shown)
    with _opened(path, shown) as connection:
        connection.execute("BEGIN IMMEDIATE")
        try:
            book, seal = _book(connection, shown)
            added = _numbered(build(book), len(book.entries), by)
            for each in added:
                row = _row(each, shown)
                seal = _seal(seal, row)
                connection.execute(
                    f"INSERT INTO entries ({COLUMNS}, seal) VALUES (?,?,?,?,?,?,?,?)",
                    (*row, seal),
                )
            connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
            raise
    return Book((*book.entries, *added)), added


def _numbered(new: Sequence[New], before: int, by: str) -> tuple[Entry, ...]:
    at = datetime.now().astimezone().isoformat(timespec="seconds")
    return tuple(
        Entry(
            id=before + place,
            at=at,
            by=by,
            fact=each.fact,
            batch=before + 1 if each.batch == FIRST else each.batch,
            corrects=each.corrects,
            why=each.why,
        )
        for place, each in enumerate(new, start=1)
    )


def _row(entry: Entry, shown: str) -> Row:
    """Return an entry as it is kept; what could not be read again is not written."""
    fact = None if entry.fact is None else msgspec.json.encode(entry.fact).decode()
    try:
        if fact is not None:
            FACTS.decode(fact)
    except msgspec.MsgspecError as error:
        fix = "correct it, and record it again; nothing was recorded"
        wrong = f"cannot hold what was to be recorded ({error})"
        raise InputError([Problem(wrong, shown, fix=fix)]) from error
    return (
        entry.id,
        entry.at,
        entry.by,
        entry.batch,
        entry.corrects,
        entry.why,
        fact,
    )


def _seal(before: str, row: Row) -> str:
    """Return the seal of an entry: it holds the entry, and all that came before."""
    return hashlib.sha256(before.encode() + msgspec.json.encode(row)).hexdigest()


def _book(connection: sqlite3.Connection, shown: str) -> tuple[Book, str]:
    """Return the book and its last seal; every entry is held against its own."""
    seal, entries = "", list[Entry]()
    query = f"SELECT {COLUMNS}, seal FROM entries ORDER BY id"
    for place, (*row, kept) in enumerate(connection.execute(query), start=1):
        try:
            number, at, by, batch, corrects, why, fact = msgspec.convert(row, Row)
            seal = _seal(seal, (number, at, by, batch, corrects, why, fact))
            if seal != kept or number != place:
                raise _damaged(shown, f"entry {place} is not as it was written")
            known = None if fact is None else FACTS.decode(fact)
        except msgspec.MsgspecError as error:
            raise _damaged(shown, f"entry {place} cannot be read: {error}") from error
        entry = Entry(number, at, by, known, batch, corrects, why)
        if not _follows(entry, entries):
            raise _damaged(shown, f"entry {place} belongs to none before it")
        entries.append(entry)
    return Book(entries), seal


def _follows(entry: Entry, before: Sequence[Entry]) -> bool:
    """Whether an entry begins a batch, or is of one and corrects nothing later."""
    if entry.corrects is not None and not 0 < entry.corrects < entry.id:
        return False
    if entry.batch is None:
        return entry.corrects is not None or isinstance(entry.fact, BatchMade)
    return 0 < entry.batch < entry.id and before[entry.batch - 1].batch is None


@contextmanager
def _opened(path: Path, shown: str) -> Iterator[sqlite3.Connection]:
    """Give a connection to a file that is whole, ours, and of this version."""
    if said := absent(path):  # a pipe, a device, a folder
        raise InputError([Problem(said[0], shown, fix=said[1])])
    try:
        if path.stat().st_size == 0:
            raise _damaged(shown, "it is empty")
        where = f"{Path(os.path.realpath(path)).as_uri()}?mode=rw"
        with closing(
            sqlite3.connect(where, uri=True, timeout=WAIT, isolation_level=None)
        ) as connection:
            connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST)
            connection.execute("PRAGMA trusted_schema = OFF")
            _refuse_strange(connection, shown)
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("PRAGMA synchronous = EXTRA")
            _migrate(connection)
            yield connection
    except sqlite3.Error as error:
        raise _told(shown, error) from error
    except UnicodeDecodeError as error:  # of what SQLite would say of the damage
        raise _damaged(shown, "it holds text that is none") from error
    except OSError as error:
        raise _cannot(shown, str(error.strerror or error)) from error


def _refuse_strange(connection: sqlite3.Connection, shown: str) -> None:
    """Say so where a file is damaged, not a book, or more than one.

    Before anything of it is run, it is seen that it holds nothing but what a book is
    made with: a view in place of the table, or a trigger, would be run by a reading.
    """
    (whose,) = connection.execute("PRAGMA application_id").fetchone()
    if whose != APPLICATION:
        _parts(connection)  # which fails where it is no database at all
        wrong = "is a database of something else; nothing was written to it"
        fix = "move it away; the book of this workshop is then begun anew"
        raise InputError([Problem(wrong, shown, fix=fix)])
    version = _version(connection)
    if version > len(MIGRATIONS):
        wrong = "was written by a later version of this program"
        raise InputError([Problem(wrong, shown, fix="install that version, or later")])
    if strange := _parts(connection) - _parts_made(version):
        kind, name, _ = min(strange)
        raise _damaged(shown, f"it holds a {kind} {name!r} that is not of a book")
    (found,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    if found != "ok":
        raise _damaged(shown, found)


def _parts(connection: sqlite3.Connection) -> set[tuple[str, str, str]]:
    """Return what a file is made of: kind, name and how each was made."""
    asked = "SELECT type, name, coalesce(sql, '') FROM sqlite_schema"
    return set(connection.execute(asked))


def _parts_made(version: int) -> set[tuple[str, str, str]]:
    """Return what a book of a version is made of."""
    with closing(sqlite3.connect(":memory:")) as made:
        for statements in MIGRATIONS[:version]:
            for each in statements:
                made.execute(each)
        return _parts(made)


def _migrate(connection: sqlite3.Connection) -> None:
    """Bring a file to this version, in one go."""
    if _version(connection) == len(MIGRATIONS):
        return
    connection.execute("BEGIN IMMEDIATE")
    for number in range(_version(connection), len(MIGRATIONS)):
        for statement in MIGRATIONS[number]:
            connection.execute(statement)
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
    connection.execute("COMMIT")


def _version(connection: sqlite3.Connection) -> int:
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version)


def _create(path: Path, shown: str) -> None:
    """Make an empty book; whoever comes first makes it, and it is there whole."""
    draft = path.with_name(f".{os.urandom(6).hex()}.part")
    try:
        with closing(sqlite3.connect(draft, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = EXTRA")
            connection.execute(f"PRAGMA application_id = {APPLICATION}")
            _migrate(connection)
        with suppress(FileExistsError):
            _place(draft, path)
        _keep_name(path.parent)
    except sqlite3.Error as error:
        raise _told(shown, error) from error
    except OSError as error:
        raise _cannot(shown, str(error.strerror or error)) from error
    finally:
        with suppress(OSError):
            draft.unlink(missing_ok=True)


def _place(draft: Path, path: Path) -> None:
    """Give a draft its name, unless something has it already."""
    try:
        os.link(draft, path)
    except FileExistsError:
        raise
    except (AttributeError, OSError):  # some systems and disks know no second names
        if path.exists():
            raise FileExistsError(path) from None
        draft.rename(path)


def _keep_name(folder: Path) -> None:
    """Have the folder's list of names on the disk too, where that can be asked."""
    with suppress(OSError):
        held = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(held)
        finally:
            os.close(held)


COPY = (
    "keep it as it is, and put your last copy of it in its place; nothing was written"
)


def _damaged(shown: str, how: str) -> InputError:
    return InputError([Problem(f"is damaged ({how})", shown, fix=COPY)])


def _cannot(shown: str, how: str) -> InputError:
    fix = "see that the folder is there and may be written to; nothing was recorded"
    return InputError([Problem(f"cannot be read or written ({how})", shown, fix=fix)])


def _told(shown: str, error: sqlite3.Error) -> InputError:
    """Return what SQLite says as a message."""
    name = getattr(error, "sqlite_errorname", "") or ""
    if name.startswith(("SQLITE_NOTADB", "SQLITE_CORRUPT")):
        return _damaged(shown, str(error))
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        wrong = f"is being written by another program for over {WAIT:.0f} s"
        fix = "wait for that one to end, and ask again; nothing was recorded"
        return InputError([Problem(wrong, shown, fix=fix)])
    if name.startswith("SQLITE_FULL"):
        wrong = "cannot be written: the disk is full"
        fix = "make room on it, and ask again; nothing was recorded"
        return InputError([Problem(wrong, shown, fix=fix)])
    if not name and isinstance(error, sqlite3.OperationalError):
        return _damaged(shown, str(error))  # text that is none
    return _cannot(shown, str(error))
