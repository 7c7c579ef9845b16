"""Every reader, fed with the files of a workspace turned wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fuzz.conftest import tried
from tests.fuzz.mutating import edits, mutated
from tests.fuzz.reading_it import Readers
from tests.fuzz.small import MORE
from tests.fuzz.watching import problems_of


@pytest.fixture(scope="module")
def readers(small):
    return Readers(small)


def files(folder):
    """Return the names and texts of the files of a workspace."""
    return {
        path.relative_to(folder).as_posix(): path.read_text("utf-8")
        for path in sorted(folder.rglob("*.*"))
    }


def test_the_small_workspace_has_no_problem(small, readers):
    assert set(MORE) | {"scenarios/bar.toml"} <= set(files(small))
    for name in files(small):
        assert problems_of(readers.of(name)) == (), name


@tried(few=250)
@given(place=st.floats(0, 1, exclude_max=True), changes=edits())
def test_no_file_breaks_its_reader(small, readers, place, changes):
    path, text, name = chosen(small, place)
    path.write_bytes(mutated(text, changes, table=path.suffix == ".csv"))
    try:
        for each in problems_of(readers.of(name)):
            assert each.file, each
            assert len(str(each)) < 20_000
    finally:
        path.write_text(text, "utf-8")


_texts: dict = {}


def chosen(folder, place):
    """Return one of the files: its path, text and name."""
    texts = _texts.setdefault(folder, files(folder))
    name = list(texts)[int(place * len(texts))]
    return folder / name, texts[name], name
