"""Runs tell the same with what is kept as without it, and then load less."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from optimiser.reading import kept, read_scenario

ROOT = Path(__file__).resolve().parents[2]
DEMOS = sorted((ROOT / "scenarios").glob("*.toml"))
EACH_PAGE = ("massage_bar",)
SLOW = ("pydantic", "tomllib", "rapidfuzz", "pint", "hashlib", "typing_extensions")
SLOW += (
    "csv",
    "shutil",
    "numpy.ma.",
    "optimiser.presenting.data",
    "optimiser.presenting.sheet",
)
LOADED = (
    "import sys\n"
    "from optimiser.cli import main\n"
    "try:\n    main(sys.argv[1:])\n"
    "except SystemExit:\n    pass\n"
    "print(*sorted(sys.modules), file=sys.stderr)\n"
)


@pytest.fixture(scope="module")
def read_once():
    """The files themselves are read, for it is they that are asked again."""


@pytest.fixture
def keeping(tmp_path, monkeypatch):
    """Let runs keep what they read, in a folder of the test's own; returned."""
    monkeypatch.delenv(kept.OFF)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.chdir(ROOT)
    return tmp_path / kept.NAME


@pytest.fixture
def readings(monkeypatch):
    """Return the paths that are read, as they are."""
    read = []

    def counted(path, **named):
        read.append(path)
        return read_scenario(path, **named)

    monkeypatch.setattr("optimiser.reading.read_scenario", counted)
    return read


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_formula_is_told_the_same_from_what_is_kept(
    run, keeping, readings, monkeypatch, path
):
    # One is asked for each page; of the others the page that shows everything.
    pages = ((), ("--json",), ("--full",)) if path.stem in EACH_PAGE else (("--full",),)
    asked = [("formulate", path, *more) for more in pages]
    monkeypatch.setenv(kept.OFF, "1")
    plain = [run(*each) for each in asked]
    assert not keeping.exists()
    monkeypatch.delenv(kept.OFF)
    readings.clear()
    # The first of them reads and keeps; all after it are of what is kept.
    assert [run(*each) for each in (*asked, asked[0])] == [*plain, plain[0]]
    assert readings == [path]


@pytest.mark.parametrize(
    "asked",
    [
        ("why", "no cocoa butter"), ("check",), ("batch", "--units", "6"), ("cost",),
        ("substitute", "beeswax"), ("stock",), ("pour",), ("label",), ("fats",),
    ],
    ids=lambda asked: asked[0],
)  # fmt: skip
def test_other_commands_use_what_one_has_kept(
    run, keeping, readings, monkeypatch, asked
):
    command, *more = asked
    path = ROOT / "scenarios" / "massage_bar.toml"
    monkeypatch.setenv(kept.OFF, "1")
    plain = run(command, path, *more)
    monkeypatch.delenv(kept.OFF)
    run("formulate", path)
    readings.clear()
    assert run(command, path, *more) == plain
    assert readings == []
    assert keeping.exists()


def test_a_run_on_what_is_kept_loads_nothing_that_reads(keeping):
    command = [sys.executable, "-c", LOADED, "formulate", "scenarios/massage_bar.toml"]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])}
    first, second = (
        subprocess.run(command, env=env, capture_output=True, text=True, check=True)
        for _ in range(2)
    )
    assert first.stdout == second.stdout
    loaded = second.stderr.split()
    assert {"pydantic", "optimiser.reading.scenario"} <= set(first.stderr.split())
    assert [name for name in loaded if name.startswith(SLOW)] == []
    assert [name for name in loaded if name.startswith("optimiser.reading")] == [
        "optimiser.reading",
        "optimiser.reading.disk",
        "optimiser.reading.kept",
        "optimiser.reading.name_reader",
    ]
    assert len(list(keeping.iterdir())) == 1


def test_problems_are_told_the_same_each_time(run, keeping, workspace):
    bar = workspace / "scenarios" / "bar.toml"
    run("formulate", bar)
    bar.write_text(bar.read_text(encoding="utf-8") + "[nonsense]\n", encoding="utf-8")
    told = run("formulate", bar)
    assert told.code == 1
    assert "nonsense" in told.err
    assert run("formulate", bar) == told
    assert len(list(keeping.iterdir())) == 1
