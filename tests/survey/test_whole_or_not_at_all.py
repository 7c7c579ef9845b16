"""The folder of a survey is written whole, and a stopped run blocks no other."""

import csv
import io
import math

import pytest

from optimiser.presenting.survey import files
from optimiser.presenting.survey.files import RecipesSheet, SurveyFile, write_files

NAMES = ("scenario.toml", "recipes.csv", "formulas/a.csv")


def of(target, text="new"):
    return [SurveyFile(target / name, f"{text} {name}\n") for name in NAMES]


def there(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


@pytest.fixture
def stopped(monkeypatch):
    """Make the run stop as it writes its second file."""

    def write(path, text, **_):
        if path.name == "recipes.csv":
            raise KeyboardInterrupt
        path.write_text(text)

    monkeypatch.setattr(files, "write_whole", write)


def test_a_folder_that_was_not_there_is_there_whole(tmp_path):
    assert write_files(of(tmp_path / "out"), tmp_path / "out") == []
    assert there(tmp_path / "out") == sorted(NAMES)
    assert there(tmp_path) == sorted(f"out/{name}" for name in NAMES)


@pytest.mark.usefixtures("stopped")
def test_a_stopped_run_leaves_no_half_of_a_folder(tmp_path):
    with pytest.raises(KeyboardInterrupt):
        write_files(of(tmp_path / "out"), tmp_path / "out")
    assert there(tmp_path) == []


@pytest.mark.usefixtures("stopped")
def test_a_stopped_run_leaves_a_folder_as_it_was(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "scenario.toml").write_text("mine")
    with pytest.raises(KeyboardInterrupt):
        write_files(of(tmp_path / "out"), tmp_path / "out")
    assert there(tmp_path) == ["out/scenario.toml"]
    assert (tmp_path / "out" / "scenario.toml").read_text() == "mine"


def test_what_a_killed_run_left_is_cleared_away(tmp_path):
    left = tmp_path / ".out.part" / "formulas"
    left.mkdir(parents=True)
    (left / "old.csv").write_text("old")
    assert write_files(of(tmp_path / "out"), tmp_path / "out") == []
    assert there(tmp_path / "out") == sorted(NAMES)
    assert not left.exists()


def test_a_full_disk_is_told_and_leaves_nothing(tmp_path, monkeypatch):
    def full(path, *_, **__):
        path.write_text("ha")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "write_whole", full)
    (problem,) = write_files(of(tmp_path / "out"), tmp_path / "out")
    assert "No space left on device" in problem.wrong
    assert there(tmp_path) == []


def test_a_long_table_is_the_same_however_many_recipes_are_written_at_once(
    published, catalogue, tmp_path, monkeypatch
):
    sheet = RecipesSheet(published.recipes, catalogue.ingredients)
    whole = "".join(sheet)
    monkeypatch.setattr(files, "RECIPES_AT_ONCE", 7)
    assert len(list(sheet)) == 1 + math.ceil(len(published.recipes) / 7)
    assert (
        write_files([SurveyFile(tmp_path / "a" / "r.csv", sheet)], tmp_path / "a") == []
    )
    text = (tmp_path / "a" / "r.csv").read_bytes()
    assert text == whole.encode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(whole)))
    lines = [line for each in published.recipes for line in each.lines]
    assert [each["row"] for each in rows] == [str(x.written.origin.row) for x in lines]
    told = [None if x.percent is None else x.percent.value for x in lines]
    found = [float(each["percent"]) if each["percent"] else None for each in rows]
    assert found == pytest.approx(told, abs=6e-4)
