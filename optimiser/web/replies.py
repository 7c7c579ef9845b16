"""What the workbench answers with: pages, parts of pages, and refusals."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any, TypeVar

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from optimiser.errors import InputError, ProofError
from optimiser.web.guard import HEADERS
from optimiser.web.told import plainly, unproved

__all__ = [
    "Endpoint",
    "Reply",
    "asked_with",
    "html",
    "json",
    "nothing",
    "to",
]

Endpoint = Callable[[Request], Awaitable[Response]]
Reply = tuple[int, dict[str, Any]]
Told = TypeVar("Told", bound=msgspec.Struct)


def html(content: str, status: int = 200) -> Response:
    """Return a page."""
    return HTMLResponse(content, status, HEADERS)


def json(content: dict[str, Any], status: int = 200) -> Response:
    """Return what a script of the page takes up."""
    return JSONResponse(content, status, HEADERS)


def nothing(status: int) -> Response:
    """Return a status alone."""
    return Response("", status, HEADERS)


def to(place: str) -> Response:
    """Return the way to another page."""
    return RedirectResponse(place, 303, HEADERS)


def asked_with(shape: type[Told], does: Callable[[Request, Told], Reply]) -> Endpoint:
    """Return what answers a request of a shape; what is wrong in it is told."""

    def done(request: Request, told: Told) -> Reply:
        try:
            return does(request, told)
        except InputError as error:
            return 422, {"says": [plainly(each) for each in error.problems]}
        except ProofError as error:
            return 422, {"says": [plainly(unproved(error))]}

    async def answered(request: Request) -> Response:
        try:
            told = msgspec.json.decode(await request.body(), type=shape)
        except (msgspec.DecodeError, msgspec.ValidationError):
            return nothing(400)
        status, content = await run_in_threadpool(done, request, told)
        return json(content, status) if content else nothing(status)

    return answered
