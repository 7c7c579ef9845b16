"""The workbench's addresses: each asks a room, and shows what it says."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from importlib import resources
from pathlib import Path
from typing import Any

from msgspec import Struct
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimiser.errors import InputError, Problem, ProofError
from optimiser.presenting.html import style
from optimiser.web import bench, starting
from optimiser.web.comparing import compared_html
from optimiser.web.curves import curve_html
from optimiser.web.desk import Desk, OnDesk, StaleError, TakenError
from optimiser.web.guard import HEADERS, Guard
from optimiser.web.replies import (
    Endpoint,
    Reply,
    asked_with,
    html,
    json,
    nothing,
    to,
)
from optimiser.web.rooms import Rooms, free_name
from optimiser.web.shown import answer_html, page_html, saving_html
from optimiser.web.templates import wrong_html
from optimiser.web.told import plainly, unproved
from optimiser.web.wishes import Wish

__all__ = ["ADDRESS", "made"]

ADDRESS = "127.0.0.1"
FILES = {
    "desk.css": "text/css",
    "desk.js": "text/javascript",
    "forms.js": "text/javascript",
}


class WishTold(Struct, frozen=True, forbid_unknown_fields=True):
    """A wish, and the number of the question that it was made of."""

    number: int
    wish: Wish


class StepTold(Struct, frozen=True, forbid_unknown_fields=True):
    """Something else that is asked of a question."""

    number: int


class SaveTold(Struct, frozen=True, forbid_unknown_fields=True):
    """The name to save under; ``agreed`` names what may be written over."""

    number: int
    name: str
    agreed: str | None = None


def made(
    workspace: Path,
    token: str,
    port: int,
    hosts: Collection[str] = (ADDRESS, "localhost"),
    *,
    large: bool = False,
) -> Guard:
    """Return the workbench over a workspace, as an application.

    Parameters
    ----------
    token : str
        The first part of every address; nothing is told without it.
    port : int
        The port that it is served at.
    hosts : collection of str
        The names that it is served under.
    large : bool
        Whether pages are set in large type.
    """
    rooms = Rooms(workspace, token, large=large)
    own = f"/{token}/desk/{{desk}}/"
    routes = [
        *starting.routes(rooms),
        *bench.routes(rooms),
        Route(f"/{token}/open", _open(rooms)),
        Route(f"/{token}/page.css", _style),
        Route(f"/{token}/{{name}}", _file),
        Route(own, _page(rooms)),
        Route(f"{own}answer", _answer(rooms)),
        Route(f"{own}curve", _part(rooms, _curve)),
        Route(f"{own}compare", _part(rooms, _compare)),
        Route(f"{own}saving", _saving(rooms)),
        Route(f"{own}wish", _told(rooms, WishTold, _wish), methods=["POST"]),
        Route(f"{own}undo", _told(rooms, StepTold, _undo), methods=["POST"]),
        Route(f"{own}redo", _told(rooms, StepTold, _redo), methods=["POST"]),
        Route(f"{own}again", _told(rooms, StepTold, _again), methods=["POST"]),
        Route(f"{own}save", _told(rooms, SaveTold, _save), methods=["POST"]),
    ]
    return Guard(Starlette(routes=routes), token, [f"{host}:{port}" for host in hosts])


def _open(rooms: Rooms) -> Endpoint:
    async def opened(request: Request) -> Response:
        file = request.query_params.get("file", "")
        try:
            name = await run_in_threadpool(rooms.open, file)
        except InputError as error:
            return html(wrong_html(error, rooms.place, large=rooms.large), 422)
        if name is None:
            return nothing(404)
        return to(f"{rooms.place}desk/{name}/")

    return opened


async def _style(_: Request) -> Response:
    return Response(style(), 200, HEADERS, "text/css")


async def _file(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in FILES:
        return nothing(404)
    content = (resources.files("optimiser.web") / "pages" / name).read_bytes()
    return Response(content, 200, HEADERS, FILES[name])


def _page(rooms: Rooms) -> Endpoint:
    async def page(request: Request) -> Response:
        name = request.path_params["desk"]
        desk = rooms.desk(name)
        if desk is None:
            return to(rooms.place)
        own = f"{rooms.place}desk/{name}/"

        def shown() -> str:
            return page_html(desk, rooms.place, own, large=rooms.large)

        return html(await run_in_threadpool(shown))

    return page


def _shown(desk: Desk, asked: OnDesk, problems: list[Problem]) -> dict[str, Any]:
    return {
        "number": asked.number,
        "settled": asked.settled,
        "html": answer_html(desk, asked, problems),
    }


def _answer(rooms: Rooms) -> Endpoint:
    """Return the whole answer to the last question, if it still is the last."""

    def settled(desk: Desk, number: int) -> Reply:
        try:
            return 200, _shown(desk, desk.settle(number), [])
        except StaleError:
            return 409, {"number": desk.asked.number}
        except InputError as error:
            return 422, _shown(desk, desk.asked, list(error.problems))

    async def answered(request: Request) -> Response:
        desk = rooms.desk(request.path_params["desk"])
        number = request.query_params.get("number", "")
        if desk is None:
            return nothing(410)
        if not re.fullmatch(r"\d{1,9}", number):
            return nothing(400)
        status, content = await run_in_threadpool(settled, desk, int(number))
        return json(content, status)

    return answered


Draws = Callable[[Rooms, Desk, QueryParams], str]


def _part(rooms: Rooms, draws: Draws) -> Endpoint:
    """Return a part of the page that is asked for by itself, and of which question."""

    def drawn(desk: Desk, asks: QueryParams) -> Reply:
        number = desk.asked.number
        try:
            return 200, {"number": number, "html": draws(rooms, desk, asks)}
        except InputError as error:
            return 422, {"says": [plainly(each) for each in error.problems]}
        except ProofError as error:
            return 422, {"says": [plainly(unproved(error))]}

    async def part(request: Request) -> Response:
        desk = rooms.desk(request.path_params["desk"])
        if desk is None:
            return nothing(410)
        status, content = await run_in_threadpool(drawn, desk, request.query_params)
        return json(content, status)

    return part


def _curve(_: Rooms, desk: Desk, asks: QueryParams) -> str:
    return curve_html(desk.asked, asks.get("rule", ""))


def _compare(rooms: Rooms, desk: Desk, asks: QueryParams) -> str:
    wanted, search = asks.getlist("of"), "search" in asks
    return compared_html(rooms, desk, wanted, search=search)


def _saving(rooms: Rooms) -> Endpoint:
    async def saving(request: Request) -> Response:
        desk = rooms.desk(request.path_params["desk"])
        if desk is None:
            return nothing(410)
        return json({"saving": saving_html(desk, free_name(desk.path).name)})

    return saving


Does = Callable[[Desk, Any], dict[str, Any]]


def _told(rooms: Rooms, shape: type[Struct], does: Does) -> Endpoint:
    """Return what answers a request of a shape; whatever cannot be done is told."""

    def done(request: Request, told: Struct) -> Reply:
        desk = rooms.desk(request.path_params["desk"])
        if desk is None:
            return 410, {}
        try:
            return 200, does(desk, told)
        except StaleError:
            return 409, _shown(desk, desk.asked, [])
        except TakenError as error:
            says = f"{error.name} is there already."
            return 409, {"taken": error.seen, "says": says}
        except InputError as error:
            says = " ".join(map(plainly, error.problems))
            content = _shown(desk, desk.asked, list(error.problems))
            return 422, {**content, "says": says}
        except ProofError as error:
            return 422, _shown(desk, desk.asked, [unproved(error)])

    return asked_with(shape, done)


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
