"""The command line run in this process, and a workspace to run it in."""

import shutil
from importlib import import_module

import pytest
from msgspec import Struct

from optimiser.cli import main
from optimiser.reading import shipped_folder

BAR = """\
title = "Plain massage bar"
workshop = "demo"
use = "leave-on"
market = ["EU"]

[batch]
size = "1 kg"

[base]
"cocoa butter" = 45
"refined shea butter" = 20
"beeswax" = 4
"sunflower oil" = 31

[only]
ingredients = ["cocoa butter", "refined shea butter", "beeswax", "sunflower oil"]

[bands]
"hard butter" = { min = 40, max = 55 }
"soft butter" = { min = 15, max = 30 }
"wax" = { min = 2, max = 8 }
"liquid oil" = { min = 10, max = 35 }
"""
CLASH = '\nextends = "bar.toml"\n\n[limits]\n"cocoa butter" = { max = 10 }\n'


class Run(Struct, frozen=True):
    """What one run of the command line came to."""

    code: int
    out: str
    err: str


@pytest.fixture
def run(capsys, monkeypatch):
    """Return a function that runs the command line with arguments."""
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments):
        with pytest.raises(SystemExit) as left:
            main([str(each) for each in arguments])
        told = capsys.readouterr()
        assert "Traceback" not in told.out + told.err
        return Run(left.value.code, told.out, told.err)

    return call


STUDIES = ("plan", "robust", "themes", "tradeoff", "trials", "variants")


def alike(one, other):
    """Whether two values are the same in everything that they hold."""
    if one is other or type(one) is not type(other):
        return one is other
    if isinstance(one, Struct):
        names = one.__struct_fields__
        return all(alike(getattr(one, x), getattr(other, x)) for x in names)
    if isinstance(one, tuple) and len(one) == len(other):
        return all(map(alike, one, other))
    return one == other


def once(study, made):
    """Return a study that is made once of the same values; else it is made anew."""

    def asked(*values, progress=None, **named):
        for before, found in made:
            if alike(before, (values, named)):
                return found
        found = study(*values, **named)
        made.append(((values, named), found))
        if progress is not None:
            progress(1, 1)
        return found

    return asked


@pytest.fixture(scope="session")
def made():
    """Return what was asked, and found, of each study."""
    return {name: [] for name in STUDIES}


@pytest.fixture(scope="module")
def asked_once(made):
    """Make no study of the same question twice, where it is tested how one is shown."""
    with pytest.MonkeyPatch.context() as patch:
        for name in STUDIES:
            module = import_module(f"optimiser.studies.{name}")
            patch.setattr(module, name, once(getattr(module, name), made[name]))
        yield


@pytest.fixture(scope="session")
def prepared(tmp_path_factory):
    """Return a function that makes a folder ready, from the second time on by copying.

    What is made ready is told by a key; what making it returned is returned each time.
    """
    ready = {}

    def fill(folder, key, make):
        if key in ready:
            kept, told = ready[key]
            shutil.copytree(kept, folder, symlinks=True, dirs_exist_ok=True)
            return told
        told = make()
        kept = tmp_path_factory.mktemp("prepared") / "kept"
        ready[key] = shutil.copytree(folder, kept, symlinks=True), told
        return told

    return fill


@pytest.fixture
def begun(run, prepared, tmp_path, monkeypatch):
    """Return a function that begins from a recipe and goes there."""

    def begin(text, *more, name="my_recipe.csv"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        monkeypatch.chdir(tmp_path)
        asked = ("begin", "kitchen", "--from", name, *more)
        done = prepared(tmp_path, (text, *asked), lambda: run(*asked))
        if done.code == 0:
            monkeypatch.chdir(tmp_path / "kitchen")
        return done

    return begin


@pytest.fixture
def workspace(run, tmp_path, monkeypatch):
    """Return a started workspace with the demo's shelf, also the current folder."""
    folder = tmp_path / "kitchen"
    assert run("begin", folder).code == 0
    stock = "workshops/demo/stock.csv"
    shutil.copyfile(shipped_folder("catalogues") / stock, folder / "catalogues" / stock)
    (folder / "scenarios" / "bar.toml").write_text(BAR, encoding="utf-8")
    (folder / "scenarios" / "clash.toml").write_text(CLASH, encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder
