"""Files are written whole or not at all, and never over something else."""

import errno
import os
import time
from pathlib import Path

import pytest

from optimiser import presenting
from optimiser.errors import InputError


def test_a_file_is_written_whole_and_replaces_one_that_began_alike(tmp_path):
    path = tmp_path / "formula.csv"
    path.write_text("\ufeffname,%\nold,1\n", encoding="utf-8")
    presenting.write_whole(path, "name,%\nnew \xe9,2\n")
    assert path.read_bytes() == b"\xef\xbb\xbfname,%\nnew \xc3\xa9,2\n"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("held", ["ingredient,lot\n", "name,%,x\nold\n", "\n", "name"])
def test_what_something_else_wrote_is_kept(tmp_path, held):
    path = tmp_path / "stock.csv"
    path.write_text(held, encoding="utf-8")
    with pytest.raises(InputError, match="already and was written by something else"):
        presenting.write_whole(path, "name,%\nnew,1\n")
    assert path.read_text(encoding="utf-8") == held
    presenting.write_whole(path, "name,%\n", encoding="utf-8", over=True)
    assert path.read_text(encoding="utf-8") == "name,%\n"


def test_an_empty_file_may_be_filled(tmp_path):
    path = tmp_path / "new.csv"
    path.touch()
    presenting.write_whole(path, "a\n", encoding="utf-8")
    assert path.read_text(encoding="utf-8") == "a\n"


def test_a_file_that_cannot_be_written_stays_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "formula.csv"
    path.write_text("a\nold", encoding="utf-8")

    def fail(*_):
        raise OSError(errno.ENOSPC, "No space left on device", ".x.part")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(InputError) as told:
        presenting.write_whole(path, "a\nnew")
    assert str(told.value) == (
        f"{path}: cannot be written (No space left on device).\n"
        "  To fix: make room on the disk, or name a file on another one."
    )
    assert path.read_text(encoding="utf-8") == "a\nold"
    assert list(tmp_path.iterdir()) == [path]


def test_what_is_no_plain_file_is_never_replaced(tmp_path):
    with pytest.raises(InputError, match="it is a folder"):
        presenting.write_whole(tmp_path, "new")
    presenting.write_whole(Path("/dev/null"), "new")
    assert tmp_path.is_dir()


def test_places_that_cannot_be_written_to_are_told_by_the_name_given(tmp_path):
    (tmp_path / "file").touch()
    (tmp_path / "one").symlink_to("two")
    (tmp_path / "two").symlink_to("one")
    for name, told in (
        ("no/such.csv", "there is no folder"),
        ("file/x.csv", "is no folder"),
        ("one", "symbolic links"),
    ):
        with pytest.raises(InputError, match=told) as refused:
            presenting.write_whole(tmp_path / name, "new")
        assert refused.value.problems[0].file == str(tmp_path / name)
        assert refused.value.problems[0].fix


def test_a_link_is_written_through(tmp_path):
    (tmp_path / "link.csv").symlink_to("real.csv")
    presenting.write_whole(tmp_path / "link.csv", "a\n", encoding="utf-8")
    assert (tmp_path / "link.csv").is_symlink()
    assert (tmp_path / "real.csv").read_text(encoding="utf-8") == "a\n"


def test_a_table_with_its_columns_is_replaced_whatever_else_it_has(tmp_path):
    path, columns = tmp_path / "cases.csv", ("case", "status")
    path.write_text('\ufeffcase,"a, %",status,b\n', encoding="utf-8")
    presenting.write_whole(path, "case,status,c\n", columns=columns)
    assert path.read_text(encoding="utf-8-sig") == "case,status,c\n"
    for held in ("a,case,status\n", "case,b\n", "status,case\n", "\n"):
        path.write_text(held, encoding="utf-8")
        with pytest.raises(InputError, match="written by something else"):
            presenting.write_whole(path, "case,status,c\n", columns=columns)
        assert path.read_text(encoding="utf-8") == held


@pytest.mark.skipif(os.name != "posix", reason="permissions of files")
@pytest.mark.parametrize("mode", [0o600, 0o400, 0o640])
def test_a_file_keeps_who_may_read_it(tmp_path, mode):
    path = tmp_path / "formula.csv"
    path.write_text("a\nold", encoding="utf-8")
    path.chmod(mode)
    presenting.write_whole(path, "a\nnew", encoding="utf-8")
    assert path.read_text(encoding="utf-8") == "a\nnew"
    assert path.stat().st_mode & 0o777 == mode


def test_what_a_killed_run_left_is_removed_once_it_is_old(tmp_path):
    old, new = tmp_path / ".0123456789ab.part", tmp_path / ".ba9876543210.part"
    other = tmp_path / ".mine.part"
    for each in (old, new, other):
        each.touch()
    for each in (old, other):
        os.utime(each, (time.time() - 7200, time.time() - 7200))
    presenting.write_whole(tmp_path / "formula.csv", "a\n")
    assert [each.exists() for each in (old, new, other)] == [False, True, True]
