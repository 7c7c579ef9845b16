"""The command line run in this process, and a workspace to run it in."""

import shutil

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
