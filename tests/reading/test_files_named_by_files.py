"""What a scenario, grid or plan names is read inside its workspace only."""

import pytest

from optimiser.errors import InputError
from optimiser.reading import shipped_folder
from optimiser.reading.grids import read_grid
from optimiser.reading.plans import read_plan
from tests.reading.conftest import SCENARIO

FIX = "\n  To fix: put a copy into kitchen, and name that."


@pytest.fixture
def kitchen(desk):
    """Return the desk in a folder of its own, with a file beside that folder."""
    desk.write("outside.toml", SCENARIO)
    desk.write("prices.csv", "case,ingredient,price_per_kg\nmay,cocoa butter,20\n")
    inside = desk.folder / "kitchen"
    inside.mkdir()
    (desk.folder / "catalogues").rename(inside / "catalogues")
    desk.folder = inside
    return desk


def refused(read, path):
    with pytest.raises(InputError) as caught:
        read(path)
    return str(caught.value).replace(f"{path.parent}/", "")


@pytest.mark.parametrize("way", ["up", "absolute", "link", "linked folder"])
def test_what_is_extended_lies_in_the_workspace(kitchen, way):
    target = kitchen.folder.parent / "outside.toml"
    named = {"up": "../outside.toml", "absolute": str(target), "link": "link.toml"}
    (kitchen.folder / "link.toml").symlink_to(target)
    (kitchen.folder / "folder").symlink_to(kitchen.folder.parent)
    named = named.get(way, "folder/outside.toml")
    assert kitchen.said(f'extends = "{named}"') == (
        f"bar.toml, key extends: '{named}' lies outside the workspace.{FIX}"
    )


def test_what_is_extended_may_be_what_the_program_came_with(kitchen):
    shipped = shipped_folder("scenarios") / "themes" / "vegan.toml"
    said = kitchen.said(f'extends = "{shipped}"\nuse = "leave-on"')
    assert "outside" not in said


def test_without_a_workspace_files_may_lie_anywhere(tmp_path):
    from optimiser.reading import read_scenario  # noqa: PLC0415

    shipped = shipped_folder("scenarios") / "massage_bar.toml"
    (tmp_path / "a").mkdir()
    (tmp_path / "b.toml").write_text(f'extends = "{shipped}"\n', encoding="utf-8")
    (tmp_path / "a" / "c.toml").write_text('extends = "../b.toml"\n', "utf-8")
    assert read_scenario(tmp_path / "a" / "c.toml")[0].title == "Massage bar (demo)"


def test_an_envelope_lies_in_the_workspace(kitchen):
    assert kitchen.said_with('[envelope]\nfile = "../outside.toml"') == (
        "bar.toml, key envelope.file: '../outside.toml' lies outside the"
        f" workspace.{FIX}"
    )


def test_what_a_grid_names_lies_in_the_workspace(kitchen):
    kitchen.write("bar.toml", SCENARIO)
    grid = kitchen.write("grid.toml", 'scenarios = ["../outside.toml"]')
    assert refused(read_grid, grid) == (
        f"grid.toml, key scenarios: '../outside.toml' lies outside the workspace.{FIX}"
    )
    grid = kitchen.write(
        "grid.toml", 'scenarios = ["bar.toml"]\nprice_list = "../prices.csv"'
    )
    assert refused(read_grid, grid) == (
        f"grid.toml, key price_list: '../prices.csv' lies outside the workspace.{FIX}"
    )


def test_what_a_plan_names_lies_in_the_workspace(kitchen):
    batch = '[[batches]]\nscenario = "../outside.toml"\nsize = "1 kg"\n'
    plan = kitchen.write("plan.toml", f"{batch}date = 2026-12-01\n")
    assert "'../outside.toml' lies outside the workspace." in refused(read_plan, plan)
