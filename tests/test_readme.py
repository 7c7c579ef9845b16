"""What the README shows is what happens."""

import contextlib
import io
import re
import shlex
from pathlib import Path

import pytest

from optimiser.cli import main

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, flags=re.DOTALL)
RUNS = [block for kind, block in BLOCKS if kind == "console"]
COMMANDS = [
    "formulate",
    "check",
    "survey",
    "why",
    "catalogue",
    "begin",
    "substitute",
    "variants",
    "tradeoff",
    "fats",
    "pour",
    "calibrate",
    "stock",
    "sweep",
    "robust",
]


def pieces_of(block):
    """The command of a block, and the runs of lines between its ``...``."""
    first, *lines = block.splitlines()
    pieces = [[]]
    for line in lines:
        if line == "...":
            pieces.append([])
        else:
            pieces[-1].append(line)
    return shlex.split(first.removeprefix("$ optimiser ")), pieces


@pytest.mark.parametrize("block", RUNS)
def test_a_run_prints_what_the_readme_shows(block, capsys, monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "80")
    arguments, pieces = pieces_of(block)
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 0
    printed = capsys.readouterr().out
    at = 0
    for piece in pieces:
        text = "\n".join(piece)
        found = printed.find(text, at)
        assert found >= 0, f"not printed, or not in this order:\n{text}"
        at = found + len(text)


def test_the_python_example_prints_what_the_readme_shows(monkeypatch):
    monkeypatch.chdir(ROOT)
    kinds = [kind for kind, _ in BLOCKS]
    where = kinds.index("python")
    code, (kind, shown) = BLOCKS[where][1], BLOCKS[where + 1]
    assert kind == "text"
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code, "README.md", "exec"), {})
    assert out.getvalue() == shown


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_named_in_the_readme(command):
    assert f"`optimiser {command} " in README


def test_every_file_the_readme_links_to_is_there():
    links = re.findall(r"\]\(([^)]+)\)", README)
    assert len(links) > 5
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_the_checks_the_readme_names_are_the_ones_that_run():
    assert "bash .ci/run" in README
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for step in ("ruff check", "ruff format --check", "mypy optimiser", "pytest"):
        assert step in script
