"""A run that is stopped at its n-th change of a disk, as a kill or a full disk would.

Python tells an audit hook of each file that is opened to be written and of each that
is moved or taken away, before it happens.
"""

import contextlib
import errno
import gc
import io
import os
import sys

from optimiser.cli import main

CHANGES = frozenset(
    {
        "os.rename",
        "os.remove",
        "os.rmdir",
        "os.mkdir",
        "os.link",
        "os.symlink",
        "os.chmod",
        "os.truncate",
        "sqlite3.connect",
    }
)
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
KILLED = 99  # exit code of a run that was stopped as a kill would
ELSEWHERE = "/dev/"


class _Watch:
    """What is being counted now, and what happens at the last."""

    left = None
    happens = None


def _hook(event, arguments):
    if _Watch.left is None:
        return
    if event == "open":
        path, _, flags = arguments
        if not (isinstance(flags, int) and flags & WRITING):
            return
        if isinstance(path, int) or str(path).startswith(ELSEWHERE):
            return
    elif event not in CHANGES:
        return
    _Watch.left -= 1
    if _Watch.left == 0:
        _Watch.left = None
        _Watch.happens(event)


def _full(event):
    if event in {"os.remove", "os.rmdir", "sqlite3.connect"}:
        return  # taking away needs no room; SQLite tells of a full disk in its own way
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _killed(_):
    os._exit(KILLED)


_installed: list[bool] = []


def run_apart(arguments, folder, *, at=None, kill=False, begin=None):
    """Run the command line in a process of its own, stopped at a change of the disk.

    Parameters
    ----------
    at : int, optional
        The change that is not made; by default all are.
    kill : bool
        End the process there, rather than tell it that the disk is full.
    begin : function, optional
        Called in that process before the run.

    Returns
    -------
    tuple of int, str and bool
        Exit code, all that was told, and whether the run came to that change.
    """
    if not _installed:
        sys.addaudithook(_hook)
        _installed.append(True)
    come, told = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(come)
        code = _in_child(arguments, folder, at, kill, begin, told)
        os._exit(code)
    os.close(told)
    with os.fdopen(come, "rb") as pipe:
        text = pipe.read().decode("utf-8", "replace")
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    text, _, reached = text.rpartition("\0")
    return code, text, code == KILLED or reached == "reached"


def _in_child(arguments, folder, at, kill, begin, told):
    """Run, write what it told and whether it came that far, and return the code."""
    said = io.StringIO()
    try:
        os.chdir(folder)
        if begin is not None:
            begin()
        _Watch.happens = _killed if kill else _full
        _Watch.left = at
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            try:
                main([str(each) for each in arguments])
            except SystemExit as left:
                code = int(left.code or 0)
    except BaseException as error:
        said.write(f"Traceback: {error!r}")
        code = 98
    gc.enable()
    reached = "reached" if at is not None and _Watch.left is None else "no"
    _Watch.left = None
    with os.fdopen(told, "wb") as pipe:
        pipe.write(f"{said.getvalue()}\0{reached}".encode("utf-8", "replace"))
    return code
