"""Pipes, folders and links where a file is read or written: told, never waited for."""

import os
import signal
import sys
import threading

import pytest
import xlsxwriter

from tests.faults.instants import run_apart
from tests.faults.test_any_instant import held
from tests.fuzz.small import workspace

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks")

BAR = "scenarios/bar.toml"
DEMO = "catalogues/workshops/demo"
PACKS = ("--units", "24", "--net", "60g")
SECONDS = 60  # far above what any of these takes


@pytest.fixture
def folder(tmp_path):
    """Return the small workspace."""
    place = tmp_path / "kitchen"
    place.mkdir()
    workspace(place)
    return place


def soon():
    """End the process where it waits."""
    signal.alarm(SECONDS)


ASKED = (
    ("costs.toml", ("cost", BAR, *PACKS)),
    ("scale.toml", ("batch", BAR, "--batch", "2 kg")),
    ("scale.toml", ("label", BAR, "--net", "60g")),
    ("records.sqlite", ("formulate", BAR)),
    ("records.sqlite", ("record", "list", "--workshop", "demo")),
    ("prices.csv", ("formulate", BAR)),
)


@pytest.mark.parametrize("stands", ["pipe", "folder", "link to nothing"])
@pytest.mark.parametrize(("name", "asked"), ASKED)
def test_what_stands_where_a_file_should_is_told(folder, name, asked, stands):
    path = folder / DEMO / name
    path.unlink(missing_ok=True)
    if stands == "pipe":
        os.mkfifo(path)
    elif stands == "folder":
        path.mkdir()
    else:
        path.symlink_to("nowhere")
    code, told, _ = run_apart(asked, folder, begin=soon)
    assert code == 1
    told = " ".join(told.split())
    assert name in told
    assert {
        "pipe": "is a pipe, not a file",
        "folder": "is a folder, not a file",
        "link to nothing": "is a link to a file that is not there",
    }[stands] in told
    assert "To fix: " in told


@pytest.mark.parametrize(
    "asked",
    [
        ("report", BAR, "--out", "out.html"),
        ("report", BAR, "--out", "out.xlsx"),
        ("formulate", BAR, "--csv", "out.csv"),
    ],
)
def test_a_pipe_that_nobody_reads_from_is_not_waited_for(folder, asked):
    os.mkfifo(folder / asked[-1])
    before = held(folder)
    code, told, _ = run_apart(asked, folder, begin=soon)
    assert code == 1
    assert f"{asked[-1]}: cannot be written (" in told
    assert "To fix: " in told
    assert held(folder) == before


def test_a_pipe_that_is_read_from_is_written_to(folder):
    path, found = folder / "out.html", []
    os.mkfifo(path)
    reads = threading.Thread(target=lambda: found.append(path.read_text("utf-8-sig")))
    reads.start()
    code, told, _ = run_apart(("report", BAR, "--out", "out.html"), folder, begin=soon)
    reads.join(SECONDS)
    assert (code, told) == (0, "out.html: written.\n")
    assert found[0].rstrip().endswith("</html>")


def as_sheet(path):
    """Write a spreadsheet of prices."""
    rows = [["ingredient", "pack", "unit", "price"], ["beeswax", 1, "kg", 9]]
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("prices")
        for number, row in enumerate(rows):
            sheet.write_row(number, 0, row)


TAKE = ("catalogue", "workbook", "own.xlsx", "--take", "--workshop", "demo")


@pytest.mark.parametrize("asked", [("formulate", BAR), TAKE])
def test_a_link_out_of_the_workspace_is_neither_read_nor_written(folder, asked):
    as_sheet(folder / "own.xlsx")
    prices, other = folder / DEMO / "prices.csv", folder.parent / "other.csv"
    prices.rename(other)
    prices.symlink_to(other)
    before = other.read_bytes()
    code, told, _ = run_apart(asked, folder, begin=soon)
    assert code == 1
    told = " ".join(told.split())
    assert (
        "prices.csv: is a link that leads out of the workspace. To fix: put a" in told
    )
    assert other.read_bytes() == before


def test_a_link_inside_the_workspace_is_followed(folder):
    prices = folder / DEMO / "prices.csv"
    plain = run_apart(("formulate", BAR), folder)
    prices.rename(folder / "mine.csv")
    prices.symlink_to(folder / "mine.csv")
    assert run_apart(("formulate", BAR), folder) == plain
    assert plain[0] == 0
