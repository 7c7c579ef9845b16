"""A run that is stopped while it keeps what it read harms no run after it."""

import shutil
import sys

import pytest

from optimiser.reading import kept
from tests.faults.instants import KILLED, run_apart
from tests.fuzz.small import workspace

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks")

ASKED = ("formulate", "scenarios/bar.toml", "--json")
MOST = 40  # changes of the disk that such a run makes


@pytest.fixture(scope="module")
def read_once():
    """The files themselves are read, for it is they that are asked again."""


@pytest.mark.parametrize("kill", [False, True], ids=["full", "killed"])
def test_a_run_stopped_while_it_keeps_what_it_read_tells_the_same(
    tmp_path, monkeypatch, kill
):
    kitchen, base = tmp_path / "kitchen", tmp_path / "cache"
    kitchen.mkdir()
    workspace(kitchen)
    whole = run_apart(ASKED, kitchen)
    assert whole[0] == 0
    monkeypatch.delenv(kept.OFF)
    monkeypatch.setenv("XDG_CACHE_HOME", str(base))
    for at in range(1, MOST):
        shutil.rmtree(base, ignore_errors=True)
        base.mkdir()
        code, told, reached = run_apart(ASKED, kitchen, at=at, kill=kill)
        if not reached:
            break
        assert code == KILLED if kill else (code, told) == whole[:2]
        left = [x for x in base.rglob("*") if x.is_file()]
        assert kill or [x.name for x in left if "." in x.name] == []
        assert run_apart(ASKED, kitchen) == whole
    else:
        pytest.fail("does not end")
    assert at > 3, "keeps nothing"
    assert len(list((base / kept.NAME).iterdir())) == 1
