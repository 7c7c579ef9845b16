"""Every case says which work its figures are from, and the notices tell of each."""

import json
import re
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
FILES = [*sorted((HERE / "cases").glob("*.json")), HERE / "netlib" / "netlib.json"]
NOTICES = (HERE / "NOTICES.md").read_text(encoding="utf-8")
# What tells of a way to a work rather than of the work: hosts, paths, revisions.
WAY = re.compile(r"\bhttps?:|\bwww\.|\.(com|in|io|org)\b|\bcommit [0-9a-f]{7}|\bcopy\b")


def origin(path):
    return json.loads(path.read_text(encoding="utf-8"))["source"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_case_names_a_work_and_not_the_way_to_it(path):
    source = origin(path)
    assert source["citation"]
    assert source["seen"]
    for seen in source["seen"]:
        assert seen["what"]
        assert seen["where"]
        assert not WAY.search(seen["where"]), seen["where"]


def named():
    """The cases that the notices name, one by one or from one to another."""
    found = set()
    for letter, first, last in re.findall(r"\b([a-g])(\d+)(?: to \1(\d+))?", NOTICES):
        found |= {f"{letter}{n}" for n in range(int(first), int(last or first) + 1)}
    return found


@pytest.mark.parametrize("path", FILES[:-1], ids=lambda path: path.stem)
def test_the_notices_tell_of_every_case(path):
    letter, number = re.match(r"([a-g])(\d+)_", path.name).groups()
    assert f"{letter}{int(number)}" in named()


def test_the_notices_tell_of_netlib_and_of_its_licence():
    assert "netlib/*.mps.gz" in NOTICES
    assert "no licence stands in the" in NOTICES
