"""Who shares a sweep's work: processes of this machine, or a cluster's workers.

Whatever becomes of them, no case is lost: what they cannot do is done here.
"""

from __future__ import annotations

import os
import signal
import sys
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from optimiser.cli.running import installed_version
from optimiser.errors import InputError, Option, Phrase, Problem, extra, phrase

if TYPE_CHECKING:
    from concurrent.futures import Executor

__all__ = ["Workers", "workers"]

# Seconds that a cluster has to answer, to name a worker, and for that to answer.
ANSWERS = 10
MOST = 61  # processes that one can wait for on Windows
HERE = (", or use ", Option("processes"))
INSTALL = phrase(extra("dask"), *HERE)


class Workers(Struct, frozen=True):
    """An executor, and whether anybody is left behind it to do the work."""

    executor: Executor
    there: Callable[[], bool] | None = None


@contextmanager
def workers(processes: int, dask: str | None) -> Iterator[Workers | None]:
    """Give the workers that were asked for, and let them go afterwards.

    Raises
    ------
    InputError
        If a cluster does not answer, has no workers, or these cannot do the work.
    """
    if dask is not None:
        with _cluster(dask) as found:
            yield found
    elif processes < 2:
        yield None
    else:
        with _processes(processes) as executor:
            yield Workers(executor)


@contextmanager
def _processes(count: int) -> Iterator[Executor]:
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415
    from multiprocessing import get_context  # noqa: PLC0415

    with _safe_path():
        count = min(count, MOST) if sys.platform == "win32" else count
        executor = ProcessPoolExecutor(count, get_context("spawn"), _begin)
        try:
            with _ctrl_c_waits():
                for _ in range(count):
                    executor.submit(_ready)
            yield executor
        finally:
            executor.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _safe_path() -> Iterator[None]:
    """Let new processes import nothing that lies in the current folder."""
    name = "PYTHONSAFEPATH"
    before = os.environ.get(name)
    os.environ[name] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[name]
        else:
            os.environ[name] = before


@contextmanager
def _ctrl_c_waits() -> Iterator[None]:
    """Hold Ctrl-C back for a moment; processes begun in it never hear it."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin() -> None:
    """Let the main process alone hear Ctrl-C, and end when it does, however it ends."""
    from threading import Thread  # noqa: PLC0415

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    from multiprocessing import parent_process  # noqa: PLC0415

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _ready() -> str:
    """Return which version a worker has; that it can say so is what is asked."""
    return installed_version()


@contextmanager
def _cluster(address: str) -> Iterator[Workers]:
    """Give the executor of a cluster whose workers can do the work."""
    client = _client(address)
    try:
        _ask_the_workers(client, address)
        yield Workers(client.get_executor(), lambda: _are_there(client))
    finally:
        # A scheduler that has gone away is no loss by now.
        with suppress(Exception):
            client.close(timeout=2)


def _client(address: str) -> Any:  # noqa: ANN401 - an optional library's own
    import logging  # noqa: PLC0415

    try:
        from distributed import Client  # noqa: PLC0415
    except ImportError as error:
        wrong = "needs Dask, which is not installed"
        raise _refused(address, wrong, INSTALL) from error
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _quiet(Client)(address, timeout=ANSWERS, set_as_default=False)
    except Exception as error:
        fix = "start a scheduler there, or correct the address, as in tcp://host:8786"
        if address.startswith("tls:"):
            fix = "give Dask's own settings the keys that the scheduler asks for"
        raise _refused(address, "does not answer as a scheduler", fix) from error


def _quiet(client: Any) -> Any:  # noqa: ANN401
    """Return a class of clients that wait for nothing when let go half made."""

    class Quiet(client):  # type: ignore[misc]
        def __del__(self) -> None:
            """Leave it: closing waits for a loop that may never have run."""

    return Quiet


def _ask_the_workers(client: Any, address: str) -> None:  # noqa: ANN401
    """Refuse a cluster without workers, or whose workers cannot do the work."""
    own = installed_version()
    try:
        client.wait_for_workers(1, timeout=ANSWERS)
        names = list(client.scheduler_info(n_workers=-1)["workers"])
        asked = {each: _asked(client, each) for each in names}
    except Exception as error:
        fix = phrase("start workers there (dask worker ADDRESS)", *HERE)
        raise _refused(address, "has no workers", fix) from error
    problems = []
    same = f"install version {own} of this package for every worker"
    for name, future in asked.items():
        try:
            found = future.result(timeout=ANSWERS)
        except Exception as error:
            reason = f"{type(error).__name__}: {error}".splitlines()[0]
            wrong = f"is a worker that cannot do the work ({reason})"
            problems.append(Problem(wrong, field="--dask", found=name, fix=same))
            continue
        if found != own:
            wrong = f"is a worker with version {found} of this package"
            problems.append(Problem(wrong, field="--dask", found=name, fix=same))
    if problems:
        raise InputError(problems)


def _asked(client: Any, worker: str) -> Any:  # noqa: ANN401
    return client.submit(_ready, workers=[worker], pure=False, retries=0)


def _are_there(client: Any) -> bool:  # noqa: ANN401
    """Whether a cluster's scheduler answers and has a worker."""
    try:
        running = client.status == "running"
        return running and bool(client.scheduler_info(n_workers=-1)["workers"])
    except Exception:
        return False


def _refused(address: str, wrong: str, fix: str | Phrase) -> InputError:
    return InputError([Problem(wrong, field="--dask", found=address, fix=fix)])
