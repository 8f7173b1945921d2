"""The gate: one opening key, a signed session, our own pages only, sizes, and headers.

Made for one reader on one computer. Whoever has the address printed by ``arteriole serve`` may
read and edit; accounts and roles come later, and until then nothing but loopback is served.
"""

import base64
import hashlib
import hmac
import json
import secrets
import time
from collections.abc import MutableMapping
from typing import Any
from urllib.parse import parse_qs, quote

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: One two-hour recording of six channels at 2 kHz in 16 bits is 173 MB; our choice, decision 0072.
MOST_UPLOAD_BYTES = 180_000_000
SESSION_S = 12 * 3600.0
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; "
    "object-src 'none'; base-uri 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
DEFAULT_READER = "reader on this computer"


class Keys:
    """The secret that signs sessions, and the opening keys still unused."""

    def __init__(self, secret: bytes | None = None) -> None:
        """Sign with ``secret``, or with a fresh one."""
        self.secret = secret or secrets.token_bytes(32)
        self._unused: set[str] = set()

    def new_opening(self) -> str:
        """Return a key that opens the application once."""
        key = secrets.token_urlsafe(24)
        self._unused.add(key)
        return key

    def spend(self, key: str) -> bool:
        """Return whether the key was good; it is not good again."""
        for one in self._unused:
            if hmac.compare_digest(one.encode(), key.encode()):
                self._unused.discard(one)
                return True
        return False

    def sign(self, reader: str) -> str:
        """Return a session for this reader."""
        body = json.dumps({"reader": reader, "from": time.time()}).encode()
        return f"{_b64(body)}.{_b64(self._seal(body))}"

    def reader_of(self, session: str) -> str | None:
        """Return who the session belongs to; None if it is forged or too old."""
        try:
            body, seal = (base64.urlsafe_b64decode(p + "==") for p in session.split("."))
        except ValueError:
            return None
        if not hmac.compare_digest(seal, self._seal(body)):
            return None
        content = json.loads(body)
        return str(content["reader"]) if time.time() - content["from"] < SESSION_S else None

    def _seal(self, body: bytes) -> bytes:
        return hmac.new(self.secret, body, hashlib.sha256).digest()


class Guard:
    """ASGI middleware around the whole application."""

    def __init__(self, app: ASGIApp, *, keys: Keys, cookie: str) -> None:
        """Let requests with a session from ``keys`` in the cookie through to ``app``."""
        self.app, self.keys, self.cookie = app, keys, cookie

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or pass on one request."""
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if scope["type"] == "websocket":
            if refusal is not None or not _is_own(headers, must=True):
                await send({"type": "websocket.close", "code": 1008})
                return
            await self.app(scope, receive, send)
            return
        sealed = _with_headers(send, scope["path"])
        if refusal is not None:
            if int(headers.get("content-length") or 0):
                await _drain(receive)
            await refusal(scope, receive, sealed)
            return
        await self.app(scope, _limited(receive), sealed)

    def session_cookie(self, reader: str) -> str:
        """Return the Set-Cookie value of a session."""
        return session_cookie(self.keys, self.cookie, reader)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        path = scope["path"]
        if path.startswith("/static/"):
            return None
        if path == "/open":
            return self._open(scope)
        sessions = cookie_parser(headers.get("cookie", ""))
        reader = self.keys.reader_of(sessions.get(self.cookie, ""))
        if reader is None:
            return _no(
                401, path, "This address needs a key; a session lasts 12 hours. Open the address "
                "that arteriole serve prints.",
            )  # fmt: skip
        state: MutableMapping[str, Any] = scope.setdefault("state", {})
        state["reader"] = reader
        if scope.get("method", "GET") not in SAFE:
            if headers.get("x-arteriole") != "1" or not _is_own(headers):
                return _no(
                    403, path, "A change came from another page; only arteriole's own pages may "
                    "change a study. Send the header X-Arteriole: 1 from this address.",
                )  # fmt: skip
            length = headers.get("content-length", "0")
            if not length.isdigit() or int(length) > MOST_UPLOAD_BYTES:
                return _no(413, path, too_large(int(length) if length.isdigit() else 0))
        return None

    def _open(self, scope: Scope) -> Response:
        query = parse_qs(scope["query_string"].decode("latin-1"))
        if not self.keys.spend(query.get("key", [""])[0]):
            return _no(
                403, "/open", "This opening key was used already or is not one; each opens once. "
                "Start arteriole serve again for a new one.",
            )  # fmt: skip
        target = query.get("next", ["/"])[0]
        if not target.startswith("/") or target.startswith(("//", "/\\")):
            target = "/"
        reply = RedirectResponse(quote(target, safe="/?=&%-_.~"), 303)
        reply.headers["set-cookie"] = self.session_cookie(DEFAULT_READER)
        return reply


def session_cookie(keys: Keys, cookie: str, reader: str) -> str:
    """Return the Set-Cookie value of a session."""
    return f"{cookie}={keys.sign(reader)}; Path=/; HttpOnly; SameSite=Strict"


def too_large(size: int) -> str:
    """Return the message for an upload beyond the limit."""
    return (
        f"The upload has {size / 1e6:.0f} MB; at most {MOST_UPLOAD_BYTES / 1e6:.0f} MB are taken. "
        "Cut the recording or convert it to HDF5 with arteriole convert."
    )


class TooLarge(Exception):
    """A body grew beyond the limit while it was read."""


def _limited(receive: Receive) -> Receive:
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MOST_UPLOAD_BYTES:
            raise TooLarge(too_large(seen))
        return message

    return counted


async def _drain(receive: Receive) -> None:
    """Read and drop a refused body, so that the browser shows the answer and no broken line."""
    left = 4 * MOST_UPLOAD_BYTES
    while left > 0:
        message = await receive()
        left -= len(message.get("body", b""))
        if message["type"] == "http.disconnect" or not message.get("more_body", False):
            return


def _with_headers(send: Send, path: str) -> Send:
    async def sealed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers.setdefault(
                "cache-control", "no-cache" if path.startswith("/static/") else "no-store"
            )
        await send(message)

    return sealed


def _is_own(headers: Headers, *, must: bool = False) -> bool:
    origin, host = headers.get("origin"), headers.get("host", "")
    if headers.get("sec-fetch-site", "same-origin") not in {"same-origin", "none"}:
        return False
    if origin is None:
        return not must
    return origin in {f"http://{host}", f"https://{host}"}


def _no(status: int, path: str, message: str) -> Response:
    if path.startswith("/api/"):
        return JSONResponse({"error": message}, status)
    return PlainTextResponse(message, status)


def _b64(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).decode().rstrip("=")
