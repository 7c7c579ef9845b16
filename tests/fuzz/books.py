"""Books of a workshop turned wrong: their pages, their tables and what entries say."""

import hashlib
import json
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

import msgspec
from hypothesis import strategies as st

from optimiser.domain import record
from optimiser.reading import records
from optimiser.reading.records import FIRST, New, add
from tests.fuzz.mutating import NASTY

PAGE = 4096
NUMBERS = (
    0, -1, 1, 2, 3, 7, 10**6, 10**7, 10**18, -(10**30), 10**400, 1e308, -1e308, 1e-320,
    0.5,
)  # fmt: skip
OTHERS = (None, True, [], {}, [1], {"type": "note"}, "batch", "9999-12-31", b"\xff")
STATEMENTS = (
    "DROP TABLE entries",
    "DROP TRIGGER entries_are_not_changed",
    "CREATE VIEW more AS SELECT 1",
    "CREATE TABLE more (x)",
    "CREATE INDEX more ON entries (at)",
    "CREATE TRIGGER more AFTER INSERT ON entries BEGIN SELECT 1; END",
    "ALTER TABLE entries RENAME TO older;"
    " CREATE VIEW entries AS WITH RECURSIVE n(id) AS (SELECT 1 UNION ALL SELECT id + 1"
    " FROM n) SELECT id, '' AS at, '' AS by_whom, NULL AS batch, NULL AS corrects,"
    " '' AS why, NULL AS fact, '' AS seal FROM n",
    "ALTER TABLE entries ADD COLUMN more",
    "ALTER TABLE entries RENAME COLUMN why TO reason",
    "PRAGMA user_version = 2",
    "PRAGMA user_version = -1",
    "PRAGMA application_id = 0",
    "PRAGMA journal_mode = WAL",
    "PRAGMA page_size = 512; VACUUM",
    "PRAGMA auto_vacuum = FULL; VACUUM",
    "DROP TABLE entries; CREATE VIRTUAL TABLE entries USING fts5 (id, at, by_whom,"
    " batch, corrects, why, fact, seal)",
)
WAYS = ("byte", "cut", "zeros", "swap", "sql", "column", "column", "fact", "fact",
        "fact", "fact")  # fmt: skip
COLUMNS = ("id", "at", "by_whom", "batch", "corrects", "why", "fact", "seal")


def book(path):
    """Write a book with two batches, of which one was corrected."""
    made = [
        record.BatchMade(f"B{x}", date(2026, 11, 20 + x), "Small bar",
                         "scenarios/bar.toml", "leave-on", ("EU",))
        for x in range(2)
    ]  # fmt: skip
    facts = [
        record.WeighedIn("cocoa_butter", "cocoa butter", "A2", 760.2, 760.0, "melt"),
        record.WeighedIn("rapeseed_oil", "rapeseed oil", "", 1200.0, 1200.0, "melt"),
        record.Temperature("melt", 78.0),
        record.Yielded(1900.0),
        record.Units(31, 60.0),
        record.UnitWeight("7", 60.2),
        record.VerdictGiven("7", 22.0, "right", 34.5, 40.0, "fine"),
        record.Note("poured slowly"),
    ]
    for each in made:
        rest = [New(fact, FIRST) for fact in facts]
        add(path, path.name, "me", lambda _, each=each, rest=rest: [New(each), *rest])
    add(path, path.name, "me", lambda _: [New(record.Yielded(1899.0), 1, 5, "slip")])
    return path


@st.composite
def changes_of_book(draw, most=3):
    """Return a few changes of a book: a way, places from 0 to 1, and what comes in."""
    place = st.floats(0, 1, exclude_max=True)
    what = st.sampled_from(NUMBERS) | st.sampled_from(NASTY) | st.sampled_from(OTHERS)
    change = st.tuples(st.sampled_from(WAYS), place, place, what)
    return draw(st.lists(change, min_size=1, max_size=most))


def turn(path, changes):
    """Turn a book wrong; its seals are put right where its entries were changed."""
    for way, one, two, what in changes:
        if way in {"sql", "column", "fact"}:
            try:
                with closing(sqlite3.connect(path, isolation_level=None)) as connection:
                    _rewritten(connection, way, one, two, what)
            except (sqlite3.Error, OverflowError):
                continue
    content = bytearray(path.read_bytes())
    for way, one, two, what in changes:
        pages = max(1, len(content) // PAGE)
        here, there = int(one * pages) * PAGE, int(two * pages) * PAGE
        if way == "byte" and content:
            byte = hashlib.sha256(repr(what).encode()).digest()[0]
            content[int(one * len(content))] = byte
        elif way == "cut":
            del content[int(one * len(content)) :]
        elif way == "zeros":
            content[here : here + PAGE] = bytes(len(content[here : here + PAGE]))
        elif way == "swap":
            first, second = content[here : here + PAGE], content[there : there + PAGE]
            content[here : here + PAGE], content[there : there + PAGE] = second, first
    path.write_bytes(content)


def _rewritten(connection, way, one, two, what):
    if way == "sql":
        connection.executescript(STATEMENTS[int(one * len(STATEMENTS))])
        return
    is_table = "SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'entries'"
    if connection.execute(is_table).fetchone() is None:
        return  # a view of it may have no end
    triggers = "SELECT name FROM sqlite_schema WHERE type = 'trigger'"
    for (name,) in connection.execute(triggers).fetchall():
        connection.execute(f'DROP TRIGGER "{name}"')
    (count,) = connection.execute("SELECT count(*) FROM entries").fetchone()
    number = 1 + int(one * count)
    column = "fact" if way == "fact" else COLUMNS[int(two * len(COLUMNS))]
    if way == "fact":
        asked = "SELECT fact FROM entries WHERE id = ? AND json_type(fact) = 'object'"
        fact = connection.execute(asked, [number]).fetchone()
        if fact is None or fact[0] == "{}":
            return
        what = _other_fact(json.loads(fact[0]), two, what)
    elif isinstance(what, list | dict):
        what = json.dumps(what)
    connection.execute(f"UPDATE entries SET {column} = ? WHERE id = ?", [what, number])
    if column != "seal":
        _seal_anew(connection)


def _other_fact(fact, where, what):
    """Return a fact with one of its values another one, as JSON."""
    keys = list(fact)
    fact[keys[int(where * len(keys))]] = None if isinstance(what, bytes) else what
    return json.dumps(fact)


def _seal_anew(connection):
    """Give every entry the seal that it would have, had it been written so."""
    seal = ""
    query = f"SELECT {records.COLUMNS} FROM entries ORDER BY id"
    for row in connection.execute(query).fetchall():
        seal = hashlib.sha256(seal.encode() + msgspec.json.encode(row)).hexdigest()
        connection.execute("UPDATE entries SET seal = ? WHERE id = ?", [seal, row[0]])


def rebuilt(path: Path, content: bytes):
    """Put a book back as it was."""
    path.write_bytes(content)
    for end in ("-journal", "-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)
