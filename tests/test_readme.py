"""What the README shows is what happens, and the guide names every command."""

import contextlib
import io
import re
import shlex
from pathlib import Path

import pytest
from typer.core import TyperGroup as Group
from typer.main import get_command

from optimiser.cli import main
from optimiser.cli.begin import guide
from optimiser.cli.commands import COMMANDS, application

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, flags=re.DOTALL)
RUNS = [block for kind, block in BLOCKS if kind == "console"]
# What a file says of the command line, a span of code or a line of a console at a time.
SAID = {
    name: (ROOT / name).read_text(encoding="utf-8")
    for name in ("README.md", "DEVELOPERS.md")
} | {"GUIDE.md": guide()}
TABLE = re.findall(r"^\| (`optimiser .*?) \| (.*) \|$", guide(), flags=re.MULTILINE)
LINE = get_command(application())


def spans_of(text):
    """Spans of code of a text, each as one line, and what its shells run."""
    for _, block in re.findall(r"```(console|sh)\n(.*?)```", text, flags=re.DOTALL):
        for step in re.split(r"\n|&&", block):
            yield step.strip().removeprefix("$ ").removeprefix(".venv/bin/")
    outside = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    yield from (" ".join(span.split()) for span in re.findall(r"`([^`]+)`", outside))


def asked_of(words):
    """The command that words ask for, and the words after its name."""
    command = LINE
    while isinstance(command, Group) and words and words[0] in command.commands:
        command, words = command.commands[words[0]], words[1:]
    return command, words


def options_of(command):
    """The options of a command, and of what is below it."""
    found = {name for each in command.params for name in each.opts}
    for below in getattr(command, "commands", {}).values():
        found |= options_of(below)
    return found


def runs_of(text):
    """The words after ``optimiser`` of what a text shows of the command line."""
    for span in spans_of(text):
        words = span.split()
        if words[:1] == ["optimiser"]:
            words = words[1:]
        elif not (words and words[0] in COMMANDS):
            continue
        if words:
            yield words


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


def test_the_python_example_prints_what_is_shown(monkeypatch):
    monkeypatch.chdir(ROOT)
    code, shown = re.search(
        r"```python\n(.*?)```\n\n```text\n(.*?)```", SAID["DEVELOPERS.md"], re.DOTALL
    ).groups()
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code, "DEVELOPERS.md", "exec"), {})
    assert out.getvalue() == shown


def test_the_table_of_the_guide_has_every_command_once_and_no_other():
    named = [asked_of(first.strip("`").split()[1:])[0] for first, _ in TABLE]
    names = [first.strip("`").split()[1] for first, _ in TABLE]
    assert sorted(names) == sorted(COMMANDS)
    assert LINE not in named


def test_the_readme_names_every_command_once_and_no_other():
    table = README.partition("| for | `optimiser` |")[2].partition("\n\n")[0]
    named = re.findall(r"`([a-z]+)`", table)
    assert sorted(named) == sorted(COMMANDS)


def test_the_walk_of_the_readme_leads_from_a_recipe_to_a_label(
    capsys, monkeypatch, tmp_path
):
    (recipe,) = [block for kind, block in BLOCKS if kind == "csv"]
    (walk,) = [x for kind, x in BLOCKS if kind == "sh" and x.startswith("optimiser")]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my_recipe.csv").write_text(recipe, encoding="utf-8")
    pages = {}
    for line in walk.splitlines():
        program, *arguments = shlex.split(line)
        if program == "cd":
            monkeypatch.chdir(arguments[0])
            continue
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        assert ended.value.code == 0, line
        pages[arguments[0]] = capsys.readouterr().out
    assert list(pages) == ["begin", "formulate", "batch", "label"]
    for page in pages.values():
        assert "Next:" in page
    assert "optimiser formulate scenarios/my_recipe.toml" in pages["begin"]
    assert "Ingredients: Theobroma Cacao" in pages["label"]


def test_the_table_of_the_guide_names_every_command_below_another():
    for first, _ in TABLE:
        command = LINE.commands[first.strip("`").split()[1]]
        below = set(getattr(command, "commands", ()))
        words = {
            word for span in re.findall(r"`([^`]+)`", first) for word in span.split()
        }
        assert below <= words


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row[0].split()[1])
def test_a_row_of_the_table_names_options_of_its_command(row):
    command = LINE.commands[row[0].strip("`").split()[1]]
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", " ".join(row)))
    assert named <= options_of(command)


@pytest.mark.parametrize("name", SAID)
def test_what_is_run_in_a_text_is_a_command_with_its_options(name):
    runs = list(runs_of(SAID[name]))
    assert len(runs) > 2
    for words in runs:
        command, rest = asked_of(words)
        assert command is not LINE, f"optimiser {' '.join(words)}"
        options = {each.split("=")[0] for each in rest if each.startswith("--")}
        assert options <= options_of(command), f"optimiser {' '.join(words)}"


@pytest.mark.parametrize("name", SAID)
def test_an_option_that_a_text_speaks_of_is_there(name):
    spoken = {word for span in spans_of(SAID[name]) for word in span.split()}
    options = {word for word in spoken if re.fullmatch(r"--[a-z][a-z-]*", word)}
    assert options
    assert options <= options_of(LINE)


def test_every_file_the_readme_links_to_is_there():
    links = re.findall(r"\]\(([^)]+)\)", README)
    assert len(links) > 5
    assert [link for link in links if not (ROOT / link).exists()] == []


RECIPES = SAID["DEVELOPERS.md"].split("## How to add")[1].split("## Decisions")[0]
NAMED = {" ".join(span.split()) for span in re.findall(r"`([^`]+)`", RECIPES)}


def test_every_file_that_a_recipe_names_is_there():
    files = {x for x in NAMED if re.fullmatch(r"[\w/<>]+\.(py|csv|md|toml)", x)}
    assert len(files) > 40
    for name in files - {"every_key.toml"}:  # which stands in the guide
        assert any(ROOT.rglob(name.replace("<name>", "ratios"))), name
    assert "`scenarios/every_key.toml`" in SAID["GUIDE.md"]


def test_every_table_that_a_recipe_names_is_in_a_module():
    tables = {x for x in NAMED if re.fullmatch(r"[A-Z][A-Z_]+", x)} - {"EU"}
    files = [*(ROOT / "optimiser").rglob("*.py"), *(ROOT / "tests").rglob("*.py")]
    held = "\n".join(path.read_text(encoding="utf-8") for path in files)
    there = set(re.findall(r"^([A-Z_]+)\b.* = ", held, flags=re.MULTILINE))
    assert len(tables) > 8
    assert tables <= there | {"SNAPSHOTS"}


def test_the_checks_the_readme_names_are_the_ones_that_run():
    assert "bash .ci/run" in README
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for step in ("ruff check", "ruff format --check", "mypy optimiser", "pytest"):
        assert step in script


# What else is to be said of options stands in --help and GUIDE.md.
def test_the_readme_is_short_and_so_is_each_row_of_the_guide():
    assert len(README.splitlines()) <= 110
    rows = [line for line in guide().splitlines() if line.startswith("| `optim")]
    long = [row for row in rows if len(row) > 96]
    assert [row.split()[2] for row in long] == ["record"]  # which has eight below it
