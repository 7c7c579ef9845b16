"""``optimiser open``: the workbench in a browser, served by and for this machine."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import say
from optimiser.errors import InputError, Problem, extra

__all__ = ["open"]


def open(  # noqa: A001 - as the command is named
    workspace: Annotated[
        Path, typer.Argument(help="Folder with scenarios; else this one.")
    ] = Path(),
    port: Annotated[
        int, typer.Option("--port", help="Port to serve at; 0: any.", min=0, max=65535)
    ] = 0,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open it in the browser.")
    ] = True,
    phone: Annotated[
        bool,
        typer.Option("--phone", help="For a phone in your network; in large type."),
    ] = False,
) -> None:
    """Work on a page: move limits and see the formula follow, weigh.

    Example: optimiser open my_workshop
    """
    if not workspace.is_dir():
        fix = "name a folder, such as one that optimiser begin made"
        raise InputError([Problem("is no folder", file=str(workspace), fix=fix)])
    try:
        from optimiser.web import serving  # noqa: PLC0415
    except ModuleNotFoundError as error:
        wrong = f"the page needs {error.name}, which is not installed"
        raise InputError([Problem(wrong, fix=extra("web"))]) from error
    workspace = workspace.resolve()
    serving.serve(workspace, port, tell=say, browser=browser, phone=phone)
