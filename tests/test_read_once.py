"""What tests hold of a catalogue is what reading it again would give."""

import shutil
from pathlib import Path

import pytest

from optimiser.reading import shipped_folder
from tests.read_once import HELD, ReadOnce, digest

PRICES = Path("workshops", "demo", "prices.csv")


@pytest.fixture
def folder(tmp_path):
    """Return a catalogue of one's own."""
    return Path(shutil.copytree(shipped_folder("catalogues"), tmp_path / "catalogues"))


@pytest.fixture
def reader(tmp_path):
    return ReadOnce(tmp_path / "copies")


def test_the_same_bytes_are_read_once_wherever_they_lie(reader, folder, tmp_path):
    other = Path(shutil.copytree(folder, tmp_path / "elsewhere" / "catalogues"))
    first = reader(folder, "demo", [])
    assert reader(other, "demo", []) is first
    assert reader(folder, None, []) is not first
    assert reader(folder, "demo", [], calibrated=False) is not first
    shutil.rmtree(folder)
    assert first.fats.triglycerides  # read late, and still of the bytes that were there


def test_one_byte_more_is_read(reader, folder):
    before = reader(folder, "demo", [])
    with (folder / PRICES).open("a", encoding="utf-8") as file:
        file.write("beeswax,1,kg,9,,EUR,,\n")
    after = reader(folder, "demo", [])
    assert len(after.prices["beeswax"]) != len(before.prices.get("beeswax", ()))


def test_other_bytes_and_other_names_are_another_catalogue(folder):
    note = folder / "note.txt"
    note.write_text("one", encoding="utf-8")
    first = digest(folder)
    note.write_text("two", encoding="utf-8")
    other = digest(folder)
    note.rename(folder / "NOTE.txt")
    assert len({first, other, digest(folder)}) == 3


def test_what_is_wrong_is_told_each_time(reader, folder):
    with (folder / PRICES).open("a", encoding="utf-8") as file:
        file.write("beeswaxx,1,kg,9,,EUR,,\n")
    for _ in range(2):
        problems, shelf = [], []
        reader(folder, "demo", problems)
        assert [each.found for each in problems] == ["beeswaxx"]
        reader(folder, "demo", [], shelf=shelf)
        assert [each.found for each in shelf] == ["beeswaxx"]


def test_a_link_or_a_pipe_is_never_taken_for_a_file(folder):
    assert digest(folder) is not None
    (folder / "link").symlink_to(folder / PRICES)
    assert digest(folder) is None


def test_no_more_than_the_last_ones_are_held(reader, folder, tmp_path):
    for number in range(HELD + 2):
        (folder / "note.txt").write_text(str(number), encoding="utf-8")
        reader(folder, None, [])
    assert len(reader.held) == len(list((tmp_path / "copies").iterdir())) == HELD


def test_what_is_kept_stays_however_many_others_are_read(reader, folder):
    first = reader(folder, "demo", [])
    reader.keep()
    for number in range(HELD + 2):
        (folder / "note.txt").write_text(str(number), encoding="utf-8")
        reader(folder, None, [])
    (folder / "note.txt").unlink()
    assert first.fats.triglycerides  # read late
    assert reader(folder, "demo", []) is first
