"""Who may ask at the workbench: its own pages, at its own address."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, Collection, MutableMapping
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response

__all__ = ["HEADERS", "MOST_BYTES", "MOST_UPLOADED", "Guard"]

MOST_BYTES = 16_384  # of a request
MOST_UPLOADED = 2_000_000  # of one that brings a file
MOST_DIGITS = 10  # of a length
UPLOADS = ("begin", "survey")  # where such may be sent
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self';"
    " form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]


class Guard:
    """Lets in what comes from this program's own pages.

    The token in the path keeps other programs and pages out, Host a name that was made
    to point here, Origin another page in the same browser.

    Parameters
    ----------
    hosts : collection of str
        What Host may be: name and port.
    """

    def __init__(self, app: Starlette, token: str, hosts: Collection[str]) -> None:
        self._app, self._token, self._hosts = app, token, frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        refused = self._refused(Request(scope))
        if refused is not None:
            await Response("", refused, HEADERS)(scope, receive, send)
            return
        await self._app(scope, receive, send)

    def _refused(self, request: Request) -> int | None:
        """Return the status that a request is refused with; None lets it in."""
        host = request.headers.get("host", "")
        if host not in self._hosts:
            return 421
        first, _, rest = request.url.path.lstrip("/").partition("/")
        if not secrets.compare_digest(first.encode(), self._token.encode()):
            return 404
        origin = request.headers.get("origin")
        site = request.headers.get("sec-fetch-site", "none")
        same = origin == f"http://{host}"
        if site not in {"none", "same-origin"} or (origin is not None and not same):
            return 403
        if request.method != "POST":
            return None
        most = MOST_UPLOADED if rest in UPLOADS else MOST_BYTES
        return _refused_body(request, most) if same else 403


def _refused_body(request: Request, most: int) -> int | None:
    if request.headers.get("content-type") != "application/json":
        return 415
    size = request.headers.get("content-length", "")
    if not (size.isascii() and size.isdigit()):
        return 411
    return 413 if len(size) > MOST_DIGITS or int(size) > most else None
