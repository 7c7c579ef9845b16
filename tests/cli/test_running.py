"""Help, exit codes, and failures told as messages: never a traceback."""

import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command

import optimiser
from optimiser import reading
from optimiser.cli import running
from optimiser.cli.answering import plain_question
from optimiser.cli.commands import application
from optimiser.errors import InputError, Problem, ProofError

ROOT = str(Path(optimiser.__file__).resolve().parents[1])
ENVIRONMENT = {**os.environ, "PYTHONPATH": ROOT}


def commands(command, *names):
    inside = getattr(command, "commands", None)
    if inside is None:
        yield names
        return
    for name, each in inside.items():
        yield from commands(each, *names, name)


ALL = list(commands(get_command(application())))


# One serves pages, the other writes the table it was asked for.
TELL_NOTHING = {("open",), ("record", "export")}


@pytest.mark.parametrize("names", ALL, ids=" ".join)
def test_every_command_has_a_summary_and_an_example(run, names):
    done = run(*names, "--help")
    assert done.code == 0
    assert f"Example: optimiser {' '.join(names)}" in done.out
    assert "--json" in done.out or names in TELL_NOTHING


@pytest.mark.parametrize("names", [(), ("catalogue",)])
def test_help_names_every_command_without_cutting_its_summary(run, names):
    done = run(*names, "--help")
    assert done.code == 0
    assert "..." not in done.out.replace("[ARGS]...", "")


def told_by(code):
    """What a Python of its own prints, run where the scenarios are."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=ENVIRONMENT,
        cwd=ROOT,
    )
    return done.stdout


def loaded(names, *arguments):
    """How a run of its own ends: its exit code, and which modules it loaded."""
    code = (
        "import sys\n"
        "from optimiser.cli import main\n"
        f"try:\n    main({list(arguments)!r})\n"
        "except SystemExit as left:\n    print(left.code or 0)\n"
        f"print([name for name in {names!r} if name in sys.modules])\n"
    )
    return told_by(code).splitlines()[-2:]


def test_help_loads_none_of_the_slow_libraries():
    slow = (
        "numpy",
        "pandas",
        "pydantic",
        "pulp",
        "highspy",
        "pint",
        "rich",
        "rapidfuzz",
    )
    assert loaded(slow, "--help") == ["0", "[]"]


def test_a_plain_question_loads_neither_a_parser_nor_what_it_does_not_need():
    needless = (
        "typer",
        "pandas",
        "pint",
        "pulp",
        "rapidfuzz",
        "sqlite3",
        "rich",
    )
    assert loaded(needless, "formulate", "scenarios/massage_bar.toml") == ["0", "[]"]


@pytest.mark.parametrize("switches", [(), ("--json",), ("--full",)])
@pytest.mark.parametrize("file", ["bar.toml", "clash.toml", "nope.toml"])
def test_a_plain_question_is_answered_as_the_parser_has_it_answered(
    run, workspace, switches, file
):
    asked = ("formulate", workspace / "scenarios" / file, *switches)
    assert run(*asked) == run(*asked, "--solver", "highs")


@pytest.mark.parametrize(
    "asked", [(), ("--full",), ("a.toml", "b.toml"), ("a.toml", "--ful"), ("",)]
)
def test_what_is_no_plain_question_is_left_to_the_parser(run, asked):
    assert run("formulate", *asked).code == (1 if asked == ("",) else 2)
    assert plain_question(["formulate", *asked]) is None


def test_reading_the_shipped_prices_loads_no_registry_of_units():
    code = (
        "import sys\n"
        "from optimiser.reading import read_scenario\n"
        "read_scenario('scenarios/massage_bar.toml')\n"
        "print('pint' in sys.modules)\n"
    )
    assert told_by(code) == "False\n"


def test_the_module_runs_as_a_program():
    done = subprocess.run(
        [sys.executable, "-m", "optimiser", "catalogue", "--help"],
        capture_output=True,
        text=True,
        check=True,
        env=ENVIRONMENT,
    )
    assert "Usage: optimiser catalogue" in done.stdout


def test_the_version_is_told(run, monkeypatch):
    assert run("--version").out.startswith("optimiser ")
    monkeypatch.setattr("optimiser.cli.running.DISTRIBUTION", "no-such-distribution")
    assert run("--version").out == "optimiser not installed\n"


@pytest.mark.parametrize(
    "arguments",
    [
        ("formulate",),
        ("formulat", "x.toml"),
        ("formulate", "a.toml", "b.toml"),
        ("formulate", "a.toml", "--solver", "magic"),
        ("--nonsense",),
        ("catalogue", "show"),
        ("check", "only-one.csv"),
    ],
)
def test_junk_arguments_are_usage_errors(run, arguments):
    done = run(*arguments)
    assert done.code == 2
    assert done.out == ""
    assert done.err


@pytest.mark.parametrize(
    "arguments",
    [
        ("formulate", "nope.toml"),
        ("formulate", "."),
        ("formulate", ""),
        ("formulate", "/dev/null"),
        ("check", "nope.csv", "nope.toml"),
        ("catalogue", "show", ""),
        ("catalogue", "list", "--workshop", "../../etc"),
        ("catalogue", "list", "--workshop", "\x1b[31m"),
        ("catalogue", "check", "--folder", "nope"),
    ],
)
def test_junk_files_and_names_need_attention(run, arguments, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run(*arguments)
    assert done.code == 1
    assert done.out == ""
    assert "\x1b" not in done.err
    assert "inside the program" not in done.err
    told = json.loads(run(*arguments, "--json").out)
    assert told["status"] == "error"
    assert told["problems"]


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (
            InputError([Problem("is odd", "a\x1b.csv", 3, "value", "x\ny", "mend it")]),
            "a.csv, row 3, column value: 'x y' is odd.\n  To fix: mend it.\n",
        ),
        (OSError("odd"), "odd.\n"),
        (
            PermissionError(13, "Permission denied", "a.toml"),
            "a.toml: Permission denied.\n",
        ),
        (
            ProofError("rule 3 missed"),
            "the answer did not pass its own check, so it is not shown (rule 3 missed)."
            "\n  To fix: please report this as a bug, with the files and the command"
            " you used.\n",
        ),
        (
            MemoryError(),
            "there is not enough memory for it.\n  To fix: close other programs, or ask"
            " for fewer ingredients, rules or cases.\n",
        ),
        (
            ZeroDivisionError("division by zero"),
            "something went wrong inside the program (ZeroDivisionError: division by"
            " zero).\n  To fix: please report this as a bug, with the files and the"
            " command you used.\n",
        ),
    ],
)
def test_a_failure_is_told_in_words_and_exits_one(run, monkeypatch, error, told):
    def fail(*_, **__):
        raise error

    monkeypatch.setattr(reading, "read_scenario", fail)
    done = run("formulate", "x.toml")
    assert (done.code, done.out, done.err) == (1, "", told)


def test_an_interrupted_run_exits_one_hundred_and_thirty(run, monkeypatch):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(reading, "read_scenario", stop)
    assert run("formulate", "x.toml").code == 130


def test_a_traceback_can_be_asked_for(run, monkeypatch):
    def fail(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(reading, "read_scenario", fail)
    monkeypatch.setenv("OPTIMISER_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        run("formulate", "x.toml")


def test_a_reader_that_has_gone_away_is_no_error(monkeypatch, tmp_path):
    with (tmp_path / "out").open("w", encoding="utf-8") as file:

        class Gone(io.StringIO):
            def flush(self):
                raise BrokenPipeError

            def fileno(self):
                return file.fileno()

        monkeypatch.setattr(sys, "stdout", Gone())
        running.say("text")


@pytest.mark.usefixtures("workspace")
def test_a_pipe_that_closes_early_is_quiet():
    done = subprocess.run(
        f"{sys.executable} -m optimiser catalogue list | head -1",
        shell=True,
        capture_output=True,
        text=True,
        check=True,
        env=ENVIRONMENT,
    )
    assert done.stdout.startswith("Ingredients")
    assert done.stderr == ""


@pytest.mark.usefixtures("workspace")
def test_a_terminal_without_a_character_shows_what_is_near_it():
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "optimiser",
            "formulate",
            "scenarios/bar.toml",
            "--full",
        ],
        capture_output=True,
        check=True,
        env={**ENVIRONMENT, "PYTHONIOENCODING": "ascii"},
    )
    assert b"degC" in done.stdout
    assert b"?C" not in done.stdout


@pytest.mark.usefixtures("workspace")
@pytest.mark.parametrize("sent", [">/dev/full", ">&-"])
@pytest.mark.parametrize(
    "arguments",
    ["--help", "formulate scenarios/bar.toml", "formulate scenarios/bar.toml --json"],
)
def test_an_answer_that_cannot_be_written_is_told(arguments, sent):
    done = subprocess.run(
        f"{sys.executable} -m optimiser {arguments} {sent}",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
        env=ENVIRONMENT,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("the answer could not be written to where it was")
    assert "Traceback" not in done.stderr
    assert "ignored" not in done.stderr


@pytest.mark.parametrize("sent", [">/dev/full 2>&1", ">&- 2>&-", "2>&-"])
def test_messages_that_nobody_can_read_change_nothing_else(sent):
    done = subprocess.run(
        f"{sys.executable} -m optimiser formulate nope.toml {sent}",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
        env=ENVIRONMENT,
    )
    assert (done.returncode, done.stdout, done.stderr) == (1, "", "")


@pytest.mark.usefixtures("workspace")
@pytest.mark.parametrize(
    ("file", "code"), [("scenarios/bar.toml", 0), ("nope.toml", 1)]
)
def test_a_plain_run_ends_at_once_but_for_what_was_asked_to_be_done(file, code):
    script = (
        "import atexit, sys\n"
        "class Held:\n"
        "    def __del__(self):\n"
        "        print('taken down', flush=True)\n"
        "held = Held()\n"
        "atexit.register(print, 'asked to be done')\n"
        "from optimiser.cli import main\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, "formulate", file],
        capture_output=True,
        text=True,
        check=False,
        env=ENVIRONMENT,
    )
    assert done.returncode == code
    assert done.stdout.endswith("asked to be done\n")


def test_an_interrupt_while_loading_is_quiet(run, monkeypatch):
    def stop():
        raise KeyboardInterrupt

    monkeypatch.setattr("gc.disable", stop)
    done = run("--help")
    assert (done.code, done.out, done.err) == (130, "", "")


def test_the_package_names_what_it_offers():
    assert set(optimiser.__all__) <= set(dir(optimiser))
    for name in optimiser.__all__:
        assert getattr(optimiser, name).__name__ == name


def test_what_the_package_offers_is_told_to_who_writes_a_script_and_has_types():
    folder = Path(optimiser.__file__).parent
    told = (folder.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = told.partition("## In Python")[2].partition("\n## ")[0]
    lacking = [x for x in optimiser.__all__ if not re.search(rf"\b{x}\b", told)]
    assert lacking == []
    assert (folder / "py.typed").is_file()  # or no type checker looks into it


def test_an_empty_folder_of_catalogues_hides_nothing(run, workspace, monkeypatch):
    inside = workspace / "deeper" / "catalogues"
    inside.mkdir(parents=True)
    text = (workspace / "scenarios" / "bar.toml").read_text(encoding="utf-8")
    (inside.parent / "bar.toml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(inside.parent)
    assert run("formulate", "bar.toml").code == 0
    assert "Ingredients" in run("catalogue", "list").out


@pytest.mark.skipif(sys.platform != "linux", reason="a folder in use can be removed")
def test_a_folder_that_is_gone_is_told(run, tmp_path, monkeypatch):
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    told = run("catalogue", "list")
    assert told.code == 1
    assert told.err == (
        "the folder that you are in is not there any more, or may not be read.\n"
        "  To fix: go to another one (cd) first.\n"
    )


@pytest.mark.skipif(sys.platform != "linux", reason="only glibc's stream is put away")
def test_what_a_library_prints_by_itself_spoils_no_answer():
    script = (
        "import atexit, ctypes\n"
        "from optimiser.cli import main\n"
        "library = ctypes.CDLL(None)\n"
        "atexit.register(lambda: (library.puts(b'by itself'), library.fflush(None)))\n"
        "main(['formulate', 'scenarios/lip_balm.toml', '--json'])\n"
    )
    assert json.loads(told_by(script))["status"] == "answered"
