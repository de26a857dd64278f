"""The display over HTTP: the page, the stream of snapshots, the buttons, and who may ask for them.

The only file that knows HTTP and sockets. Standard library only, a thread a connection. What that
server would do by itself and must not is left out here: it asks the resolver for its own name (35 s
where that is dead), shares a port on Windows, prints tracebacks onto the screen of the job, puts
words of a request into its answer, and waits for open streams when it is stopped.

``Access`` is pure rules on one request. The address it was sent to comes first, on every path and
verb: a foreign name that was made to lead here (DNS rebinding) passes every later rule. Then the
page it comes from, then the token, which is new in each run and asked for on loopback too: there
are other users and programs. Framing is refused wherever it could be read in two ways (RFC 9112,
6.3).
"""

from __future__ import annotations

import hmac
import io
import ipaddress
import json
import re
import secrets
import socket
import socketserver
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from enum import IntEnum
from http.server import BaseHTTPRequestHandler
from typing import Any, final

from gaugelink.capture.commands import DisplayKeys
from gaugelink.display.board import Board, press
from gaugelink.errors import InputError

PREFERRED_PORT = 8737  # the same each time, so that a tablet finds it again: judgement
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
LOOPBACK = "127.0.0.1"
MOST_BODY_BYTES = 500
STREAM, ACT = "/stream", "/act"
_DIGITS = re.compile(r"[0-9]{1,4}", re.ASCII)
_OWN_SITE = ("same-origin", "none")  # "none": typed, scanned, or opened by another program


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


class Refused(IntEnum):
    """Codes of HTTP for what is refused."""

    BAD_FRAMING = 400
    NO_TOKEN = 401
    FOREIGN_PAGE = 403
    NO_SUCH_PATH = 404
    WRONG_VERB = 405
    NO_LENGTH = 411
    TOO_LONG = 413
    NOT_JSON = 415
    FOREIGN_NAME = 421


@dataclass(frozen=True, slots=True, kw_only=True)
class RequestHead:
    """The head of a request; ``headers`` in the order they came, each as often as it came."""

    verb: str
    path: str
    headers: tuple[tuple[str, str], ...]

    def all(self, name: str) -> list[str]:
        """Return every value of a header, whatever its case."""
        return [value.strip() for key, value in self.headers if key.lower() == name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """What is let in.

    Args:
        hosts: the names and ports the display is reached by, as a browser writes them.
        pages: paths that anybody may read who comes by one of these names.
        token: what the stream and the buttons want besides.
    """

    hosts: frozenset[str]
    pages: frozenset[str]
    token: str

    def refuse(self, request: RequestHead) -> Refused | None:
        """Return why a request is refused, None where it is not."""
        host = request.all("host")
        if len(host) != 1 or host[0].lower() not in self.hosts:
            return Refused.FOREIGN_NAME
        if wrong := self._framing(request) or self._path(request):
            return wrong
        origins = request.all("origin")
        if any(each.lower() != f"http://{host[0].lower()}" for each in origins):
            return Refused.FOREIGN_PAGE
        if any(each not in _OWN_SITE for each in request.all("sec-fetch-site")):
            return Refused.FOREIGN_PAGE
        if request.path in self.pages:
            return None
        return self._token(request)

    def _framing(self, request: RequestHead) -> Refused | None:
        lengths = request.all("content-length")
        if request.all("transfer-encoding") or request.all("expect") or len(lengths) > 1:
            return Refused.BAD_FRAMING
        if request.verb != "POST":
            return Refused.BAD_FRAMING if lengths not in ([], ["0"]) else None
        if not lengths:
            return Refused.NO_LENGTH
        if not _DIGITS.fullmatch(lengths[0]):
            return Refused.TOO_LONG if lengths[0].isdecimal() else Refused.BAD_FRAMING
        return Refused.TOO_LONG if int(lengths[0]) > MOST_BODY_BYTES else None

    def _path(self, request: RequestHead) -> Refused | None:
        verbs = {ACT: "POST", STREAM: "GET", **dict.fromkeys(self.pages, "GET")}
        if request.path not in verbs:
            return Refused.NO_SUCH_PATH
        return None if request.verb == verbs[request.path] else Refused.WRONG_VERB

    def _token(self, request: RequestHead) -> Refused | None:
        given = request.all("authorization")
        wanted = f"Bearer {self.token}".encode()
        if len(given) != 1 or not hmac.compare_digest(given[0].encode(), wanted):
            return Refused.NO_TOKEN
        if request.path == ACT and _media_types(request) != ["application/json"]:
            return Refused.NOT_JSON
        return None


def _media_types(request: RequestHead) -> list[str]:
    return [each.partition(";")[0].strip().lower() for each in request.all("content-type")]


def concrete_address(text: str) -> str:
    """Return the one address that ``--display-on`` names.

    Raises:
        InputError: it is a name, or stands for many machines, or for all addresses of this one.
    """
    hint = "Type the address of this computer on the workshop's net, such as 192.168.1.20."
    try:
        address = ipaddress.ip_address(text.strip())
    except ValueError:
        raise InputError(f"{text!r} is not an address in figures.", hint=hint) from None
    if address.is_unspecified or address.is_multicast or str(address) == "255.255.255.255":
        raise InputError(f"{text} does not name one computer.", hint=hint)
    if isinstance(address, ipaddress.IPv6Address) and (address.scope_id or address.ipv4_mapped):
        raise InputError(f"A browser cannot be given {text}.", hint=hint)
    return str(address)


def host_of(address: str, port: int) -> str:
    """Write an address with its port as it stands in a URL."""
    return f"[{address}]:{port}" if ":" in address else f"{address}:{port}"


def hosts_of(address: str, port: int) -> frozenset[str]:
    """Return every way a browser may write where it is: on loopback the word too."""
    own = [host_of(address, port)]
    if ipaddress.ip_address(address).is_loopback:
        own.append(f"localhost:{port}")
    return frozenset(own)


def address_line(host: str, token: str) -> str:
    """Return the address for a browser; what follows the ``#`` is never sent anywhere."""
    return f"http://{host}/#k={token}"
