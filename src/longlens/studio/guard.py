"""Who may speak to the studio: this machine's own browser, by the address that was printed, and nobody else.

The server listens on the loopback only. That alone does not keep out other web pages open in the same browser, nor other
users of the machine; so every request, pictures and the websocket included, must name this server in ``Host`` (against
rebinding of names), must not come from another page's origin, and must carry the token. The token is in the printed
address once and is then kept in a cookie that scripts cannot read.
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import unquote

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]

ENTER = "/enter/"
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
)


def new_token() -> str:
    """256 random bits, as they go into an address."""
    return secrets.token_urlsafe(32)


class Guard:
    """ASGI middleware: refuses with one plain line whatever is not the owner's browser.

    Parameters
    ----------
    app : what stands behind it.
    token : the secret of this run.
    port : where the server listens; part of the hosts it answers to, and of the cookie's name, since a browser
        shares cookies between ports.
    """

    def __init__(self, app: Any, *, token: str, port: int) -> None:
        self.app, self.token = app, token
        self.cookie = f"longlens-{port}"
        self.hosts = {f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]")}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal:
            await _refuse(scope, receive, send, *refusal)
            return
        path = scope["path"]
        if scope["type"] == "http" and path.startswith(ENTER):
            await self._enter(path[len(ENTER) :], send)
            return
        if not self._same(self._kept(scope)):
            await _refuse(
                scope, receive, send, 403, "Open the studio with the address that it printed in the terminal."
            )
            return
        await self.app(scope, receive, _with_headers(send) if scope["type"] == "http" else send)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        hosts = list(_header(scope, b"host"))
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return 421, "This is not the studio's address: use the one that it printed in the terminal."
        if any(origin.lower() not in self.origins for origin in _header(scope, b"origin")):
            return 403, "Another page may not use the studio."
        if _climbs(scope.get("raw_path") or scope["path"].encode()):
            return 400, "There is nothing at this address."
        return None

    def _kept(self, scope: Scope) -> str:
        for text in _header(scope, b"cookie"):
            try:
                found = SimpleCookie(text).get(self.cookie)
            except CookieError:
                continue
            if found is not None:
                return found.value
        return ""

    def _same(self, given: str) -> bool:
        return secrets.compare_digest(given.encode(), self.token.encode())

    async def _enter(self, given: str, send: Send) -> None:
        if not self._same(given):
            await _answer(send, 403, "This address is of an earlier run: use the one printed last in the terminal.")
            return
        cookie = f"{self.cookie}={self.token}; Path=/; HttpOnly; SameSite=Strict"
        await _answer(send, 303, "", (b"location", b"/"), (b"set-cookie", cookie.encode()))


def _header(scope: Scope, name: bytes) -> Iterable[str]:
    return (value.decode("latin-1") for key, value in scope["headers"] if key.lower() == name)


def _climbs(raw: bytes) -> bool:
    """A path that leaves its folder, however it is written: encoded, encoded twice, with backslashes."""
    path = raw.decode("latin-1").partition("?")[0]
    for _ in range(3):
        parts = path.replace("\\", "/").split("/")
        if ".." in parts or "\0" in path:
            return True
        path = unquote(path)
    return False


def _with_headers(send: Send) -> Send:
    async def sent(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", []), *HEADERS]}
        await send(message)

    return sent


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, text: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 4403, "reason": text[:120]})
    else:
        await _answer(send, status, text)


async def _answer(send: Send, status: int, text: str, *headers: tuple[bytes, bytes]) -> None:
    body = text.encode()
    kind = (b"content-type", b"text/plain; charset=utf-8")
    length = (b"content-length", str(len(body)).encode())
    await send({"type": "http.response.start", "status": status, "headers": [kind, length, *HEADERS, *headers]})
    await send({"type": "http.response.body", "body": body})
