"""Full disks, closed folders, strange clocks and locales: told, and nothing is lost."""

import datetime
import errno
import locale
import os
import resource
import shutil
import subprocess
import sys
from datetime import date

import highspy
import pytest

from optimiser.cli import lacks_memory, starting
from optimiser.solving import Session
from tests.faults.instants import run_apart
from tests.faults.test_any_instant import EVERY, entries, held
from tests.fuzz.small import workspace

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks")

BAR = "scenarios/bar.toml"
BOOK = "catalogues/workshops/demo/records.sqlite"
WRITERS = (
    ("formulate", BAR, "--csv", "out.csv"),
    ("sweep", "scenarios/grid.toml", "--to", "out.csv"),
    ("report", BAR, "--out", "out.html"),
    ("survey", "recipes.csv", "--class", "lotion bar", "--to", "out"),
    ("record", "batch", BAR, "sheet.csv"),
    ("begin", "new"),
)


@pytest.fixture
def folder(tmp_path):
    """Return the small workspace."""
    place = tmp_path / "kitchen"
    place.mkdir()
    workspace(place)
    return place


def with_room_for(size):
    """Return what lets a process write no file longer than so many bytes."""

    def limit():
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    return limit


@pytest.mark.parametrize("arguments", WRITERS, ids=lambda each: each[0])
@pytest.mark.parametrize("size", [0, 100])
def test_what_finds_no_room_is_told_and_leaves_nothing(folder, arguments, size):
    before = held(folder)
    code, told, _ = run_apart(arguments, folder, begin=with_room_for(size))
    assert code == 1
    assert "Traceback" not in told
    assert "inside the program" not in told
    assert "To fix: " in told
    assert held(folder) == before


def test_a_book_that_finds_no_room_keeps_what_it_had(folder):
    assert run_apart(("record", "batch", BAR, "sheet.csv"), folder)[0] == 0
    had = entries(folder / BOOK)
    size = (folder / BOOK).stat().st_size
    text = (folder / "sheet.csv").read_text("utf-8").replace("760.2", "770.2")
    for number in range(40):
        (folder / "sheet.csv").write_text(text.replace("770.2", f"77{number}"), "utf-8")
        asked = ("record", "batch", BAR, "sheet.csv")
        code, told, _ = run_apart(asked, folder, begin=with_room_for(size))
        if code:
            break
        had = entries(folder / BOOK)
    assert code == 1
    assert "To fix: " in told
    assert entries(folder / BOOK) == had


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
@pytest.mark.parametrize("arguments", WRITERS, ids=lambda each: each[0])
def test_a_folder_that_may_not_be_written_to_is_told(folder, arguments):
    before = held(folder)
    closed = [folder, *(each for each in folder.rglob("*") if each.is_dir())]
    for each in closed:
        each.chmod(0o555)
    try:
        code, told, _ = run_apart(arguments, folder)
    finally:
        for each in closed:
            each.chmod(0o755)
    assert code == 1
    assert "To fix: " in told
    assert held(folder) == before


def as_someone():
    """Be nobody in particular, who may write nowhere here."""
    os.setgid(65534)
    os.setuid(65534)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may be somebody else")
@pytest.mark.parametrize("arguments", WRITERS, ids=lambda each: each[0])
def test_a_folder_of_somebody_else_is_told(folder, arguments):
    for each in folder.parents:
        if each.stat().st_mode & 0o005 != 0o005:
            if not each.name.startswith(("pytest-", "test_", "kitchen")):
                pytest.skip("the folder of tests is closed to others")
            each.chmod(0o755)
    before = held(folder)
    code, told, _ = run_apart(arguments, folder, begin=as_someone)
    assert code == 1
    assert "Traceback" not in told
    assert "To fix: " in told
    assert held(folder) == before


ON_A_DAY = (
    ("formulate", BAR),
    ("label", BAR, "--net", "60g"),
    ("batch", BAR, "--units", "24", "--net", "60g"),
    ("stock", BAR),
    ("record", "batch", BAR, "sheet.csv"),
)


@pytest.mark.parametrize("year", [1970, 1980, 2038, 2100, 9999])
@pytest.mark.parametrize("arguments", ON_A_DAY, ids=lambda each: each[0])
def test_a_wrong_clock_breaks_nothing(folder, arguments, year):
    def turn():
        class Day(date):
            @classmethod
            def today(cls):
                return date(year, 12, 31)

        datetime.date = Day

    code, told, _ = run_apart(arguments, folder, begin=turn)
    assert code in {0, 1, 3}
    assert "inside the program" not in told
    assert "Traceback" not in told


@pytest.fixture(scope="module")
def commas(tmp_path_factory):
    """Return a folder with a locale whose decimals have commas, made for this."""
    folder = tmp_path_factory.mktemp("locales")
    try:
        subprocess.run(
            ["localedef", "-i", "de_DE", "-f", "UTF-8", folder / "de_DE.UTF-8"],
            capture_output=True,
            check=True,
            timeout=60,
        )
    except (OSError, subprocess.SubprocessError):
        pytest.skip("no locale with a decimal comma can be made here")
    return folder


@pytest.mark.parametrize(
    "arguments",
    [
        ("formulate", BAR, "--json"),
        ("cost", BAR, "--units", "24", "--net", "60 g", "--csv", "out.csv"),
        ("check", "kitchen.csv", BAR),
        ("report", BAR, "--out", "out.html"),
    ],
    ids=lambda each: each[0],
)
def test_a_locale_with_commas_changes_no_figure(folder, commas, arguments):
    def turn():
        os.environ["LOCPATH"] = str(commas)
        locale.setlocale(locale.LC_ALL, "de_DE.UTF-8")
        assert locale.str(1.5) == "1,5"

    plain = run_apart(arguments, folder)[1]
    before = held(folder)
    assert run_apart(arguments, folder, begin=turn)[1] == plain
    assert held(folder) == before


def mounted(place, size):
    """Mount a disk of so many bytes; whether that may be done here."""
    place.mkdir()
    asked = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
    return os.geteuid() == 0 and subprocess.run(asked, check=False).returncode == 0


@pytest.mark.skipif(not EVERY, reason="mounts a disk: with EVERY_INSTANT")
@pytest.mark.parametrize("arguments", WRITERS, ids=lambda each: each[0])
@pytest.mark.parametrize("left", [0, 4096, 12288])
def test_a_disk_that_is_really_full_is_told(folder, tmp_path, arguments, left):
    disk = tmp_path / "disk"
    if not mounted(disk, 3_000_000):
        pytest.skip("no disk can be mounted here")
    try:
        shutil.copytree(folder, disk / "kitchen")
        free = shutil.disk_usage(disk).free
        (disk / "rest").write_bytes(bytes(free - left))
        before = held(disk / "kitchen")
        code, told, _ = run_apart(arguments, disk / "kitchen")
        after = held(disk / "kitchen")
    finally:
        subprocess.run(["umount", str(disk)], check=True)
    assert "Traceback" not in told
    assert "inside the program" not in told
    assert set(before) <= set(after)
    if code not in {0, 3}:
        assert code == 1
        assert "To fix: " in told
        assert after == before
    else:
        assert left, "written to a full disk"


@pytest.mark.skipif(sys.platform != "linux", reason="of its C library")
@pytest.mark.parametrize("megabytes", [160, 220, 300])
def test_little_memory_makes_no_search_slow(folder, megabytes):
    """Of each second that it takes, most is its own rather than the system's."""
    limited = f'ulimit -v {megabytes << 10}; exec "$0" -m optimiser "$@"'
    asked = ["sh", "-c", limited, sys.executable, "sweep", "scenarios/grid.toml"]
    child = subprocess.Popen(
        asked, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    with child.stdout:
        told = child.stdout.read()
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    assert "Traceback" not in told
    assert child.returncode == 0 or "there is not enough memory for it." in told
    assert used.ru_stime < used.ru_utime


@pytest.mark.skipif(sys.platform != "linux", reason="of its limits")
@pytest.mark.parametrize("megabytes", [80, 105, 115, 150, 156, 190])
@pytest.mark.parametrize(
    "arguments", [("formulate", BAR), ("plan", "scenarios/plan.toml")]
)
def test_wherever_memory_ends_it_is_told(folder, arguments, megabytes):
    limited = f'ulimit -v {megabytes << 10}; exec "$0" -m optimiser "$@"'
    done = subprocess.run(
        ["sh", "-c", limited, sys.executable, *arguments],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode != 0:
        assert done.returncode == 1
        assert done.stderr.startswith("there is not enough memory for it.\n  To fix: ")


@pytest.mark.skipif(sys.platform != "linux", reason="of its limits")
def test_equations_that_find_no_room_do_not_end_the_program(folder):
    asked = (
        "import resource\n"
        "from optimiser.science import algebra\n"
        "now = int(open('/proc/self/statm').read().split()[0]) << 12\n"
        "resource.setrlimit(resource.RLIMIT_AS, (now + (20 << 20),) * 2)\n"
        "try:\n    algebra.need_room()\n"
        "except MemoryError:\n    print('told')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked],
        cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    assert (done.stdout, done.stderr) == ("told\n", "")


@pytest.mark.parametrize(
    ("error", "lacking"),
    [
        (MemoryError(), True),
        (OSError(errno.ENOMEM, "Cannot allocate memory"), True),
        (OSError(errno.ENOENT, "No such file"), False),
        (ImportError("x.so: failed to map segment from shared object"), True),
        (ImportError("No module named x"), False),
        (ValueError("cannot allocate memory"), False),
    ],
)
def test_only_a_lack_of_memory_is_called_one(error, lacking):
    assert lacks_memory(error) is lacking


def without_memory():
    """Let the solver end as it does where it finds no memory."""
    Session._run_once = lambda _: highspy.HighsModelStatus.kMemoryLimit


def test_a_solver_that_finds_no_memory_is_told(folder):
    code, told, _ = run_apart(("formulate", BAR), folder, begin=without_memory)
    assert code == 1
    assert told.startswith("there is not enough memory for it.\n  To fix: close other")


def test_what_there_is_no_memory_to_tell_is_told_all_the_same(folder):
    def turn():
        def fails(*_):
            raise MemoryError

        without_memory()
        starting.tell_problems = fails

    code, told, _ = run_apart(("formulate", BAR), folder, begin=turn)
    assert code == 1
    assert told.startswith("there is not enough memory for it.")


def test_a_run_without_a_terminal_is_the_same(folder):
    plain = run_apart(("formulate", BAR), folder)[1]

    def turn():
        os.setsid()
        os.environ.pop("TERM", None)
        os.environ["COLUMNS"] = "nonsense"

    code, told, _ = run_apart(("formulate", BAR), folder, begin=turn)
    assert (code, told) == (0, plain)
