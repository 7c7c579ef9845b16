"""What is not installed is told with what installs it, where the program came from."""

import re
import sys
import tomllib
from pathlib import Path

from optimiser.errors import extra

ROOT = Path(__file__).resolve().parents[2]
SOURCES = {
    path.relative_to(ROOT): path.read_text(encoding="utf-8")
    for path in (ROOT / "optimiser").rglob("*.py")
}


def test_how_an_extra_is_installed_is_written_in_one_place():
    places = {str(path) for path, text in SOURCES.items() if "pip install" in text}
    assert places == {str(Path("optimiser/errors.py"))}
    assert not any("formulation-optimiser[" in text for text in SOURCES.values())


def test_every_extra_that_is_advised_is_one():
    used = r"\bextra\(['\"](\w+)['\"]\)"
    named = {name for text in SOURCES.values() for name in re.findall(used, text)}
    with (ROOT / "pyproject.toml").open("rb") as file:
        there = tomllib.load(file)["project"]["optional-dependencies"]
    assert {"web", "xlsx", "dask", "parquet"} <= named <= there.keys()


def test_a_page_that_is_not_installed_is_told_as_the_readme_installs(
    run, workspace, monkeypatch
):
    monkeypatch.delitem(sys.modules, "optimiser.web.serving", raising=False)
    # What another test has loaded is an attribute of the package, too.
    monkeypatch.delattr("optimiser.web.serving", raising=False)
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    done = run("open", workspace)
    assert done.code == 1
    said = " ".join(done.err.split())
    assert "the page needs uvicorn, which is not installed" in said
    assert f"To fix: {extra('web')}" in said
    assert "'.[web]'" in (ROOT / "README.md").read_text(encoding="utf-8")
