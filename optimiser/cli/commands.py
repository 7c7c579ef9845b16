"""The commands put together: what `typer` makes of their functions."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.main import get_command

from optimiser.cli.running import installed_version, say, seen

__all__ = ["COMMANDS", "application", "parsed"]

# Each is a module of this package with a function, or an ``app``, of that name; but
# for those that come with a layer of their own.
COMMANDS = (
    "formulate",
    "check",
    "why",
    "report",
    "begin",
    "open",
    "substitute",
    "variants",
    "pour",
    "fats",
    "fill",
    "label",
    "record",
    "trace",
    "calibrate",
    "trials",
    "batch",
    "cost",
    "tradeoff",
    "survey",
    "stock",
    "buy",
    "plan",
    "sweep",
    "robust",
    "catalogue",
)


ELSEWHERE = {"open": "optimiser.web.open"}


def application(arguments: Sequence[str] = ()) -> typer.Typer:
    """Return the command line; with one command where its name is the first argument.

    Where something else is, it has all of them.
    """
    app = typer.Typer(
        name="optimiser",
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
        epilog="Start with: optimiser begin my_workshop",
    )
    app.callback()(_options)
    for name in [each for each in arguments[:1] if each in COMMANDS] or COMMANDS:
        module = import_module(ELSEWHERE.get(name, f"optimiser.cli.{name}"))
        if hasattr(module, "app"):
            app.add_typer(module.app, name=name)
        else:
            app.command(name)(getattr(module, name))
    return app


def _version(wanted: bool) -> None:
    if not wanted:
        return
    say(f"optimiser {installed_version()}\n")
    raise typer.Exit


def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_version, is_eager=True, help="Show the version."
        ),
    ] = False,
) -> None:
    """Find what to weigh: formulas for body-care products that keep every rule.

    Exit codes: 0 answered, 1 an input needs attention, 2 usage, 3 the rules clash.
    """


def parsed(arguments: Sequence[str]) -> None:
    """Run the command that arguments ask for, and leave with its exit code."""
    command = get_command(application(arguments))
    if "--help" in arguments:
        _name_markets(command)
    given = {"args": list(arguments), "prog_name": "optimiser"}
    try:
        code = command(**given, standalone_mode=False)
    except Exception as error:
        shown: Any = error  # of click, or typer's copy of it
        if not (hasattr(shown, "show") and hasattr(shown, "exit_code")):
            raise
        shown.message = seen(shown.message)  # holds arguments as they were given
        shown.show()
        code = shown.exit_code
    sys.exit(code or 0)


def _name_markets(group: Any) -> None:  # noqa: ANN401 - of click, or typer's copy of it
    """Put the markets that the program came with into the help of options."""
    from optimiser.reading.duties import shipped_markets  # noqa: PLC0415

    known = ", ".join(shipped_markets())
    for command in group.commands.values():
        for each in command.params:
            if getattr(each, "help", None):
                each.help = each.help.replace("MARKETS", known)
