"""The display over HTTP: the page, the stream of snapshots, and the buttons.

The only file that knows HTTP and sockets. Standard library only, a thread a connection. What that
server would do by itself and must not is left out here: it asks the resolver for its own name (35 s
where that is dead), shares a port on Windows, prints tracebacks onto the screen of the job, puts
words of a request into its answer, and waits for open streams when it is stopped.
"""

from __future__ import annotations

import io
import json
import secrets
import socket
import socketserver
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler
from typing import Any, final

from gaugelink.capture.commands import DisplayKeys
from gaugelink.display.access import (
    ACT,
    STREAM,
    Access,
    RequestHead,
    address_line,
    host_of,
    hosts_of,
)
from gaugelink.display.board import Board, press
from gaugelink.errors import InputError

PREFERRED_PORT = (
    8737  # the same each time, so that a tablet finds it again; free in the tables of use
)
ASK_S = 5.0  # a request is whole by then, and a viewer takes what it is sent
HEARTBEAT_S = 2.0
GOODBYE_S = 0.2
MOST_CONNECTIONS = 32
MOST_HEAD_BYTES = 16_384
SEND_BUFFER_BYTES = 16_384  # what the kernel holds for a viewer that does not read
_HEADERS = {
    "Cache-Control": "no-store",
    "Connection": "close",
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' data:; connect-src 'self'; manifest-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Referrer-Policy": "no-referrer",
    "X-Accel-Buffering": "no",
    "X-Content-Type-Options": "nosniff",
}
_FULL = 503


@dataclass(frozen=True, slots=True, kw_only=True)
class PageFile:
    """One file of the page as it is sent."""

    media_type: str
    data: bytes


@final
class DisplayServer:
    """Shows a board to browsers and takes their buttons.

    It is bound from the moment it is made, so that the address is one that will answer.

    Args:
        board: what is shown.
        keys: where buttons go.
        address: where it listens, in figures.

    Raises:
        InputError: the address is not one of this computer.
    """

    def __init__(self, board: Board, keys: DisplayKeys, address: str) -> None:
        self._board = board
        self._keys = keys
        self._server = _bound(address)
        port: int = self._server.server_address[1]
        self._hosts = hosts_of(address, port)
        self._token = secrets.token_urlsafe(16)
        self.host = host_of(address, port)
        self.url = address_line(self.host, self._token)
        self._thread: threading.Thread | None = None

    def serve(self, files: Mapping[str, PageFile]) -> None:
        """Begin to answer, with the files of the page by their path, ``/`` among them."""
        self._server.site = _Site(
            board=self._board,
            keys=self._keys,
            files=files,
            access=Access(hosts=self._hosts, pages=frozenset(files), token=self._token),
        )
        self._thread = threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True
        )
        self._thread.start()

    def close(self, timeout_s: float = 0.3) -> None:
        """Let the viewers have the last snapshot, and stop; nobody is waited for any longer."""
        self._board.close()
        self._board.wait_until_empty(timeout_s)
        if self._thread is not None:
            self._server.shutdown()
        self._server.server_close()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Site:
    board: Board
    keys: DisplayKeys
    files: Mapping[str, PageFile]
    access: Access


def _bound(address: str) -> _Listener:
    kind = _Listener6 if ":" in address else _Listener
    for port in (PREFERRED_PORT, 0):
        try:
            return kind((address, port), _Handler)
        except OSError as exc:
            reason = exc.strerror or str(exc)
    raise InputError(
        f"The display cannot be shown at {address} ({reason}).",
        hint="Name an address that this computer has, or leave --display-on out.",
    )


class _Listener(socketserver.ThreadingTCPServer):
    daemon_threads = True
    block_on_close = False
    request_queue_size = 32
    # Elsewhere this only skips the wait after an earlier run; on Windows it shares the port.
    allow_reuse_address = sys.platform != "win32"
    site: _Site

    def __init__(self, *args: Any) -> None:
        self._free = threading.BoundedSemaphore(MOST_CONNECTIONS)
        super().__init__(*args)

    def server_bind(self) -> None:
        if sys.platform == "win32":
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        super().server_bind()

    def process_request(self, request: Any, client_address: Any) -> None:
        if self._free.acquire(blocking=False):
            super().process_request(request, client_address)
        else:
            self.shutdown_request(request)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._free.release()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing: the job goes on whatever a viewer does."""


class _Listener6(_Listener):
    address_family = socket.AF_INET6


class _Head(io.RawIOBase):
    """Reads a request: so many bytes at most, and all of it within ``ASK_S``."""

    def __init__(self, connection: socket.socket) -> None:
        self._connection = connection
        self._until_s = time.monotonic() + ASK_S
        self._left = MOST_HEAD_BYTES

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        left_s = self._until_s - time.monotonic()
        if left_s <= 0.0 or not self._left:
            raise TimeoutError
        self._connection.settimeout(left_s)
        n_read = self._connection.recv_into(memoryview(buffer)[: self._left])
        self._left -= n_read
        return n_read


class _Handler(BaseHTTPRequestHandler):
    server: _Listener
    protocol_version = "HTTP/1.1"
    error_message_format = ""
    connection: socket.socket

    def setup(self) -> None:
        super().setup()
        self.rfile = io.BufferedReader(_Head(self.connection))

    def handle(self) -> None:
        with suppress(OSError):  # the viewer has gone
            self.handle_one_request()  # and no second one: every answer closes its connection
            self._hear_out()

    def _hear_out(self) -> None:
        """Take what is still coming, a little: closing over it would tear up the answer."""
        self.connection.shutdown(socket.SHUT_WR)
        self.connection.settimeout(GOODBYE_S)
        for _ in range(MOST_HEAD_BYTES // 1024):
            if not self.connection.recv(1024):
                return

    def parse_request(self) -> bool:
        """Read the head, and refuse before a verb is looked at."""
        if not super().parse_request():
            return False
        self.close_connection = True
        refused = self.server.site.access.refuse(
            RequestHead(verb=self.command, path=self.path, headers=tuple(self.headers.items()))
        )
        if refused is not None:
            self._answer(refused)
        return refused is None

    def handle_expect_100(self) -> bool:
        """Promise nothing; the request is refused right after."""
        return True

    def do_GET(self) -> None:
        if self.path == STREAM:
            self._stream()
        else:
            file = self.server.site.files[self.path]
            self._answer(200, file.data, file.media_type)

    def do_POST(self) -> None:
        assert self.path == ACT
        wanted = int(self.headers["Content-Length"])
        body = self.rfile.read(wanted)
        try:
            said = json.loads(body) if len(body) == wanted else None
        except ValueError:
            said = None
        site = self.server.site
        self._answer(press(said, site.board.newest, site.keys))

    def _stream(self) -> None:
        viewing = self.server.site.board.join()
        if viewing is None:
            self._answer(_FULL)
            return
        with viewing:
            self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_BYTES)
            self.connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self.connection.settimeout(ASK_S)
            self._begin(200, "application/x-ndjson")
            while not viewing.is_over:
                self.wfile.write(viewing.take(HEARTBEAT_S))

    def _answer(self, code: int, data: bytes = b"", media_type: str = "text/plain") -> None:
        self._begin(code, media_type, len(data))
        if self.command != "HEAD":
            self.wfile.write(data)

    def _begin(self, code: int, media_type: str, length: int | None = None) -> None:
        self.request_version = self.protocol_version  # also where none could be read
        self.send_response_only(code)
        for name, value in _HEADERS.items():
            self.send_header(name, value)
        self.send_header("Content-Type", media_type)
        if length is not None:
            self.send_header("Content-Length", str(length))
        self.end_headers()

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Answer with the code alone: the library's own answer repeats what was asked."""
        self._answer(code)

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: the screen belongs to the job."""
