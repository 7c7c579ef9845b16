"""The workbench served on this machine alone, at an address that only it knows."""

from __future__ import annotations

import gc
import os
import secrets
import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from optimiser.errors import InputError, Problem
from optimiser.web.app import ADDRESS, made

__all__ = ["serve"]


def serve(
    workspace: Path, port: int, *, tell: Callable[[str], None], browser: bool
) -> None:
    """Serve a workspace until the keyboard ends it.

    Parameters
    ----------
    port : int
        0 for any that is free.
    tell : function of text
        Where its address is told.

    Raises
    ------
    InputError
        If the port is taken.
    """
    gc.enable()  # unlike a command, it may run all day
    os.chdir(workspace)  # files are told as seen from there
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((ADDRESS, port))
        except OSError as error:
            wrong, fix = "cannot be served at", "leave --port out"
            found = str(port)
            raise InputError(
                [Problem(wrong, field="--port", found=found, fix=fix)]
            ) from error
        port = listening.getsockname()[1]
        token = secrets.token_urlsafe(24)
        address = f"http://{ADDRESS}:{port}/{token}/"
        tell(f"{address}\nOpen it in a browser on this machine. Ctrl-C ends it.\n")
        # Nothing is logged: the address is the key.
        asked = uvicorn.Config(
            made(Path(), token, port),
            log_level="warning",
            access_log=False,
            server_header=False,
            lifespan="off",
            h11_max_incomplete_event_size=16_384,
            http="h11",
            ws="none",
        )
        if browser:
            webbrowser.open(address)
        uvicorn.Server(asked).run(sockets=[listening])
