"""The workbench's addresses, and who may ask at them: this machine, this page."""

from __future__ import annotations

import re
import secrets
import tomllib
from collections import OrderedDict
from collections.abc import Awaitable, Callable, MutableMapping
from importlib import resources
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from optimiser.errors import InputError, Problem, ProofError
from optimiser.presenting.html import style
from optimiser.web.desk import Desk, OnDesk, StaleError, TakenError
from optimiser.web.shown import answer_html, page_html, saving_html, start_html
from optimiser.web.wishes import AimAt, KeepOut, LeaveOut, Limit, PinAt, TakeWay

__all__ = ["ADDRESS", "made", "scenarios"]

ADDRESS = "127.0.0.1"
MOST_BYTES = 16_384  # of a request
MOST_DESKS = 24  # open at a time; the one not used for longest is closed
MOST_FILES = 200
FILES = {"desk.css": "text/css", "desk.js": "text/javascript"}

class WishTold(Struct, frozen=True, forbid_unknown_fields=True):
    """A wish, and the number of the question that it was made of."""

    number: int
    wish: Limit | LeaveOut | KeepOut | PinAt | AimAt | TakeWay


class StepTold(Struct, frozen=True, forbid_unknown_fields=True):
    """Something else that is asked of a question."""

    number: int


class SaveTold(Struct, frozen=True, forbid_unknown_fields=True):
    """The name to save under; ``agreed`` names what may be written over."""

    number: int
    name: str
    agreed: str | None = None


class Desks:
    """The desks that are open over one workspace."""

    def __init__(self, workspace: Path, token: str) -> None:
        self.workspace = workspace
        self.place = f"/{token}/"
        self._desks: OrderedDict[str, Desk] = OrderedDict()

    def open(self, file: str) -> str | None:
        """Return the name of a new desk for a scenario of the workspace."""
        known = dict(scenarios(self.workspace))
        if file not in known:
            return None
        name = secrets.token_urlsafe(9)
        self._desks[name] = Desk(self.workspace / file)
        while len(self._desks) > MOST_DESKS:
            self._desks.popitem(last=False)
        return name

    def desk(self, name: str) -> Desk | None:
        """Return a desk that is open."""
        if name in self._desks:
            self._desks.move_to_end(name)
        return self._desks.get(name)


def scenarios(workspace: Path) -> list[tuple[str, str]]:
    """Return the scenarios of a workspace: file, as seen from it, and title."""
    found = []
    for folder in (workspace, workspace / "scenarios"):
        for path in sorted(folder.glob("*.toml"))[:MOST_FILES]:
            try:
                content = tomllib.loads(path.read_text(encoding="utf-8-sig"))
            except (OSError, ValueError):
                content = {
                    "title": path.stem,
                    "base": {},
                }  # opening it tells what is wrong
            if "scenarios" in content or not {"title", "extends"} & content.keys():
                continue
            name = path.relative_to(workspace).as_posix()
            found.append((name, str(content.get("title") or path.stem)))
    return found


def made(workspace: Path, token: str, port: int) -> Guard:
    """Return the workbench over a workspace, as an application.

    Parameters
    ----------
    token : str
        The first part of every address; nothing is told without it.
    port : int
        The port that it is served at.
    """
    desks = Desks(workspace, token)
    own = f"/{token}/desk/{{desk}}/"
    routes = [
        Route(desks.place, _start(desks)),
        Route(f"/{token}/open", _open(desks)),
        Route(f"/{token}/page.css", _style),
        Route(f"/{token}/{{name}}", _file),
        Route(own, _page(desks)),
        Route(f"{own}answer", _answer(desks)),
        Route(f"{own}saving", _saving(desks)),
        Route(f"{own}wish", _told(desks, WishTold, _wish), methods=["POST"]),
        Route(f"{own}undo", _told(desks, StepTold, _undo), methods=["POST"]),
        Route(f"{own}redo", _told(desks, StepTold, _redo), methods=["POST"]),
        Route(f"{own}again", _told(desks, StepTold, _again), methods=["POST"]),
        Route(f"{own}save", _told(desks, SaveTold, _save), methods=["POST"]),
    ]
    return Guard(Starlette(routes=routes), token, port)


def _start(desks: Desks) -> Endpoint:
    async def start(_: Request) -> Response:
        rows = await run_in_threadpool(scenarios, desks.workspace)
        return _html(start_html(rows, desks.place, desks.workspace.resolve().name))

    return start


def _open(desks: Desks) -> Endpoint:
    async def opened(request: Request) -> Response:
        file = request.query_params.get("file", "")
        try:
            name = await run_in_threadpool(desks.open, file)
        except InputError as error:
            return _html(_wrong(error, desks), 422)
        if name is None:
            return _nothing(404)
        return RedirectResponse(f"{desks.place}desk/{name}/", 303, HEADERS)

    return opened


def _wrong(error: InputError, desks: Desks) -> str:
    """Return the page on a scenario that cannot be read."""
    from optimiser.presenting.html import text  # noqa: PLC0415

    told = "".join(f"<li>{text(each)}</li>" for each in error.problems)
    place = desks.place
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8">'
        "<title>Needs attention</title>"
        f'<link rel="stylesheet" href="{place}page.css">'
        f'<link rel="stylesheet" href="{place}desk.css">'
        f'<main><p class="trail"><a href="{place}">All scenarios</a></p>'
        f"<h1>Needs attention</h1><ul>{told}</ul></main></html>"
    )


async def _style(_: Request) -> Response:
    return Response(style(), 200, HEADERS, "text/css")


async def _file(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in FILES:
        return _nothing(404)
    content = (resources.files("optimiser.web") / "pages" / name).read_bytes()
    return Response(content, 200, HEADERS, FILES[name])


def _page(desks: Desks) -> Endpoint:
    async def page(request: Request) -> Response:
        name = request.path_params["desk"]
        desk = desks.desk(name)
        if desk is None:
            return RedirectResponse(desks.place, 303, HEADERS)
        own = f"{desks.place}desk/{name}/"
        return _html(await run_in_threadpool(page_html, desk, desks.place, own))

    return page


def _shown(desk: Desk, asked: OnDesk, problems: list[Problem]) -> dict[str, Any]:
    return {
        "number": asked.number,
        "settled": asked.settled,
        "html": answer_html(desk, asked, problems),
    }


def _answer(desks: Desks) -> Endpoint:
    """Return the whole answer to the last question, if it still is the last."""

    def settled(desk: Desk, number: int) -> tuple[int, dict[str, Any]]:
        try:
            return 200, _shown(desk, desk.settle(number), [])
        except StaleError:
            return 409, {"number": desk.asked.number}
        except InputError as error:
            return 422, _shown(desk, desk.asked, list(error.problems))

    async def answered(request: Request) -> Response:
        desk = desks.desk(request.path_params["desk"])
        number = request.query_params.get("number", "")
        if desk is None:
            return _nothing(410)
        if not re.fullmatch(r"\d{1,9}", number):
            return _nothing(400)
        status, content = await run_in_threadpool(settled, desk, int(number))
        return _json(content, status)

    return answered


def _saving(desks: Desks) -> Endpoint:
    async def saving(request: Request) -> Response:
        desk = desks.desk(request.path_params["desk"])
        if desk is None:
            return _nothing(410)
        return _json({"saving": saving_html(desk, _free_name(desk.path))})

    return saving


def _free_name(path: Path) -> str:
    """Return a name that no file beside a scenario has."""
    number = 2
    while (path.parent / f"{path.stem}_{number}.toml").exists():
        number += 1
    return f"{path.stem}_{number}.toml"


Does = Callable[[Desk, Any], dict[str, Any]]


def _told(desks: Desks, shape: type[Struct], does: Does) -> Endpoint:
    """Return what answers a request of a shape; whatever cannot be done is told."""

    def done(desk: Desk, told: Struct) -> tuple[int, dict[str, Any]]:
        try:
            return 200, does(desk, told)
        except StaleError:
            return 409, _shown(desk, desk.asked, [])
        except TakenError as error:
            says = f"{error.name} is there already."
            return 409, {"taken": error.seen, "says": says}
        except InputError as error:
            says = " ".join(map(str, error.problems))
            content = _shown(desk, desk.asked, list(error.problems))
            return 422, {**content, "says": says}
        except ProofError as error:
            wrong = (
                f"the answer did not pass its own check, so it is not shown ({error})"
            )
            return 422, _shown(desk, desk.asked, [Problem(wrong)])

    async def answered(request: Request) -> Response:
        desk = desks.desk(request.path_params["desk"])
        if desk is None:
            return _nothing(410)
        try:
            told = msgspec.json.decode(await request.body(), type=shape)
        except (msgspec.DecodeError, msgspec.ValidationError):
            return _nothing(400)
        status, content = await run_in_threadpool(done, desk, told)
        return _json(content, status)

    return answered


def _wish(desk: Desk, told: WishTold) -> dict[str, Any]:
    return _shown(desk, desk.wish(told.wish, told.number), [])


def _undo(desk: Desk, told: StepTold) -> dict[str, Any]:
    return _shown(desk, desk.undo(told.number), [])


def _redo(desk: Desk, told: StepTold) -> dict[str, Any]:
    return _shown(desk, desk.undo(told.number, 1), [])


def _again(desk: Desk, told: StepTold) -> dict[str, Any]:
    return _shown(desk, desk.read_again(told.number), [])


def _save(desk: Desk, told: SaveTold) -> dict[str, Any]:
    desk.save(told.name, told.number, told.agreed)
    return {**_shown(desk, desk.asked, []), "saved": f"{told.name}: written."}
