"""What other systems lack, refuse or keep for themselves, as far as it can be tried."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from optimiser.cli import running, workers
from optimiser.cli.running import say
from optimiser.errors import InputError
from optimiser.presenting.survey.files import file_names
from optimiser.presenting.writing import write_whole

BAR = "scenarios/bar.toml"
SHEET = """\
ingredient,weighed_grams
cocoa butter,450
refined shea butter,200
beeswax,40
sunflower oil,310
"""
# A run on a system without what only some have. What the standard library makes of its
# own system is settled before.
ELSEWHERE = """
import asyncio, concurrent.futures.process, ctypes, importlib.metadata, multiprocessing
import multiprocessing.popen_spawn_posix, os, platform, shutil, signal, sqlite3
import subprocess, sys, tempfile
import highspy, msgspec, numpy, pint, rapidfuzz, typer.main

for module, names in {
    os: ("fork", "geteuid", "getuid", "link", "mkfifo", "statvfs", "O_NOFOLLOW",
         "O_NONBLOCK", "fchmod", "posix_fadvise", "sched_getaffinity"),
    signal: ("pthread_sigmask", "SIGPIPE", "SIGALRM", "SIGHUP", "SIGKILL"),
}.items():
    for name in names:
        if hasattr(module, name):
            delattr(module, name)
for name in ("fcntl", "resource", "pwd", "grp", "termios"):
    sys.modules[name] = None
sys.platform = "win32"
os.environ["LOCALAPPDATA"] = os.environ["XDG_CACHE_HOME"]
from optimiser.cli.starting import main
main(sys.argv[1:])
"""


@pytest.fixture
def elsewhere(workspace):
    """Return a function that runs a command in a workspace on such a system."""

    def run(*arguments, **environment):
        known = os.environ | {"XDG_CACHE_HOME": str(workspace / "cache")}
        known.pop("OPTIMISER_NO_CACHE", None)
        return subprocess.run(
            [sys.executable, "-c", ELSEWHERE, *map(str, arguments)],
            cwd=workspace,
            env=known | environment,
            capture_output=True,
            timeout=300,
            check=False,
        )

    return run


def test_commands_run_where_there_is_no_fork_no_second_name_and_no_user(elsewhere):
    first, again = elsewhere("formulate", BAR), elsewhere("formulate", BAR)
    assert first.returncode == 0, first.stderr
    assert first.stdout == again.stdout  # the second from what was kept of the first
    assert [*Path("cache").rglob("*")]
    Path("sheet.csv").write_text(SHEET, encoding="utf-8")
    recorded = elsewhere("record", "batch", BAR, "sheet.csv")
    assert recorded.returncode == 0, recorded.stderr
    assert b"1 batch recorded" in elsewhere("record", "list").stdout


@pytest.mark.parametrize("letters", ["ascii", "cp1252", "cp437"])
def test_a_terminal_with_few_letters_is_shown_what_comes_near(elsewhere, letters):
    done = elsewhere("formulate", BAR, PYTHONIOENCODING=letters)
    text = done.stdout.decode(letters)
    assert "?" not in text
    assert ("25 degC" if letters == "ascii" else "25 °C") in text


def test_no_file_is_called_as_windows_calls_a_device():
    names = file_names(["aux", "AUX", "COM1", "con/", "nut"])
    assert [*names.values()] == [
        "aux_.csv", "AUX__2.csv", "COM1_.csv", "con_.csv", "nut.csv",
    ]  # fmt: skip


def test_a_recipe_called_as_a_device_becomes_a_scenario_of_another_name(run, workspace):
    recipe = workspace / "con.csv"
    recipe.write_text("ingredient,amount\ncocoa butter,60 g\nbeeswax,9 g\n", "utf-8")
    asked = ("--product", "massage bar", "--market", "EU")
    done = run("begin", ".", "--from", "con.csv", *asked)
    assert done.code == 0, done.err
    assert (workspace / "scenarios" / "con_.toml").is_file()


def test_a_reader_that_has_gone_away_is_no_error_where_that_is_an_invalid_argument(
    monkeypatch,
):
    class Gone:
        def write(self, _):
            raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(sys, "stdout", Gone())
    monkeypatch.setattr(running, "let_go", lambda _: None)
    with pytest.raises(InputError):
        say("answer")
    monkeypatch.setattr(running.sys, "platform", "win32")
    say("answer")


def test_a_file_that_is_open_elsewhere_is_told_and_so_is_a_draft_that_stays(
    tmp_path, monkeypatch
):
    path = tmp_path / "out.csv"
    path.write_text("a,b\n", encoding="utf-8")

    def refused(*_, **__):
        raise PermissionError(errno.EACCES, "The process cannot access the file")

    monkeypatch.setattr(Path, "replace", refused)
    monkeypatch.setattr(Path, "unlink", refused)
    with pytest.raises(InputError, match="cannot access the file"):
        write_whole(path, "a,b\n1,2\n", columns=["a", "b"])
    assert path.read_text(encoding="utf-8") == "a,b\n"


def test_no_more_processes_are_begun_than_one_can_wait_for(monkeypatch):
    begun = []

    class Pool:
        def __init__(self, count, *_):
            begun.append(count)

        def submit(self, _):
            pass

        def shutdown(self, **_):
            pass

    monkeypatch.setattr("concurrent.futures.ProcessPoolExecutor", Pool)
    for platform in ("linux", "win32"):
        monkeypatch.setattr(workers.sys, "platform", platform)
        with workers.workers(100, None):
            pass
    assert begun == [100, 61]
