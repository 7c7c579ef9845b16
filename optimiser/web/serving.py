"""The workbench served on this machine, at an address that only it knows."""

from __future__ import annotations

import gc
import os
import secrets
import socket
import sys
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from optimiser.errors import InputError, Option, Problem, phrase
from optimiser.web.app import ADDRESS, made

__all__ = ["serve"]

# An address of the documentation (RFC 5737), to which nothing is sent: asked which way
# it would be reached, a machine names its own address in the local network.
ELSEWHERE = ("192.0.2.1", 9)
# That nobody listens there is asked, and that a port may be taken which was left just
# now. On Windows the option of that name lets two programs listen at one address.
if sys.platform == "win32":
    ALONE = socket.SO_EXCLUSIVEADDRUSE
else:
    ALONE = socket.SO_REUSEADDR


def serve(
    workspace: Path,
    port: int,
    *,
    tell: Callable[[str], None],
    browser: bool,
    phone: bool = False,
) -> None:
    """Serve a workspace until the keyboard ends it.

    Parameters
    ----------
    port : int
        0 for any that is free.
    tell : function of text
        Where its address is told.
    phone : bool
        Serve it in the local network, in large type, instead of on this machine alone.

    Raises
    ------
    InputError
        If the port is taken, or there is no network to serve in.
    """
    gc.enable()  # unlike a command, it may run all day
    os.chdir(workspace)  # files are told as seen from there
    host = _in_the_network() if phone else ADDRESS
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
        listening.setsockopt(socket.SOL_SOCKET, ALONE, 1)
        try:
            listening.bind((host, port))
        except OSError as error:
            wrong, fix = "cannot be served at", phrase("leave ", Option("port"), " out")
            found = str(port)
            raise InputError(
                [Problem(wrong, field="--port", found=found, fix=fix)]
            ) from error
        port = listening.getsockname()[1]
        token = secrets.token_urlsafe(24)
        address = f"http://{host}:{port}/{token}/"
        tell(f"{address}\n{_how(phone=phone)} Ctrl-C ends it.\n")
        hosts = (host,) if phone else (ADDRESS, "localhost")
        # Nothing is logged: the address is the key.
        asked = uvicorn.Config(
            made(Path(), token, port, hosts, large=phone),
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


def _how(*, phone: bool) -> str:
    if not phone:
        return "Open it in a browser on this machine."
    return (
        "Open it on a phone in the same network. Whoever has this address can change"
        " what is in the workspace, and it is not encrypted: use it in a network that"
        " you trust."
    )


def _in_the_network() -> str:
    """Return the address of this machine in the local network.

    Raises
    ------
    InputError
        If it is in none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(ELSEWHERE)
            found = str(asking.getsockname()[0])
        except OSError:
            found = ADDRESS
    if found.startswith("127.") or found == "0.0.0.0":
        wrong, fix = "needs a network, and this machine is in none", "join one first"
        raise InputError([Problem(wrong, field="--phone", fix=fix)])
    return found
