"""Which requests come in at all, and what may a browser do with the answers?

Loopback is not private: any page of the web can send requests there, and a name of its own
can be made to lead there. So the Host must be ours, what changes anything must come from our
own page, and whoever is not this computer needs a session (`keys.py`). Answers carry a
policy that lets the page load its own files only.
"""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Collection
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from photomeasure.web.keys import COOKIE, Keys

PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'; sandbox"
)
HEADERS = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), usb=(), payment=()",
    "cache-control": "no-store",
}
BODY_LIMIT = 5_000_000  # of everything but photos, which `files.arriving` limits
ENTRANCE = "/enter"
_HARMLESS = ("GET", "HEAD", "OPTIONS")


class Refused(Exception):  # noqa: N818 - it is an answer, not a mistake
    """A request that does not come in: status and the reason in words."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status = status
        self.words = words


class Gate:
    """ASGI middleware around the whole application.

    hosts : the values of the Host header that are ours. keys : None where only this computer
    is served.
    """

    def __init__(self, app: ASGIApp, hosts: Collection[str], keys: Keys | None) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._keys = keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or answer why not."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "http":
            await self._serve(scope, receive, _with_headers(send))
        # Nothing here speaks websocket.

    async def _serve(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        started = False

        async def sending(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            self._check(scope, headers)
            await self._app(scope, _limited(scope, headers, receive), sending)
        except Refused as refused:
            if started:
                raise
            await _answer(refused, send)

    def _check(self, scope: Scope, headers: Headers) -> None:
        host = headers.get("host", "")
        if host not in self._hosts:
            raise Refused(421, f"This server is not {host[:80]!r}. Open the address it printed.")
        if headers.get("sec-fetch-site") in ("cross-site", "same-site") and not _opens(headers):
            raise Refused(403, "Another site asked for this, so it was not done.")
        origin = headers.get("origin")
        if scope["method"] not in _HARMLESS and origin not in (None, f"http://{host}"):
            raise Refused(403, "Another site asked for this change, so it was not made.")
        if not self._is_known(scope, headers):
            raise Refused(
                401,
                "This device has no key, or the program was started anew. Scan the code again "
                "that the computer shows.",
            )

    def _is_known(self, scope: Scope, headers: Headers) -> bool:
        if _is_this_computer(scope) or scope["path"] == ENTRANCE:
            return True
        return self._keys is not None and self._keys.knows(_session(headers))


def _opens(headers: Headers) -> bool:
    """Whether somebody follows a link to the page, which reads and changes nothing."""
    return headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") in (
        None,
        "document",
    )


def _is_this_computer(scope: Scope) -> bool:
    peer = scope.get("client")
    try:
        return peer is not None and ipaddress.ip_address(peer[0]).is_loopback
    except ValueError:
        return False


def _session(headers: Headers) -> str | None:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return None
    return found.value if found else None


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending


def _limited(scope: Scope, headers: Headers, receive: Receive) -> Receive:
    """Bodies up to BODY_LIMIT; photos stream past and are counted where they arrive."""
    if scope["method"] == "POST" and scope["path"].endswith("/api/photos"):
        return receive
    length = headers.get("content-length", "0")
    if not length.isdecimal() or int(length) > BODY_LIMIT:
        raise Refused(413, f"More than the limit of {BODY_LIMIT / 1e6:.0f} MB was sent.")
    seen = 0

    async def counting() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > BODY_LIMIT:
            raise Refused(413, f"More than the limit of {BODY_LIMIT / 1e6:.0f} MB was sent.")
        return message

    return counting


async def _answer(refused: Refused, send: Send) -> None:
    body = json.dumps({"problem": refused.words}).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": refused.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
