"""What was read is kept, and used while everything that it rests on is the same."""

import ast
import importlib
import os
import pickle
import shutil
import signal
import stat
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import asdict, replace

import optimiser
from optimiser.domain.record import BatchMade
from optimiser.errors import InputError, Problem
from optimiser.reading import disk, kept, read_scenario
from optimiser.reading.records import New, add
from optimiser.reading.workshops import remembered_workshop
from tests.reading.conftest import FILES, SCENARIO

ROOT = Path(__file__).resolve().parents[2]
READING = ROOT / "optimiser" / "reading"
BASE = SCENARIO.split("[base]", maxsplit=1)[1]
BAR = """\
extends = "base/massage.toml"
[stock]
only = true
[envelope]
file = "assessed.toml"
[[windows]]
property = "solid fat"
at = "30 degC"
min = 5
"""
ASSESSED = """\
title = "Assessed"
[[lists]]
name = "fats"
caps = { "cocoa butter" = 90, "shea butter" = 50, "beeswax" = 20, "jojoba oil" = 50 }
"""
PRICES = "catalogues/workshops/demo/prices.csv"
FATTY = "catalogues/materials/fatty_acids.csv"
ACIDS = """\
ingredient,fatty_acid,low,high,variant,evidence,source,note
cocoa_butter,stearic acid,33,36,,review,book,
cocoa_butter,palmitic acid,25,28,,review,book,
cocoa_butter,oleic acid,33,36,,review,book,
"""


def plain(found):
    """What was read, without the functions that would read more, and with the fats."""
    scenario, catalogue = found
    nothing = {"load_fats": None, "read_name": None, "name_left_open": None}
    return scenario, replace(catalogue, **nothing), asdict(catalogue.fats)


class Kept:
    """A workspace whose scenario is read as runs do; ``read`` counts the readings."""

    def __init__(self, desk, folder):
        self.desk, self.folder, self.read = desk, folder, 0
        self.bar = desk.folder / "bar.toml"

    def __call__(self, path=None, **given):
        """Return the scenario and its catalogue."""
        return kept.kept_scenario(path or self.bar, **given)

    def times(self, path=None):
        """How many times a scenario was read in the call that is made now."""
        before = self.read
        self(path)
        return self.read - before

    def files(self):
        """What is kept."""
        return sorted(self.folder.iterdir()) if self.folder.exists() else []


@pytest.fixture
def keeping(desk, tmp_path_factory, monkeypatch):
    """A workspace whose scenario may be kept, in a folder of the test's own."""
    base = tmp_path_factory.mktemp("cache")
    monkeypatch.delenv(kept.OFF)
    monkeypatch.setenv("XDG_CACHE_HOME", str(base))
    desk.write("bar.toml", BAR)
    desk.write("base/massage.toml", SCENARIO)
    desk.write("assessed.toml", ASSESSED)
    desk.write(FATTY, ACIDS)
    made = Kept(desk, base / kept.NAME)

    def counted(*given, **named):
        made.read += 1
        return read_scenario(*given, **named)

    monkeypatch.setattr("optimiser.reading.read_scenario", counted)
    return made


def test_what_was_read_is_not_read_again(keeping):
    first = plain(keeping())
    second = keeping()
    assert keeping.read == 1
    assert plain(second) == first == plain(read_scenario(keeping.bar))
    assert second[1].fats.acids["cocoa_butter"]
    assert second[1].find("Cocoa butter wafers") == "cocoa_butter"  # read later


def test_what_is_kept_is_for_its_owner_alone(keeping):
    keeping()
    (file,) = keeping.files()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(keeping.folder.stat().st_mode) == 0o700
    assert keeping.folder.parent not in {keeping.bar.parent, ROOT}


def edited(desk, name, old, new):
    path = desk.folder / name
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")


def unseen(desk):
    """Another price of as many signs, with the same times on the file."""
    path = desk.folder / PRICES
    before = path.stat()
    edited(desk, PRICES, "kg,90,10", "kg,91,10")
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    now = path.stat()
    assert (now.st_size, now.st_mtime_ns) == (before.st_size, before.st_mtime_ns)


def nearer(desk):
    """A folder of catalogues beside a scenario, with another price."""
    shutil.copytree(desk.folder / "catalogues", desk.folder / "sub" / "catalogues")
    edited(desk, "sub/" + PRICES, "kg,90,10", "kg,190,10")


def batch_made(desk):
    """A batch in the book, which takes from the shelf what went into it."""
    path = desk.folder / "catalogues" / "workshops" / "demo" / "records.sqlite"
    made = BatchMade("B1", date(2026, 11, 20), "bar", "bar.toml", "leave-on")
    add(path, "records.sqlite", "me", lambda _: [New(made)])


CHANGES = {
    "its own text": lambda desk: edited(desk, "bar.toml", "min = 5", "min = 6"),
    "what it extends": lambda desk: edited(
        desk, "base/massage.toml", "Winter bar", "Summer bar"
    ),
    "another file that it extends": lambda desk: (
        desk.write("base/other.toml", SCENARIO.replace("Winter", "Other")),
        edited(desk, "bar.toml", "massage.toml", "other.toml"),
    ),
    "its envelope": lambda desk: edited(
        desk, "assessed.toml", '"beeswax" = 20', '"beeswax" = 25'
    ),
    "a price": lambda desk: edited(desk, PRICES, "kg,90,10", "kg,95,10"),
    "a price, with the same size and time": unseen,
    "a figure": lambda desk: edited(
        desk, "catalogues/materials/properties.csv", "30 degC,46", "30 degC,47"
    ),
    "a limit of the law": lambda desk: edited(
        desk, "catalogues/markets/preservatives.csv", "any,1,sub", "any,2,sub"
    ),
    "what fats are made of": lambda desk: (
        edited(desk, FATTY, "33,36,,r", "34,37,,r")
        if False
        else edited(desk, FATTY, "palmitic acid,25,28", "palmitic acid,24,27")
    ),
    "a table of the maker's that was not there": lambda desk: desk.write(
        "catalogues/workshops/demo/properties.csv",
        FILES["materials/properties.csv"].splitlines()[0]
        + "\ncocoa_butter,solid fat,30 degC,60,,,%,own,,measured,,\n",
    ),
    "a calibration that was not there": lambda desk: desk.write(
        "catalogues/workshops/demo/calibration.csv",
        FILES["materials/properties.csv"].splitlines()[0]
        + "\ncocoa_butter,solid fat,30 degC,44,40,48,%,own,,estimated,,\n",
    ),
    "a table of the law that was not there": lambda desk: desk.write(
        "catalogues/workshops/demo/markets/preservatives.csv",
        FILES["markets/preservatives.csv"].replace("EU,", "NZ,"),
    ),
    "what fats are made of, in the maker's folder": lambda desk: desk.write(
        "catalogues/workshops/demo/fatty_acids.csv",
        ACIDS.replace("25,28", "20,21"),
    ),
    "a table that is gone": lambda desk: (desk.folder / FATTY).unlink(),
    "the shelf that is gone": lambda desk: (
        desk.folder / "catalogues/workshops/demo/stock.csv"
    ).unlink(),
}


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_is_changed_is_noticed(keeping, change):
    before = plain(keeping())
    CHANGES[change](keeping.desk)
    after = keeping()
    assert keeping.read == 2
    assert plain(after) == plain(read_scenario(keeping.bar)) != before
    assert plain(keeping()) == plain(after)
    assert keeping.read == 2  # and is kept in its turn


def test_a_folder_of_catalogues_that_comes_to_lie_nearer_is_noticed(keeping):
    path = keeping.desk.write("sub/bar.toml", BAR.replace('"', '"../', 1))
    keeping.desk.write("sub/assessed.toml", ASSESSED)
    path.write_text(BAR.replace("base/massage", "massage"), encoding="utf-8")
    keeping.desk.write("sub/massage.toml", SCENARIO)
    before = keeping(path)[1]
    assert keeping.times(path) == 0
    nearer(keeping.desk)
    after = keeping(path)[1]
    assert after.prices["cocoa_butter"] != before.prices["cocoa_butter"]


def test_a_workshop_that_becomes_the_usual_one_is_noticed(keeping):
    keeping.desk.write("base/massage.toml", SCENARIO.replace('workshop = "demo"\n', ""))
    keeping.bar.write_text(
        'extends = "base/massage.toml"\n[aim]\norder = ["change"]\n', encoding="utf-8"
    )
    assert keeping()[0].workshop == ""
    assert keeping.times() == 0
    keeping.desk.write("catalogues/workspace.toml", 'workshop = "demo"\n')
    assert remembered_workshop(keeping.desk.folder / "catalogues") == "demo"
    assert keeping()[0].workshop == "demo"


def test_another_day_is_another_shelf(keeping, monkeypatch):
    def on(year):
        class Day(date):
            @classmethod
            def today(cls):
                return cls(year, 1, 1)

        monkeypatch.setattr("optimiser.reading.disk.date", Day)
        return {lot.lot for lot in keeping()[1].stock}

    assert [on(2026), on(2026), on(2027), on(2028)] == [
        {"A1", "A2"}, {"A1", "A2"}, {"A1"}, set(),
    ]  # fmt: skip
    assert keeping.read == 3


def test_a_day_that_nobody_asks_for_is_no_matter(keeping, monkeypatch):
    keeping.bar.write_text(
        BAR.replace("only = true", "only = true\ntoday = 2026-01-01"), encoding="utf-8"
    )
    keeping()

    class Day(date):
        @classmethod
        def today(cls):
            return cls(2031, 1, 1)

    monkeypatch.setattr("optimiser.reading.disk.date", Day)
    assert keeping.times() == 0


def test_a_batch_that_is_recorded_is_noticed(keeping):
    keeping()
    batch_made(keeping.desk)
    assert [keeping.times(), keeping.times()] == [1, 0]
    batch_made(keeping.desk)
    assert keeping.times() == 1


def test_a_link_that_leads_elsewhere_is_noticed(keeping):
    base = keeping.desk.folder / "base"
    base.rename(keeping.desk.folder / "first")
    base.symlink_to("first")
    keeping()
    assert keeping.times() == 0
    shutil.copytree(keeping.desk.folder / "first", keeping.desk.folder / "second")
    edited(keeping.desk, "second/massage.toml", "Winter", "Summer")
    base.unlink()
    base.symlink_to("second")
    assert keeping()[0].title == "Summer bar"


def test_a_link_to_the_same_text_in_another_workspace_is_noticed(keeping):
    other = keeping.desk.folder / "other"
    for name in ("catalogues", "base"):
        shutil.copytree(keeping.desk.folder / name, other / name)
    for name in ("bar.toml", "assessed.toml"):
        shutil.copyfile(keeping.desk.folder / name, other / name)
    link = keeping.desk.folder / "link.toml"
    link.symlink_to("bar.toml")
    before = keeping(link)[1].price_per_kg("cocoa_butter")
    edited(keeping.desk, f"other/{PRICES}", "kg,90,10", "kg,95,10")
    link.unlink()
    link.symlink_to("other/bar.toml")
    assert before == 20.0
    assert keeping(link)[1].price_per_kg("cocoa_butter") == 21.0


def test_a_link_to_nothing_is_noticed(keeping):
    keeping()
    own = keeping.desk.folder / "catalogues/workshops/demo/limits.csv"
    own.symlink_to("nowhere.csv")
    with pytest.raises(InputError, match="is a link to a file that is not there"):
        keeping()


def test_a_spreadsheet_in_place_of_a_table_is_noticed(keeping):
    pytest.importorskip("python_calamine")
    writer = pytest.importorskip("xlsxwriter")
    keeping()
    path = keeping.desk.folder / PRICES

    def written(price):
        with writer.Workbook(path.with_suffix(".xlsx")) as book:
            sheet = book.add_worksheet()
            sheet.write_row(0, 0, ["ingredient", "pack", "unit", "price"])
            sheet.write_row(1, 0, ["cocoa_butter", 1, "kg", price])
        path.unlink(missing_ok=True)
        return keeping()[1].price_per_kg("cocoa_butter")

    assert [written(30), written(31)] == [30, 31]
    assert keeping.times() == 0
    assert written(32) == 32


def test_another_folder_to_be_in_is_another_question(keeping, monkeypatch):
    monkeypatch.chdir(keeping.desk.folder)
    shown = keeping(Path("bar.toml"))[0].file
    monkeypatch.chdir(keeping.desk.folder / "base")
    keeping.desk.write("base/bar.toml", BAR.replace("base/", ""))
    keeping.desk.write("base/assessed.toml", ASSESSED)
    assert keeping(Path("bar.toml"))[0].file == shown == "bar.toml"
    assert keeping(Path("../bar.toml"))[0].file == "../bar.toml"
    assert keeping.read == 3
    monkeypatch.chdir(keeping.desk.folder)
    assert keeping.times(Path("bar.toml")) == 0


def test_a_calibration_that_is_left_out_is_another_question(keeping):
    CHANGES["a calibration that was not there"](keeping.desk)
    at = [
        keeping(calibrated=each)[1].figures["solid fat"]["cocoa_butter"][30.0].value
        for each in (True, False, True, False)
    ]
    assert at == [44.0, 43.0, 44.0, 43.0]
    assert keeping.read == 2


def test_nothing_is_kept_of_files_with_a_problem(keeping):
    edited(keeping.desk, PRICES, "kg,90,10", "kg,ninety,10")
    said = []
    for _ in range(2):
        with pytest.raises(InputError) as caught:
            keeping()
        said.append(str(caught.value))
    assert said[0] == said[1]
    assert "ninety" in said[0]
    shelf: list[Problem] = []
    keeping(shelf=shelf)
    assert "ninety" in str(shelf[0])
    assert keeping.files() == []
    CHANGES["what fats are made of"](keeping.desk)
    edited(keeping.desk, PRICES, "kg,ninety,10", "kg,90,10")
    edited(keeping.desk, FATTY, "33,36,,review,book,\ncocoa_butter,p", "x,36,,,,\nc,p")
    with pytest.raises(InputError, match="fatty_acids"):
        _ = keeping()[1].fats
    assert keeping.files() == []


def test_what_is_kept_serves_those_whose_shelf_may_wait(keeping):
    keeping()
    shelf: list[Problem] = []
    keeping(shelf=shelf)
    assert (keeping.read, shelf) == (1, [])


DAMAGES = {
    "empty": lambda _: b"",
    "cut": lambda whole: whole[:-1],
    "cut in its seal": lambda whole: whole[:10],
    "changed in the middle": lambda whole: (
        whole[: len(whole) // 2]
        + bytes([whole[len(whole) // 2] ^ 1])
        + whole[len(whole) // 2 + 1 :]
    ),
    "changed in a name": lambda whole: whole.replace(b"Winter", b"Wanter"),
    "something else": lambda _: b"title = 1\n" * 100,
    "sealed, and no such value": lambda _: sealed(pickle.dumps([1, 2])),
    "sealed, and no value at all": lambda _: sealed(b"\x80\x05junk"),
    "of a program that is gone": lambda _: sealed(b"cno_such_module\nvalue\n."),
}


def sealed(told):
    return disk.digest(told) + told


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_file_is_passed_over_and_replaced(keeping, damage):
    first = plain(keeping())
    (file,) = keeping.files()
    file.write_bytes(DAMAGES[damage](file.read_bytes()))
    assert plain(keeping()) == first
    assert keeping.read == 2
    assert keeping.times() == 0


def test_a_folder_in_its_place_is_left_there(keeping):
    keeping()
    (file,) = keeping.files()
    file.unlink()
    file.mkdir()
    assert [keeping.times(), keeping.times()] == [1, 1]
    assert keeping.files() == [file]


def test_a_pipe_in_its_place_is_not_waited_for(keeping):
    keeping()
    (file,) = keeping.files()
    file.unlink()
    os.mkfifo(file)
    assert [keeping.times(), keeping.times()] == [1, 0]


def test_an_input_that_becomes_a_pipe_is_not_waited_for(keeping):
    keeping()
    keeping.bar.unlink()
    os.mkfifo(keeping.bar)
    with pytest.raises(InputError, match="is a pipe"):
        keeping()


class Harm:
    """What runs when it is unpacked."""

    def __reduce__(self):
        return os.mkdir, (str(self.place),)


@pytest.mark.parametrize("who", ["folder", "file"])
def test_what_others_may_write_to_is_not_unpacked(keeping, who, tmp_path):
    keeping()
    (file,) = keeping.files()
    harm = Harm()
    harm.place = tmp_path / "harmed"
    file.write_bytes(sealed(pickle.dumps(harm)))
    if who == "folder":
        keeping.folder.chmod(0o777)
    else:
        file.chmod(0o666)
    assert keeping.times() == 1
    assert not harm.place.exists()


@pytest.mark.parametrize("who", ["folder", "file"])
def test_what_somebody_else_owns_is_not_unpacked(keeping, who):
    if os.geteuid():
        pytest.skip("only root can give a file away")
    keeping()
    given = keeping.folder if who == "folder" else keeping.files()[0]
    os.chown(given, 65534, 65534)
    assert keeping.times() == 1


def test_a_link_in_its_place_is_not_followed(keeping, tmp_path):
    keeping()
    (file,) = keeping.files()
    file.rename(tmp_path / "elsewhere")
    file.symlink_to(tmp_path / "elsewhere")
    assert [keeping.times(), keeping.times()] == [1, 0]
    assert not file.is_symlink()


def test_a_folder_that_is_a_link_is_not_used(keeping, tmp_path):
    keeping.folder.symlink_to(tmp_path)
    assert [keeping.times(), keeping.times()] == [1, 1]


def test_no_folder_is_made_in_that_of_somebody_else(keeping):
    if os.geteuid():
        pytest.skip("only root can give a folder away")
    os.chown(keeping.folder.parent, 65534, 65534)
    assert [keeping.times(), keeping.times()] == [1, 1]
    assert keeping.files() == []


@pytest.mark.parametrize(
    "environment",
    [
        {"XDG_CACHE_HOME": None, "HOME": None},
        {"XDG_CACHE_HOME": "", "HOME": ""},
        {"XDG_CACHE_HOME": "beside", "HOME": "here"},
        {"XDG_CACHE_HOME": "{}/no/such/folder", "HOME": None},
        {"XDG_CACHE_HOME": None, "HOME": "{}/no/such/home"},
        {"XDG_CACHE_HOME": "{}/bar.toml", "HOME": None},
        {kept.OFF: "1"},
        {kept.OFF: ""},
    ],
)
def test_without_a_place_to_keep_it_everything_is_read(
    keeping, environment, monkeypatch
):
    monkeypatch.chdir(keeping.desk.folder)
    for name, value in environment.items():
        if value is None:
            monkeypatch.delenv(name, raising=False)
        else:
            monkeypatch.setenv(name, value.format(keeping.desk.folder))
    before = sorted(keeping.desk.folder.rglob("*"))
    assert [keeping.times(), keeping.times()] == [1, 1]
    assert sorted(keeping.desk.folder.rglob("*")) == before
    assert keeping.files() == []


def test_a_users_own_folder_is_made_below_home(keeping, monkeypatch, tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", str(home))
    keeping()
    assert [x.name for x in home.iterdir()] == [".cache"]
    assert keeping.times() == 0


def test_another_program_reads_for_itself(keeping, monkeypatch):
    keeping()
    monkeypatch.setattr(kept, "PROGRAM", disk.digest(b"edited"))
    assert [keeping.times(), keeping.times()] == [1, 0]
    monkeypatch.setattr(kept, "PROGRAM", None)
    assert [keeping.times(), keeping.times()] == [1, 1]


def test_an_edit_of_what_reads_makes_another_program(tmp_path, monkeypatch):
    package = tmp_path / "optimiser"
    for name in kept.LAYERS:
        shutil.copytree(ROOT / "optimiser" / name, package / name)
    for name in ("__init__.py", *kept.ALONE):
        shutil.copyfile(ROOT / "optimiser" / name, package / name)
    monkeypatch.setattr(optimiser, "__file__", str(package / "__init__.py"))
    library = tmp_path / "site-packages"
    library.mkdir()
    monkeypatch.setattr(sys, "path", [*sys.path, str(library)])
    stamps = [kept._stamp()]
    assert stamps[0] == kept._stamp()
    for name in ("units.py", "reading/tables.py", "domain/kinds/ratios.py"):
        path = package / name
        before = path.stat()
        content = path.read_bytes()
        path.write_bytes(content[:-2] + b" \n")  # as long as before, and as old
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
        stamps.append(kept._stamp())
    (package / "reading" / "kinds" / "new.py").write_text("")
    stamps.append(kept._stamp())
    (library / "pydantic-3.dist-info").mkdir()
    stamps.append(kept._stamp())
    assert len(set(stamps)) == len(stamps)
    shutil.rmtree(package)
    assert kept._stamp() is None


def test_only_so_much_is_kept_and_the_oldest_goes(keeping, monkeypatch):
    monkeypatch.setattr(kept, "MOST_FILES", 3)
    paths = [keeping.desk.write(f"bar{n}.toml", BAR) for n in range(5)]
    for age, path in enumerate(paths):
        keeping(path)
        for file in keeping.files():
            os.utime(file, (time.time() - 100, file.stat().st_mtime - 10 - age))
    assert len(keeping.files()) == 3
    assert [keeping.times(path) for path in reversed(paths)] == [0, 0, 0, 1, 1]
    size = keeping.files()[0].stat().st_size
    monkeypatch.setattr(kept, "MOST_BYTES", int(2.5 * size))
    keeping(keeping.desk.write("more.toml", BAR))
    assert len(keeping.files()) == 2
    monkeypatch.setattr(kept, "GREATEST", size // 2)
    assert keeping.times(keeping.desk.write("large.toml", BAR)) == 1
    assert len(keeping.files()) == 2


def test_a_strange_file_beside_them_stays(keeping, monkeypatch):
    monkeypatch.setattr(kept, "MOST_FILES", 1)
    keeping()
    strange = keeping.folder / "my notes"
    strange.write_text("mine")
    os.utime(strange, (0, 0))
    keeping(keeping.desk.write("other.toml", BAR))
    assert len(keeping.files()) == 2
    assert strange.read_text() == "mine"


RUN = """
import os, resource, signal, sys
from pathlib import Path
from optimiser.reading import kept
{}
print(kept.kept_scenario(Path(sys.argv[1]))[0].title)
"""
KILLED = """
Path.replace = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
"""
FULL = """
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
"""


def process(keeping, before=""):
    return subprocess.Popen(
        [sys.executable, "-c", RUN.format(before), str(keeping.bar)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])},
        stdout=subprocess.PIPE,
        text=True,
    )


def test_what_is_killed_while_it_writes_leaves_nothing_that_is_read(keeping):
    killed = process(keeping, KILLED)
    killed.communicate()
    assert killed.returncode == -signal.SIGKILL
    (part,) = keeping.files()
    assert "." in part.name
    assert [keeping.times(), keeping.times()] == [1, 0]
    assert part in keeping.files()  # it may be another's, who is still at it
    os.utime(part, (0, 0))
    CHANGES["a price"](keeping.desk)
    keeping()
    assert part not in keeping.files()


def test_a_disk_without_room_is_no_matter(keeping):
    run = process(keeping, FULL)
    assert (run.communicate()[0], run.returncode) == ("Winter bar\n", 0)
    assert keeping.files() == []


def test_several_at_once_read_the_same(keeping):
    runs = [process(keeping) for _ in range(3)]
    assert [run.communicate()[0] for run in runs] == ["Winter bar\n"] * 3
    assert "." not in "".join(file.name for file in keeping.files())
    told = keeping.files()[0].read_bytes()
    assert told == sealed(told[disk.DIGEST :])


def test_what_changes_while_it_is_read_is_not_kept(keeping, monkeypatch):
    path = keeping.desk.folder / PRICES

    def changing(*given, **named):
        found = read_scenario(*given, **named)
        path.write_bytes(path.read_bytes() + b"\n")
        disk.content(path)  # as where a table is read twice
        return found

    monkeypatch.setattr("optimiser.reading.read_scenario", changing)
    keeping()
    assert keeping.files() == []


@pytest.mark.parametrize(
    ("reads", "name"),
    [
        ("optimiser.reading.records.read_book", "records.sqlite"),
        ("optimiser.reading.sheets._unpacked", "stock.xlsx"),
    ],
)
def test_what_changes_while_a_library_reads_it_is_not_kept(
    keeping, monkeypatch, reads, name
):
    path = keeping.desk.folder / "catalogues" / "workshops" / "demo" / name
    if path.suffix == ".xlsx":
        writer = pytest.importorskip("xlsxwriter")
        with writer.Workbook(path) as book:
            sheet = book.add_worksheet()
            sheet.write_row(0, 0, ["ingredient", "amount", "unit"])
            sheet.write_row(1, 0, ["cocoa_butter", 1, "kg"])
        path.with_suffix(".csv").unlink()
    else:
        batch_made(keeping.desk)
    module, _, function = reads.rpartition(".")
    read = getattr(importlib.import_module(module), function)

    def changing(*given):
        found = read(*given)
        with path.open("ab") as file:
            file.write(b"\n")
        return found

    with monkeypatch.context() as patch:
        patch.setattr(reads, changing)
        keeping()
    assert keeping.files() == []


def test_every_file_that_is_opened_is_noted(keeping):
    """Python itself tells of each file that is opened, and each folder looked into."""
    batch_made(keeping.desk)
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from optimiser.reading import disk, read_scenario\n"
        "seen = set()\n"
        "def told(event, given):\n"
        "    if event in {'open', 'os.listdir', 'os.scandir', 'sqlite3.connect'}:\n"
        "        seen.add(str(given[0]).removeprefix('file://').partition('?')[0])\n"
        "root = sys.argv[2]\n"
        "with disk.noted() as notes:\n"
        "    read_scenario(Path(sys.argv[1]))[1].fats\n"  # all that is imported late
        "sys.addaudithook(told)\n"
        "with disk.noted() as notes:\n"
        "    read_scenario(Path(sys.argv[1]))[1].fats\n"
        "asked = {path for question, path in notes.answers\n"
        "         if question in {'content', 'folders', 'files'}}\n"
        "opened = {path for path in seen if path.startswith(root)}\n"
        "print(len(opened), sorted(opened - asked))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(keeping.bar), str(keeping.desk.folder)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])},
        capture_output=True,
        text=True,
        check=True,
    )
    count, missing = done.stdout.split(maxsplit=1)
    assert int(count) > 20
    assert missing.strip() == "[]"


# What else would ask the disk, or the day, past the one place where that is noted.
ASKS = {
    "is_file", "is_dir", "is_symlink", "exists", "stat", "lstat", "iterdir", "glob",
    "rglob", "read_text", "read_bytes", "open", "resolve", "realpath", "listdir",
    "scandir", "walk", "isfile", "isdir", "islink", "today", "now", "getcwd", "cwd",
    "getenv",
}  # fmt: skip
# The book is written there, and watched by who reads the shelf; a sheet is, likewise.
APART = {"disk.py", "kept.py", "records.py", "packed.py"}
KNOWN = {("sheets.py", "stat")}


def test_reading_asks_the_disk_and_the_day_in_one_place():
    found = {
        (path.name, node.func.attr)
        for path in READING.rglob("*.py")
        if path.name not in APART
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in ASKS
        and getattr(node.func.value, "id", "") != "disk"
    }
    assert found == KNOWN


def test_what_is_noted_is_asked_again_as_it_was(tmp_path):
    (tmp_path / "a.csv").write_text("a")
    (tmp_path / "loop").symlink_to("loop")
    with disk.noted() as notes:
        assert disk.is_file(tmp_path / "a.csv")
        assert not disk.is_folder(tmp_path / "loop")
        assert not disk.exists(tmp_path / "loop")
        assert disk.files_in(tmp_path) == ("a.csv",)
        assert disk.folders_in(tmp_path) == ()
        with pytest.raises(FileNotFoundError):
            disk.size(tmp_path / "b.csv")
        with pytest.raises(FileNotFoundError):
            disk.content(tmp_path / "b.csv")
        assert not disk.is_file(Path("\0"))
    assert disk.same(notes.answers)
    for make in (
        lambda: (tmp_path / "b.csv").write_text(""),
        (tmp_path / "c").mkdir,
    ):
        make()
        assert not disk.same(notes.answers)
        (tmp_path / "b.csv").unlink(missing_ok=True)
    (tmp_path / "c").rmdir()
    assert disk.same(notes.answers)


def test_values_of_kinds_need_no_model_of_a_file():
    kinds = importlib.import_module("optimiser.domain.kinds")
    names = [each.__name__ for each in kinds.modules_in(kinds.__path__, kinds.__name__)]
    assert "optimiser.domain.kinds.ratios" in names
    assert {each.rpartition(".")[0] for each in names} == {"optimiser.domain.kinds"}
