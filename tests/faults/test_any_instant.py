"""Every command that writes, stopped at every change that it makes on the disk."""

import os
import re
import shutil
import sqlite3
import sys

import pytest

from tests.faults.instants import KILLED, run_apart
from tests.fuzz.small import workspace

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks")

BAR = "scenarios/bar.toml"
CLASH = 'extends = "bar.toml"\n[bands]\n"wax" = { min = 20, max = 30 }\n'
PACKS = ("--units", "24", "--net", "60g")
DRAFT = re.compile(
    r"(.*/)?\.[0-9a-f]{12}\.part(-journal)?|\.begin\.[0-9a-f]{12}/.*|\.\w+\.part/.*"
)
MOST = 400  # changes that one run makes
# All of these take minutes: EVERY_INSTANT=1 pytest -n 0 tests/faults
FEW = ("formulate", "begin from", "record")
EVERY = "EVERY_INSTANT" in os.environ
# A command, and what it runs after.
WRITERS = {
    "formulate": (("formulate", BAR, "--csv", "out.csv"),),
    "way": (("formulate", "scenarios/clash.toml", "--way", "1", "--write", "w.toml"),),
    "variants": (("variants", BAR, "--count", "2", "--csv", "out.csv"),),
    "sweep": (("sweep", "scenarios/grid.toml", "--to", "out.csv"),),
    "plan": (("plan", "scenarios/plan.toml", "--csv", "o.csv", "--write", "moved"),),
    "batch": (("batch", BAR, *PACKS, "--csv", "out.csv"),),
    "label": (
        ("label", BAR, "--net", "60g", "--size", "60 x 40 mm", "--html", "out.html"),
    ),
    "report": (("report", BAR, "--out", "out.html"),),
    "survey": (("survey", "recipes.csv", "--class", "lotion bar", "--to", "out"),),
    "begin": (("begin", "new"),),
    "begin from": (
        ("begin", ".", "--from", "grams.csv", "--product", "lip balm"),
        ("begin", ".", "--from", "grams.csv", "--product", "foot balm", "--replace"),
    ),
    "record": (("record", "batch", BAR, "sheet.csv"),),
}
WRITERS = {name: WRITERS[name] for name in (WRITERS if EVERY else FEW)}


def held(folder):
    """Return what is in a folder: the bytes of each file, of a book its entries."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if not path.is_file() or name.endswith("-journal"):
            continue
        found[name] = entries(path) if ".sqlite" in name else path.read_bytes()
    return found


def entries(path):
    """Return the count of entries of a book that is whole."""
    with sqlite3.connect(path) as book:
        assert book.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        (count,) = book.execute("SELECT count(*) FROM entries").fetchone()
    book.close()
    return count


def made(folder, commands):
    """Make a workspace in a folder after all but the last of some commands."""
    folder.mkdir()
    workspace(folder)
    (folder / "scenarios" / "clash.toml").write_text(CLASH, "utf-8")
    for each in commands[:-1]:
        assert run_apart(each, folder)[0] in {0, 3}
    return held(folder)


@pytest.mark.parametrize("kill", [False, True], ids=["full", "killed"])
@pytest.mark.parametrize("commands", WRITERS.values(), ids=WRITERS)
@pytest.mark.parametrize("again", [False, True] if EVERY else [False])
def test_a_run_stopped_at_any_change_loses_nothing(tmp_path, commands, kill, again):
    if again and commands[0][0] in {"begin", "survey", "record"}:
        pytest.skip("not run twice")
    if again:
        commands = (*commands, commands[-1])
    before = made(tmp_path / "kept", commands)
    run_apart(commands[-1], tmp_path / "kept")
    whole = held(tmp_path / "kept")
    made(tmp_path / "ready", commands)
    step = 23 if commands[0] == ("begin", "new") else 1  # each is one file copied
    for at in range(1, MOST, step):
        folder = tmp_path / "run"
        shutil.copytree(tmp_path / "ready", folder)
        code, told, reached = run_apart(commands[-1], folder, at=at, kill=kill)
        after = held(folder)
        shutil.rmtree(folder)
        if not reached:
            break
        assert "Traceback" not in told
        assert "inside the program" not in told
        drafts = {name for name in after if DRAFT.fullmatch(name)}
        assert kill or not drafts, "leaves a draft"
        for name in set(after) - drafts:
            begun = 0 if ".sqlite" in name else None  # a book with nothing in it yet
            assert after[name] in (before.get(name, begun), whole.get(name)), name
        assert set(before) <= set(after)
        if code != KILLED and after != whole:
            assert code == 1
            assert "To fix: " in told
    else:
        pytest.fail("does not end")
    assert at > 2, "changes nothing"
