"""Every example of the guide runs, and the guide leaves no key or column out."""

import re
import shlex
import typing
from pathlib import Path

import pytest

from optimiser.cli.begin import guide
from optimiser.reading import (
    cautions,
    costs,
    figures,
    folders,
    grids,
    kinds,
    materials,
    plans,
    workshops,
)
from optimiser.reading.recipes import knowledge
from optimiser.reading.scenario_files import EnvelopeFile

TEXT = guide()
PIECE = re.compile(
    r"(?:^`([\w./ ]+)`:\n\n)?^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL
)
PIECES = [found.groups() for found in PIECE.finditer(TEXT)]
TOML = "\n".join(text for _, kind, text in PIECES if kind == "toml")
CSV = [text.splitlines()[0] for _, kind, text in PIECES if kind == "csv"]


def keys_of(model):
    """Yield the keys of a table of a scenario and of the tables inside it."""
    for name, field in model.model_fields.items():
        yield name
        for inner in inside(field.annotation):
            yield from keys_of(inner)


def inside(annotation):
    """Yield the models inside an annotation."""
    if hasattr(annotation, "model_fields"):
        yield annotation
    elif typing.get_origin(annotation) is not typing.Literal:
        for each in typing.get_args(annotation):
            yield from inside(each)


@pytest.mark.parametrize("model", [kinds.FILE, EnvelopeFile])
def test_every_key_of_a_scenario_is_in_an_example(model):
    for key in dict.fromkeys(keys_of(model)):
        assert re.search(rf"(^|[\[{{,.\s\"]){key}([\]\s\"=.]|$)", TOML, re.MULTILINE), (
            key
        )


def test_every_key_of_a_grid_is_in_an_example():
    for key in grids.KEYS:
        assert re.search(rf"^\[?{key}\b", TOML, re.MULTILINE), key


@pytest.mark.parametrize("key", sorted({*plans.KEYS, *plans.BATCH_KEYS}))
def test_every_key_of_a_plan_is_in_an_example(key):
    (plan,) = [text for text in PIECES if "[[batches]]" in text[2]]
    assert re.search(rf"^(\[\[)?{key}\b", plan[2], re.MULTILINE)


def test_every_key_of_costs_is_in_an_example():
    numbers = [key for way in costs.WAYS.values() for key in way]
    for key in [*costs.KEYS, *sum(costs.KEYS.values(), ()), *numbers, *costs.SPREAD]:
        assert re.search(rf"(^|[\[{{ ]){key}([\]\s=]|$)", TOML, re.MULTILINE), key
    for way in costs.WAYS:
        assert f'"{way}"' in TOML


@pytest.mark.parametrize(
    "columns",
    [
        materials.INGREDIENTS,
        materials.LIMITS,
        materials.ALLERGENS,
        cautions.OWN,
        figures.COLUMNS,
        figures.CONSTITUENTS,
        folders.SOURCES,
        workshops.PRICES,
        workshops.STOCK,
        workshops.SUPPLIERS,
        knowledge.TAUGHT,
        grids.PRICES,
    ],
    ids=lambda columns: columns.header[:30],
)
def test_every_column_of_a_table_is_told_and_shown(columns):
    assert columns.header.replace(",", ", ") in " ".join(TEXT.split())
    known = set(columns.known)
    nearest = min((set(each.split(",")) ^ known for each in CSV), key=len)
    assert not set(columns.required) & nearest


def test_every_example_runs_in_a_new_workspace(run, tmp_path, monkeypatch):
    assert run("begin", tmp_path / "kitchen").code == 0
    monkeypatch.chdir(tmp_path / "kitchen")
    assert Path("GUIDE.md").read_text(encoding="utf-8") == TEXT
    ran = 0
    for file, kind, text in PIECES:
        assert (file is None) == (kind == "console"), text
        if file is not None:
            Path(file).parent.mkdir(exist_ok=True)  # a folder that a maker adds
            Path(file).write_text(text, encoding="utf-8")
            continue
        for line in text.splitlines():
            if line == "optimiser open":
                continue  # it serves until it is stopped: tests/web open it
            done = run(*shlex.split(line)[1:])
            assert done.code == 0, f"{line}\n{done.err}{done.out}"
            ran += 1
    assert ran > 20
