"""A small server for one page on this machine: who may ask, how much, and one thing at a time."""

from __future__ import annotations

import json
import os
import secrets
import socket
import sys
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from hmac import compare_digest
from http import HTTPStatus as Status
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Final

from bedtide.errors import InputError

HOME: Final = "127.0.0.1"
MOST_BYTES: Final = 4096  # of what a page may send
MOST_OPEN: Final = 32  # connections at a time
WAIT: Final = 5.0  # for a whole request to arrive, and for an answer to be taken [s]
TURN: Final = 20.0  # for the calculation of another tab to end [s]
_FIXED: Final = {
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
_POLICY: Final = (
    "default-src 'none'; script-src 'nonce-{0}'; style-src 'nonce-{0}'; connect-src 'self'; "
    "img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
Answer = Callable[[Mapping[str, str]], Mapping[str, Any]]


class PageServer(ThreadingHTTPServer):
    """Gives one page, from its nonce, and answers what it asks, on the loop-back address alone."""

    daemon_threads = True
    request_queue_size = 64
    allow_reuse_address = os.name == "posix"  # elsewhere it lets another program take the port

    def __init__(
        self, port: int, page: Callable[[str], str], answers: Mapping[str, Answer]
    ) -> None:
        self.page, self.answers = page, answers
        self.token = secrets.token_urlsafe(24)
        self.wait = WAIT
        self.turn = threading.Lock()
        self.places = threading.BoundedSemaphore(MOST_OPEN)
        super().__init__((HOME, port), _Handler)

    @property
    def host(self) -> str:
        """The one name by which it answers."""
        return f"{HOME}:{self.server_port}"

    @property
    def url(self) -> str:
        """Address of the page, which nobody can guess."""
        return f"http://{self.host}/{self.token}/"

    def process_request(self, request: Any, client_address: Any) -> None:
        """Take a connection while there is room; else drop it."""
        if not self.places.acquire(blocking=False):
            self.shutdown_request(request)
            return
        super().process_request(request, client_address)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """Answer a connection and give up its place."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self.places.release()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A connection that broke is nobody's mistake; anything else is told."""
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)


class _Handler(BaseHTTPRequestHandler):
    """One request of one connection."""

    server: PageServer
    server_version, sys_version = "bedtide", ""
    error_message_format, error_content_type = "%(message)s", "text/plain; charset=utf-8"
    policy = "default-src 'none'; frame-ancestors 'none'"

    def setup(self) -> None:
        """Cut the connection if the request has not arrived in time, however it trickles in."""
        super().setup()
        self.connection.settimeout(self.server.wait)
        self.cutter = threading.Timer(self.server.wait, self._cut)
        self.cutter.daemon = True
        self.cutter.start()

    def finish(self) -> None:
        self.cutter.cancel()
        super().finish()

    def _cut(self) -> None:
        with suppress(OSError):
            self.connection.shutdown(socket.SHUT_RDWR)

    def log_message(self, *words: object) -> None:
        """Say nothing: addresses hold the token."""

    def end_headers(self) -> None:
        """Send what goes with every answer, refusals too."""
        for name, value in (*_FIXED.items(), ("Content-Security-Policy", self.policy)):
            self.send_header(name, value)
        super().end_headers()

    def do_GET(self) -> None:
        """The page."""
        self.cutter.cancel()
        if not self._from_here(("none", "same-origin"), origin_needed=False):
            return self.send_error(Status.FORBIDDEN)
        if not compare_digest(self.path.encode(), f"/{self.server.token}/".encode()):
            return self.send_error(Status.NOT_FOUND)
        nonce = secrets.token_urlsafe(16)
        self.policy = _POLICY.format(nonce)
        self._give("text/html", self.server.page(nonce))

    def do_POST(self) -> None:
        """An answer to what the page asks."""
        asked = self.path.removeprefix(f"/{self.server.token}/")
        token = self.headers.get("X-Token", "")
        if not self._from_here(("same-origin",), origin_needed=True):
            return self.send_error(Status.FORBIDDEN)
        if not compare_digest(token.encode(), self.server.token.encode()):
            return self.send_error(Status.FORBIDDEN)
        if asked not in self.server.answers:
            return self.send_error(Status.NOT_FOUND)
        given = self._read()
        self.cutter.cancel()
        if isinstance(given, Status):
            return self.send_error(given)
        if not self.server.turn.acquire(timeout=TURN):
            return self.send_error(Status.SERVICE_UNAVAILABLE)
        try:
            answer = self.server.answers[asked](given)
        except InputError as error:
            answer = {"error": str(error)}
        finally:
            self.server.turn.release()
        self._give("application/json", json.dumps(answer))

    def _from_here(self, sites: tuple[str, ...], *, origin_needed: bool) -> bool:
        """Whether the page itself asks, by its own name, or the user by typing the address."""
        host, origin = self.headers.get_all("Host", []), self.headers.get_all("Origin", [])
        site = self.headers.get_all("Sec-Fetch-Site", [])
        own = [f"http://{self.server.host}"]
        return (
            host == [self.server.host]
            and (origin == own or not (origin or origin_needed))
            and (not site or (len(site) == 1 and site[0] in sites))
        )

    def _read(self) -> dict[str, str] | Status:
        """What was sent: keys with texts; or why it is refused."""
        sizes = self.headers.get_all("Content-Length", [])
        if "Transfer-Encoding" in self.headers or len(sizes) != 1 or not sizes[0].isdecimal():
            return Status.LENGTH_REQUIRED
        if len(sizes[0]) > 9 or int(sizes[0]) > MOST_BYTES:
            return Status.REQUEST_ENTITY_TOO_LARGE
        if self.headers.get_content_type() != "application/json":
            return Status.UNSUPPORTED_MEDIA_TYPE
        try:
            sent = self.rfile.read(int(sizes[0]))
            given = json.loads(sent) if len(sent) == int(sizes[0]) else None
        except (ValueError, RecursionError):
            return Status.BAD_REQUEST
        if not isinstance(given, dict) or not all(isinstance(v, str) for v in given.values()):
            return Status.BAD_REQUEST
        return given

    def _give(self, kind: str, text: str) -> None:
        body = text.encode()
        self.send_response(Status.OK)
        self.send_header("Content-Type", f"{kind}; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)
