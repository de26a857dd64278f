"""A display to look at and to talk to: a server with a made-up job, and requests byte by byte."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from gaugelink.capture.commands import DisplayKeys
from gaugelink.display.board import Board
from gaugelink.display.server import DisplayServer, PageFile

RUN = "9f3c11aa"
BLANK = {"/": PageFile(media_type="text/html; charset=utf-8", data=b"<!DOCTYPE html><p>page")}


def snapshot(**changed: Any) -> dict[str, Any]:
    """A snapshot of an invented job in the middle of its bore."""
    return {
        "v": 1,
        "run": RUN,
        "seq": 1,
        "job": {"id": 7, "title": "bag 112"},
        "phase": "measuring",
        "ask": {
            "id": "bore-2",
            "word": "BORE",
            "below": "",
            "n": 2,
            "m": 5,
            "cue": "inside jaws above the hook, rock, hold",
            "spoken": "bore, two of five",
        },
        "place": "bore",
        "gauge": {
            "kind": "caliper",
            "live": "11.43",
            "unit": "mm",
            "do": "hold",
            "still": 0.64,
            "full_in_ms": 540,
        },
        "others": [{"kind": "micrometer", "live": "0.112", "unit": "mm", "line": "lid 1 of 3"}],
        "next": "depth",
        "unserved": [],
        "acts": [],
        "about": 41,
        "can": ["undo", "skip", "stop"],
        "answer": None,
        **changed,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A display that is up."""

    board: Board
    keys: DisplayKeys
    server: DisplayServer

    @property
    def address(self) -> tuple[str, int]:
        host, _, port = self.server.host.rpartition(":")
        return host.strip("[]"), int(port)

    @property
    def token(self) -> str:
        return self.server.url.partition("#k=")[2]

    def ask(
        self,
        verb: str = "GET",
        path: str = "/",
        body: bytes = b"",
        *,
        without: tuple[str, ...] = (),
        more: bytes = b"",
        **headers: str,
    ) -> Answer:
        """Send a request that would be answered, with what is changed in it."""
        sent = {"host": self.server.host, "authorization": f"Bearer {self.token}"}
        if verb == "POST":
            sent |= {"content-type": "application/json", "content-length": str(len(body))}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        lines = [f"{name}: {value}" for name, value in sent.items() if name not in without]
        head = "\r\n".join([f"{verb} {path} HTTP/1.1", *lines]).encode("latin-1")
        return self.raw(head + b"\r\n" + more + b"\r\n" + body)

    def press(self, **said: Any) -> Answer:
        body = {"command": "undo", "run": RUN, "about": 41, **said}
        return self.ask("POST", "/act", json.dumps(body).encode())

    def raw(self, data: bytes) -> Answer:
        """Send bytes and read until the display closes the connection."""
        with socket.create_connection(self.address, timeout=10) as wire:
            wire.sendall(data)
            return read_answer(wire)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back: ``code`` 0 where nothing did."""

    code: int
    headers: Mapping[str, str]
    body: bytes


def read_answer(wire: socket.socket) -> Answer:
    received = b""
    while data := wire.recv(65536):
        received += data
    head, _, body = received.partition(b"\r\n\r\n")
    first, *lines = head.decode("latin-1").split("\r\n")
    named = (line.partition(":") for line in lines)
    headers = {name.strip().lower(): value.strip() for name, _, value in named}
    return Answer(code=int(first.split()[1]) if first else 0, headers=headers, body=body)


def following(url: str) -> Iterator[dict[str, Any]]:
    """Yield the snapshots of the display at an address, as its page gets them, until it ends."""
    where, _, token = url.removeprefix("http://").partition("/#k=")
    host, _, port = where.rpartition(":")
    with socket.create_connection((host.strip("[]"), int(port)), timeout=60) as wire:
        head = f"GET /stream HTTP/1.1\r\nHost: {where}\r\nAuthorization: Bearer {token}\r\n\r\n"
        wire.sendall(head.encode())
        with wire.makefile("rb") as lines:
            for line in lines:
                if line.startswith(b"{"):
                    yield json.loads(line) | {"bytes": len(line)}


@contextmanager
def shown(
    files: Mapping[str, PageFile] | None = None, address: str = "127.0.0.1"
) -> Iterator[Shown]:
    board = Board()
    board.lay(snapshot())
    keys = DisplayKeys()
    server = DisplayServer(board, keys, address)
    server.serve(files or BLANK)
    try:
        yield Shown(board=board, keys=keys, server=server)
    finally:
        server.close()
