"""The studio answers its owner's browser only: hosts, origins, tokens, paths; pages, pictures and the websocket alike."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from longlens.studio.guard import Guard

TOKEN = "t" * 43
OWN = {"host": "127.0.0.1:8000", "cookie": f"longlens-8000={TOKEN}"}


def ask(path: str = "/board", *, kind: str = "http", raw: bytes | None = None, **headers: str) -> list[dict[str, Any]]:
    """What the guard sends; the app behind it answers 200."""
    sent: list[dict[str, Any]] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def receive() -> dict[str, str]:
        return {"type": "websocket.connect"}

    async def send(message: Any) -> None:
        sent.append(dict(message))

    given = {k.replace("_", "-"): v for k, v in headers.items()}
    scope = {
        "type": kind,
        "path": path,
        "raw_path": raw or path.encode(),
        "headers": [(k.encode(), v.encode()) for k, v in given.items()],
    }
    asyncio.run(Guard(app, token=TOKEN, port=8000)(scope, receive, send))
    return sent


def status(*args: Any, **kwargs: Any) -> int:
    return ask(*args, **kwargs)[0]["status"]


def test_the_owner_is_let_in_by_address_then_by_cookie() -> None:
    answer = ask(f"/enter/{TOKEN}", host="127.0.0.1:8000")[0]
    headers = dict(answer["headers"])
    assert answer["status"] == 303 and headers[b"location"] == b"/"
    assert b"HttpOnly" in headers[b"set-cookie"] and b"SameSite=Strict" in headers[b"set-cookie"]
    assert status(**OWN) == 200
    assert status(**{**OWN, "host": "localhost:8000"}) == 200


@pytest.mark.parametrize("path", ["/board", "/photograph/" + "0" * 64 + "/320.jpg", "/assets/studio.js", "/_nicegui/x"])
def test_without_the_token_nothing_is_shown(path: str) -> None:
    assert status(path, host="127.0.0.1:8000") == 403
    assert status(path, host="127.0.0.1:8000", cookie="longlens-8000=wrong") == 403
    assert status(path, host="127.0.0.1:8000", cookie=f"longlens-8001={TOKEN}") == 403


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:8001", "127.0.0.1:8000.evil.example", ""])
def test_a_foreign_host_is_refused_even_with_the_token(host: str) -> None:
    assert status(**{**OWN, "host": host}) == 421
    assert status(f"/enter/{TOKEN}", host=host) == 421


def test_another_page_may_not_use_it() -> None:
    assert status(**OWN, origin="http://evil.example") == 403
    assert status(**OWN, origin="null") == 403
    assert status(**OWN, origin="http://127.0.0.1:8000") == 200


def test_the_websocket_is_guarded_alike() -> None:
    for headers in (
        {"host": "127.0.0.1:8000"},
        {**OWN, "host": "evil.example"},
        {**OWN, "origin": "http://evil.example"},
    ):
        assert ask("/_nicegui_ws/socket.io/", kind="websocket", **headers)[0]["type"] == "websocket.close"
    assert ask("/_nicegui_ws/socket.io/", kind="websocket", **OWN)[0].get("status") == 200


@pytest.mark.parametrize(
    "raw",
    [
        b"/assets/../desk.py",
        b"/assets/%2e%2e/desk.py",
        b"/assets/..%2f..%2fdesk.py",
        b"/assets/%252e%252e%252fdesk.py",
        b"/assets/..\\desk.py",
        b"/assets/a%00b",
    ],
)
def test_path_tricks_are_refused(raw: bytes) -> None:
    assert status("/assets/x", raw=raw, **OWN) == 400
