"""The book of a workshop: nothing confirmed is lost, nothing written is changed."""

import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from datetime import date

import pytest

from optimiser.domain.record import BatchMade, Book, Note, WeighedIn, Yielded
from optimiser.errors import InputError
from optimiser.reading import records
from optimiser.reading.records import FIRST, New, add, read_book

SHOWN = "workshops/demo/records.sqlite"
KILLS = int(os.environ.get("RECORD_KILLS", "20"))
NOTES = 4
# One batch after the other, each told once it is kept.
WRITER = f"""
import os, sys
from datetime import date
from pathlib import Path
from optimiser.domain.record import BatchMade, Note
from optimiser.reading.records import FIRST, New, add

def write(name, times):
    for place in range(times):
        number = f"{{name}}-{{place}}"
        made = BatchMade(number, date(2026, 11, 26), "bar", "bar.toml", "leave-on")
        notes = [New(Note("x" * 300), FIRST) for _ in range({NOTES})]
        add(Path(sys.argv[1]), "book", name, lambda book: [New(made), *notes])
        os.write(1, f"{{number}}\\n".encode())  # at once, whenever it is killed
"""
# Each line that it reads is the name of a writer that goes on until it is killed.
NURSERY = f"""{WRITER}
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        write(line.strip(), 10_000)
    print("born", child, flush=True)
    os.waitpid(child, 0)
    print("dead", flush=True)
"""


def made(number="A-1"):
    return BatchMade(number, date(2026, 11, 26), "bar", "bar.toml", "leave-on")


def put(path, *facts, number="A-1"):
    rest = [New(each, FIRST) for each in facts]
    return add(path, SHOWN, "me", lambda _: [New(made(number)), *rest])


def raw(path, statement, *values):
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        return connection.execute(statement, values).fetchall()


def started(script, *arguments):
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def problem(call):
    with pytest.raises(InputError) as told:
        call()
    return str(told.value)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "records.sqlite"


def test_what_was_added_is_read_again(path):
    weighed = WeighedIn("beeswax", "beeswax", "B1", 12.5, 12.0, "melt")
    book, added = put(path, weighed, Yielded(11.25))
    assert [each.id for each in added] == [1, 2, 3]
    read = read_book(path, SHOWN)
    assert read.entries == book.entries == added
    assert read.batch("a-1").of(WeighedIn) == (weighed,)


def test_a_kill_at_any_instant_loses_nothing_confirmed(path):
    confirmed, cut, chance = set(), 0, random.Random(11)
    nursery = started(NURSERY, path)
    for kill in range(KILLS):
        print(f"run{kill}", file=nursery.stdin, flush=True)
        first = nursery.stdout.readline().split()
        while first[0] != "born":
            confirmed.add(first[0])
            first = nursery.stdout.readline().split()
        if kill % 2:  # however slow the machine is, some are told
            confirmed.add(nursery.stdout.readline().strip())
        time.sleep(chance.uniform(0.0, 0.15))
        os.kill(int(first[1]), signal.SIGKILL)
        while (line := nursery.stdout.readline()) != "dead\n":
            assert line
            confirmed.add(line.strip())
        cut += path.with_name(f"{path.name}-journal").exists()
        book = read_book(path, SHOWN)
        assert not path.exists() or raw(path, "PRAGMA integrity_check") == [("ok",)]
        there = {each.made.number: each for each in book.batches}
        assert confirmed <= set(there)
        assert {len(each.history) for each in there.values()} <= {1 + NOTES}
    nursery.communicate()
    assert confirmed
    sys.stdout.write(f"{KILLS} kills, {cut} amid a write, {len(confirmed)} kept\n")
    assert cut or KILLS < 200


def test_writers_at_once_do_each_other_no_harm(path):
    wait = "print('ready', flush=True); sys.stdin.readline()"
    script = f"{WRITER}\n{wait}\nwrite(sys.argv[2], 20)"
    children = [started(script, path, f"w{place}") for place in range(3)]
    assert [child.stdout.readline() for child in children] == ["ready\n"] * 3
    for child in children:
        child.stdin.write("go\n")
        child.stdin.flush()
    told = [number for child in children for number in child.communicate()[0].split()]
    assert [child.returncode for child in children] == [0, 0, 0]
    numbers = [each.made.number for each in read_book(path, SHOWN).batches]
    assert sorted(numbers) == sorted(told)
    assert len(numbers) == len(set(numbers)) == 60


def test_who_writes_waits_for_another_and_then_says_so(path, monkeypatch):
    put(path)
    monkeypatch.setattr(records, "WAIT", 0.1)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        told = problem(lambda: put(path, number="A-2"))
    assert "is being written by another program" in told
    assert len(read_book(path, SHOWN).entries) == 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET why = 'x'",
        "DELETE FROM entries WHERE id = 2",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries WHERE id = 2",
        "REPLACE INTO entries (id, at, by_whom, why, fact, seal)"
        " VALUES (2, '', '', '', '{}', '')",
        "INSERT INTO entries (at, by_whom, why, fact, corrects, seal)"
        " VALUES ('', '', '', '{}', 2, '')",
    ],
)
def test_an_entry_is_not_changed_from_outside(path, statement):
    put(path, Note("one"))
    root = read_book(path, SHOWN).entries[0].id
    add(path, SHOWN, "me", lambda _: [New(Note("two"), root, corrects=2)])
    before = read_book(path, SHOWN).entries
    with pytest.raises(sqlite3.IntegrityError, match="entries are only added"):
        raw(path, statement)
    assert read_book(path, SHOWN).entries == before


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET by_whom = 'you' WHERE id = 1",
        "UPDATE entries SET fact = replace(fact, '12.5', '12.6') WHERE id = 2",
        "DELETE FROM entries WHERE id = 2",
        "UPDATE entries SET id = 9 WHERE id = 3",
    ],
)
def test_a_change_behind_the_triggers_is_told(path, statement):
    put(path, WeighedIn("beeswax", "beeswax", "B1", 12.5), Note("n"))
    for name in ("changed", "removed"):
        raw(path, f"DROP TRIGGER entries_are_not_{name}")
    raw(path, statement)
    assert "is damaged (entry" in problem(lambda: read_book(path, SHOWN))


def test_what_is_wrong_leaves_nothing_half_written(path):
    def build(_):
        raise InputError([])

    with pytest.raises(InputError):
        add(path, SHOWN, "me", build)
    assert list(path.parent.iterdir()) == []
    put(path)
    with pytest.raises(InputError):
        add(path, SHOWN, "me", build)
    broken = [New(made("A-2")), New(Note("n"), FIRST, corrects=77)]
    assert "cannot be" in problem(lambda: add(path, SHOWN, "me", lambda _: broken))
    assert [each.made.number for each in read_book(path, SHOWN).batches] == ["A-1"]


@pytest.mark.parametrize(
    "content",
    [b"", b"batch,grams\nA-1,20\n" * 60, b"SQLite format 3\0" + b"\7" * 4000],
    ids=["empty", "a table", "a head alone"],
)
def test_a_file_that_is_no_book_is_told_and_kept(path, content):
    path.write_bytes(content)
    for call in (lambda: read_book(path, SHOWN), lambda: put(path)):
        told = problem(call)
        assert told.startswith(f"{SHOWN}: is damaged (")
        assert "put your last copy of it in its place; nothing was written" in told
    assert path.read_bytes() == content


@pytest.mark.parametrize("harm", ["cut", "zeroed", "letters"])
def test_a_damaged_file_is_told_and_never_written_over(path, harm):
    for place in range(30):
        put(path, Note("word " * 200), number=f"A-{place}")
    content = bytearray(path.read_bytes())
    if harm == "cut":
        content = content[: len(content) // 2]
    elif harm == "zeroed":
        content[4096:8192] = bytes(4096)
    else:
        at = content.index(b"word word")
        content[at : at + 4] = b"work"
    path.write_bytes(content)
    assert "is damaged (" in problem(lambda: read_book(path, SHOWN))
    assert "is damaged (" in problem(lambda: put(path))
    assert path.read_bytes() == bytes(content)


def test_a_database_of_something_else_is_left_alone(path):
    raw(path, "CREATE TABLE recipes (name TEXT)")
    before = path.read_bytes()
    assert "is a database of something else" in problem(lambda: put(path))
    assert path.read_bytes() == before


def test_a_copy_of_the_file_is_a_copy_of_the_book(path, tmp_path):
    put(path, Note("n"))
    copy = tmp_path / "copy.sqlite"
    shutil.copyfile(path, copy)
    assert [each.name for each in tmp_path.glob("records*")] == ["records.sqlite"]
    assert read_book(copy, SHOWN).entries == read_book(path, SHOWN).entries


def test_a_file_of_an_earlier_version_is_brought_on(path, monkeypatch):
    put(path, Note("n"))
    later = (*records.MIGRATIONS, ("ALTER TABLE entries ADD COLUMN place TEXT",))
    monkeypatch.setattr(records, "MIGRATIONS", later)
    assert len(read_book(path, SHOWN).entries) == 2
    put(path, number="A-2")
    assert raw(path, "PRAGMA user_version") == [(2,)]
    assert raw(path, "SELECT count(place), count(*) FROM entries") == [(0, 3)]
    monkeypatch.undo()
    told = problem(lambda: read_book(path, SHOWN))
    assert "was written by a later version of this program" in told


def test_a_failed_migration_leaves_the_file_as_it_was(path, monkeypatch):
    put(path, Note("n"))
    before = path.read_bytes()
    later = ("ALTER TABLE entries ADD COLUMN place TEXT", "CREATE NONSENSE")
    monkeypatch.setattr(records, "MIGRATIONS", (*records.MIGRATIONS, later))
    problem(lambda: read_book(path, SHOWN))
    assert path.read_bytes() == before
    monkeypatch.undo()
    assert len(read_book(path, SHOWN).entries) == 2


def test_a_full_disk_is_told_and_loses_nothing(path, monkeypatch):
    put(path, Note("n"))
    migrate = records._migrate

    def small(connection):
        migrate(connection)
        connection.execute("PRAGMA max_page_count = 1")

    with monkeypatch.context() as patch:
        patch.setattr(records, "_migrate", small)
        told = problem(lambda: put(path, Note("x" * 90_000), number="A-2"))
    assert "cannot be written: the disk is full" in told
    assert "nothing was recorded" in told
    assert [each.made.number for each in read_book(path, SHOWN).batches] == ["A-1"]
    put(path, Note("x" * 90_000), number="A-2")


def test_a_disk_that_takes_no_more_is_told_and_loses_nothing(path):
    put(path, Note("n"))
    room = path.stat().st_size + 4096
    script = f"""
import resource, sys
from pathlib import Path
resource.setrlimit(resource.RLIMIT_FSIZE, ({room}, {room}))
from optimiser.domain.record import Note
from optimiser.errors import InputError
from optimiser.reading.records import New, add
try:
    add(Path(sys.argv[1]), "book", "me", lambda _: [New(Note("x" * 90_000), 1)])
except InputError as error:
    print(error)
"""
    done = subprocess.run(
        [sys.executable, "-c", script, path], capture_output=True, text=True, check=True
    )
    assert "book: cannot be" in done.stdout
    assert len(read_book(path, SHOWN).entries) == 2
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] != room


def test_a_folder_that_may_not_be_written_to_is_told(path):
    put(path, Note("n"))
    path.with_name(f"{path.name}-journal").mkdir()  # where SQLite would write first
    told = problem(lambda: put(path, number="A-2"))
    assert f"{SHOWN}: cannot be read or written" in told
    assert "nothing was recorded" in told


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_read_and_told(path):
    put(path, Note("n"))
    path.parent.chmod(0o500)
    try:
        assert len(read_book(path, SHOWN).entries) == 2
        assert "cannot be" in problem(lambda: put(path, number="A-2"))
    finally:
        path.parent.chmod(0o700)


def test_a_folder_that_is_gone_is_told(tmp_path):
    there = tmp_path / "gone" / "records.sqlite"
    assert read_book(there, SHOWN).entries == ()
    assert "cannot be read or written" in problem(lambda: put(there))


def test_corrections_follow_each_other_and_the_last_counts(path):
    put(path, Note("one"))
    add(path, SHOWN, "me", lambda _: [New(Note("two"), 1, 2, "slip")])
    add(path, SHOWN, "me", lambda _: [New(None, 1, 3, "not so")])
    book = read_book(path, SHOWN)
    assert book.batch("A-1").of(Note) == ()
    assert book.latest(book.entry(2)).id == 4
    assert len(book.batch("A-1").history) == 4
    add(path, SHOWN, "me", lambda _: [New(None, None, 1)])
    assert read_book(path, SHOWN).batches == ()


def test_an_empty_book_holds_nothing():
    assert (Book().batches, Book().entry(1), Book().batch("A-1")) == ((), None, None)


# -- a file that somebody sent -------------------------------------------------------


def sealed(path, column, value, entry):
    """Have an entry say something else, with the seals that it would have had."""
    for kind in ("not_changed", "not_removed"):
        raw(path, f"DROP TRIGGER entries_are_{kind}")
    raw(path, f"UPDATE entries SET {column} = ? WHERE id = ?", value, entry)
    seal = ""
    for row in raw(path, f"SELECT {records.COLUMNS} FROM entries ORDER BY id"):
        seal = records._seal(seal, row)
        raw(path, "UPDATE entries SET seal = ? WHERE id = ?", seal, row[0])


ENDLESS = (
    "CREATE VIEW entries AS WITH RECURSIVE n(id) AS (SELECT 1 UNION ALL SELECT id + 1"
    " FROM n) SELECT id, '' AS at, '' AS by_whom, NULL AS batch, NULL AS corrects,"
    " '' AS why, NULL AS fact, '' AS seal FROM n"
)


@pytest.mark.parametrize(
    ("statements", "what"),
    [
        (
            ("ALTER TABLE entries RENAME TO older", ENDLESS),
            "index 'sqlite_autoindex_older_1'",
        ),
        (("CREATE VIEW more AS SELECT 1",), "view 'more'"),
        (
            ("CREATE TRIGGER more AFTER INSERT ON entries BEGIN SELECT 1; END",),
            "trigger 'more'",
        ),
        (("CREATE INDEX more ON entries (at)",), "index 'more'"),
        (("ALTER TABLE entries ADD COLUMN more",), "table 'entries'"),
    ],
)
def test_a_file_that_holds_more_than_a_book_is_not_run(path, statements, what):
    put(path, Note("n"))
    for each in statements:
        raw(path, each)
    before = path.read_bytes()
    for call in (lambda: read_book(path, SHOWN), lambda: put(path, number="A-2")):
        assert f"is damaged (it holds a {what} that is not of a book)" in problem(call)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("column", "value", "entry"),
    [
        ("corrects", 2, 2),
        ("corrects", 3, 2),
        ("batch", 3, 2),
        ("batch", 2, 3),
        ("batch", None, 2),
        ("batch", -1, 2),
    ],
)
def test_an_entry_that_follows_no_other_is_told(path, column, value, entry):
    put(path, Note("n"), Note("m"))
    sealed(path, column, value, entry)
    told = problem(lambda: read_book(path, SHOWN))
    assert f"is damaged (entry {entry} belongs to none before it)" in told


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("at", b"\xff"),
        ("why", b"x"),
        ("batch", "one"),
        ("fact", '{"type":"weighed","ingredient":"a","name":"a","lot":"","grams":-1}'),
        ("fact", '{"type":"yield","grams":1e300}'),
        ("fact", '{"type":"units","count":1000000000}'),
        ("fact", '{"type":"temperature","stage":"melt","degrees":-1e9}'),
        ("fact", '{"type":"verdict","penetration":0}'),
        ("fact", "[" * 100_000),
    ],
)
def test_an_entry_that_says_what_none_can_is_told(path, column, value):
    put(path, Note("n"))
    sealed(path, column, value, 2)
    assert "is damaged (entry 2 cannot be read" in problem(
        lambda: read_book(path, SHOWN)
    )


def test_what_could_not_be_read_again_is_not_written(path):
    put(path, Note("n"))
    before = path.read_bytes()
    told = problem(lambda: put(path, Yielded(1e300), number="A-2"))
    assert "cannot hold what was to be recorded" in told
    assert path.read_bytes() == before
