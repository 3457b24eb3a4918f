"""What keeps a local service to its owner: Host check, cross-site guard, bounded bodies, headers."""

import re
import socket
from collections.abc import Iterable
from ipaddress import ip_address

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.errors import answer, problem

MAX_BODY = 2_000_000
MAX_PICTURE = 42_000_000
"""For the few addresses that take a picture or a track."""
_TAKES_FILES = re.compile(r"/(?:api/)?(?:from-picture|rolls/[^/]+/log)")
ANY_NUMBER = "*"
"""Stands among the host names for every address written as a number."""
LOOPBACK = ("127.0.0.1", "localhost", "[::1]", "testserver")
_HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
    (
        b"content-security-policy",
        b"default-src 'self'; frame-ancestors 'none'; form-action 'self'; base-uri 'none'",
    ),
)


def names_for(host: str) -> tuple[str, ...]:
    """The Host names under which a service listening on `host` may be called.

    Listening everywhere, it answers to this machine's name and to its number
    addresses, which no foreign site's name can stand for.
    """
    if host not in ("0.0.0.0", "::"):
        return (*LOOPBACK, f"[{host}]" if ":" in host else host)
    name = socket.gethostname()
    return (*LOOPBACK, name, f"{name}.local", ANY_NUMBER)


def _is_number(name: str) -> bool:
    try:
        ip_address(name.strip("[]"))
    except ValueError:
        return False
    return True


def _host_name(host: str) -> str:
    """The name of a Host header without its port."""
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


class Guard:
    """ASGI middleware that refuses foreign hosts, cross-site writes and bodies too large."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = LOOPBACK, max_body: int = MAX_BODY) -> None:
        self.app = app
        self.hosts = frozenset(h.casefold() for h in hosts)
        self.max_body = max_body

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Checks one request and passes it on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message["headers"], *_HEADERS]}
            await send(message)

        headers = Headers(scope=scope)
        host = headers.get("host", "")
        name = _host_name(host).casefold()
        if name not in self.hosts and not (ANY_NUMBER in self.hosts and _is_number(name)):
            await problem(400, "Wrong host", "This service answers to its own address only.")(scope, receive, with_headers)
            return
        if scope["method"] not in ("GET", "HEAD", "OPTIONS") and self._is_foreign(headers, host):
            detail = "This form was sent from another site. Open the page here and send it again."
            await problem(403, "Refused", detail)(scope, receive, with_headers)
            return
        most = MAX_PICTURE if _TAKES_FILES.fullmatch(scope["path"]) and self.max_body == MAX_BODY else self.max_body
        too_large = f"That is more than {most:,} bytes. Send less at once."
        length = headers.get("content-length", "0")
        counted = length.isascii() and length.isdigit() and len(length) <= 18
        if not counted or int(length) > most:
            await answer(Request(scope), 413, "Too large", too_large)(scope, receive, with_headers)
            return
        # The body is read here, up to the limit, so that a body of unstated length is bounded too.
        parts: list[bytes] = []
        total = 0
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                return
            parts.append(message.get("body", b""))
            total += len(parts[-1])
            if total > most:
                await answer(Request(scope), 413, "Too large", too_large)(scope, receive, with_headers)
                return
            if not message.get("more_body"):
                break
        handed = False

        async def bounded() -> Message:
            nonlocal handed
            if handed:
                return await receive()
            handed = True
            return {"type": "http.request", "body": b"".join(parts), "more_body": False}

        await self.app(scope, bounded, with_headers)

    @staticmethod
    def _is_foreign(headers: Headers, host: str) -> bool:
        """Whether a browser says that a write comes from another site; scripts send no such header."""
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return True
        origin = headers.get("origin")
        return origin is not None and origin.partition("://")[2] != host
