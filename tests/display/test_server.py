"""The display on raw sockets: hostile requests, viewers that do not read, stopping, ports."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack

import pytest
from display_bench import BLANK, Shown, read_answer, shown, snapshot

from gaugelink.capture.commands import Command, DisplayKeys, KeyOrder, order_of
from gaugelink.display import server as under_test
from gaugelink.display.board import MOST_VIEWERS, Board
from gaugelink.display.server import DisplayServer
from gaugelink.errors import InputError


@pytest.fixture(name="display")
def display_fixture() -> Iterator[Shown]:
    with shown() as up:
        yield up


def begun(display: Shown) -> socket.socket:
    """Open a stream and read no more than its head."""
    wire = socket.create_connection(display.address, timeout=10)
    wire.sendall(
        f"GET /stream HTTP/1.1\r\nHost: {display.server.host}\r\n"
        f"Authorization: Bearer {display.token}\r\n\r\n".encode()
    )
    seen = b""
    while b"\r\n\r\n" not in seen:
        seen += wire.recv(1)
    assert b" 200 " in seen
    return wire


def test_the_page_comes_with_every_guard(display: Shown) -> None:
    answer = display.ask(without=("authorization",))
    assert (answer.code, answer.body) == (200, BLANK["/"].data)
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["connection"] == "close"
    assert not {"server", "date", "set-cookie", "access-control-allow-origin"} & {*answer.headers}


def test_the_token_is_not_in_the_page_nor_in_a_path(display: Shown) -> None:
    assert len(display.token) >= 22  # 128 bits
    assert display.token.encode() not in display.ask().body
    assert display.server.url == f"http://{display.server.host}/#k={display.token}"


PRESS = {"verb": "POST", "path": "/act", "body": b"{}"}
HOSTILE = [
    ("no host", {"without": ("host",)}, 421),
    ("the host of another", {"host": "bench.example:80"}, 421),
    ("our address, another port", {"host": "127.0.0.1:1"}, 421),
    ("a second host", {"more": b"Host: bench.example\r\n"}, 421),
    ("another host on a path that is not there", {"path": "/x", "host": "bench.example"}, 421),
    ("another host with an unknown verb", {"verb": "BREW", "host": "bench.example"}, 421),
    ("an unknown verb", {"verb": "BREW"}, 405),
    ("a path upwards", {"path": "/../../etc/passwd"}, 404),
    ("a path that is coded", {"path": "/%2e%2e/secret"}, 404),
    ("a whole address as the path", {"path": "http://bench.example/"}, 404),
    ("a query", {"path": "/?k=1"}, 404),
    ("a page from elsewhere", {"path": "/stream", "origin": "http://bench.example"}, 403),
    ("a page on another port", {"path": "/stream", "origin": "http://127.0.0.1"}, 403),
    ("an opaque page", {"path": "/stream", "origin": "null"}, 403),
    ("a cross-site frame", {"sec_fetch_site": "cross-site"}, 403),
    ("a same-site page", {"path": "/stream", "sec_fetch_site": "same-site"}, 403),
    ("no token", {"path": "/stream", "without": ("authorization",)}, 401),
    ("a wrong token", {"path": "/stream", "authorization": "Bearer 0000"}, 401),
    ("a token not in ASCII", {"path": "/stream", "authorization": "Bearer \xe4\xff"}, 401),
    ("two tokens", {"path": "/stream", "more": b"Authorization: Bearer 1\r\n"}, 401),
    ("a stream that is posted to", {"verb": "POST", "path": "/stream", "body": b"{}"}, 405),
    ("a button that is got", {"path": "/act"}, 405),
    ("a body on a GET", {"more": b"Content-Length: 3\r\n", "body": b"abc"}, 400),
    ("two lengths", {**PRESS, "more": b"Content-Length: 9\r\n"}, 400),
    ("chunks", {**PRESS, "transfer_encoding": "chunked"}, 400),
    ("chunks on a GET", {"transfer_encoding": "chunked"}, 400),
    ("a promise asked for", {**PRESS, "expect": "100-continue"}, 400),
    ("a signed length", {**PRESS, "content_length": "+2"}, 400),
    ("no length", {**PRESS, "without": ("content-length",)}, 411),
    ("too long", {**PRESS, "body": b" " * 501}, 413),
    ("far too long", {**PRESS, "content_length": "9" * 30}, 413),
    ("a form", {**PRESS, "content_type": "text/plain"}, 415),
    ("no JSON", {**PRESS, "body": b"undo"}, 400),
    ("no command", {**PRESS, "body": b'{"command": "delete", "run": ""}'}, 400),
    ("a list", {**PRESS, "body": b"[1]"}, 400),
]  # fmt: skip


@pytest.mark.parametrize(
    ("request_", "code"), [h[1:] for h in HOSTILE], ids=[h[0] for h in HOSTILE]
)
def test_a_hostile_request_is_refused(
    display: Shown, request_: dict[str, object], code: int
) -> None:
    answer = display.ask(**request_)  # type: ignore[arg-type]
    assert (answer.code, answer.body) == (code, b"")
    assert display.keys.poll(0.0) == ()
    assert display.ask().code == 200


@pytest.mark.parametrize(
    "data",
    [
        b"\r\n\r\n",
        b"GET /\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",  # a browser that tries TLS
        b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 200 + b"\r\n",
        b"GET / HTTP/1.1\r\nX: " + b"y" * 20_000 + b"\r\n\r\n",
        b"GET /" + b"a" * 70_000 + b" HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nBad header\r\n\r\n",
    ],
    ids=["nothing", "0.9", "9.9", "tls", "many headers", "long header", "long line", "no colon"],
)  # fmt: skip
def test_what_is_not_a_request_costs_nothing(
    display: Shown, data: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    try:
        answer = display.raw(data)
    except ConnectionError:  # torn up with bytes of ours unread
        pass
    else:
        assert answer.code not in (200, 202)
        assert b"<" not in answer.body
    assert display.ask().code == 200
    assert capfd.readouterr() == ("", "")


def test_nothing_of_a_request_comes_back(display: Shown) -> None:
    answer = display.raw(b"GET /<b>eggs</b> SPAM/1.1\r\nHost: eggs\r\n\r\n")
    assert answer.code == 400
    assert b"eggs" not in answer.body + json.dumps(dict(answer.headers)).encode()


@pytest.mark.parametrize("sent", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: "])
def test_a_slow_request_is_let_go(sent: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(under_test, "ASK_S", 0.4)
    with shown() as display, socket.create_connection(display.address, timeout=10) as wire:
        begun_s = time.monotonic()
        wire.sendall(sent)
        assert read_answer(wire).code == 0
        assert time.monotonic() - begun_s < 5.0


def test_a_request_that_drips_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each byte comes in time, the whole does not."""
    monkeypatch.setattr(under_test, "ASK_S", 0.5)
    with shown() as display, socket.create_connection(display.address, timeout=10) as wire:
        begun_s = time.monotonic()
        with pytest.raises(OSError):
            while time.monotonic() - begun_s < 8.0:
                wire.sendall(b"X")
                time.sleep(0.05)
        assert time.monotonic() - begun_s < 5.0


def test_many_connections_leave_room_for_the_job(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(under_test, "MOST_CONNECTIONS", 4)
    with shown() as display, ExitStack() as held:
        for _ in range(4):
            held.enter_context(socket.create_connection(display.address, timeout=10))
        time.sleep(0.3)
        with socket.create_connection(display.address, timeout=10) as fifth:
            assert read_answer(fifth).code == 0
        assert threading.active_count() < 12


def test_the_stream_sends_whole_lines_and_a_heartbeat(
    display: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(under_test, "HEARTBEAT_S", 0.2)
    with begun(display) as wire, wire.makefile("rb") as lines:
        assert json.loads(lines.readline())["ask"]["word"] == "BORE"
        display.board.lay(snapshot(seq=2, place="depth"))
        assert json.loads(lines.readline())["place"] == "depth"
        assert lines.readline() == b"\n"


def test_an_act_is_sent_at_once_and_figures_are_not_more_often_than_they_are_read(
    display: Shown,
) -> None:
    with begun(display) as wire, wire.makefile("rb") as lines:
        lines.readline()
        for seq in range(2, 202):
            display.board.lay(snapshot(seq=seq))
            time.sleep(0.002)
        display.board.lay(snapshot(seq=1000), urgent=True)
        begun_s, seqs = time.monotonic(), [0]
        while seqs[-1] != 1000:
            seqs.append(json.loads(lines.readline())["seq"])
        assert time.monotonic() - begun_s < 1.0
        assert len(seqs) < 25  # of 201 in half a second; loaded machines take longer to lay them


def test_the_ninth_viewer_is_told_so(display: Shown) -> None:
    with ExitStack() as held:
        for _ in range(MOST_VIEWERS):
            held.enter_context(begun(display))
        assert display.ask(path="/stream").code == 503
    display.board.lay(snapshot())
    until_s = time.monotonic() + 5.0
    while display.board.n_viewers and time.monotonic() < until_s:
        display.board.lay(snapshot())
        time.sleep(0.02)
    assert display.board.n_viewers == 0


def test_buttons_reach_the_job_as_keys_do(display: Shown) -> None:
    for command in ("undo", "skip", "stop"):
        assert display.press(command=command).code == 202
    heard = [each for _ in range(3) for each in display.keys.poll(1.0)]
    assert [order_of(each.body.raw) for each in heard] == [
        KeyOrder(command=Command.UNDO, about=41),
        KeyOrder(command=Command.SKIP, about=41),
        KeyOrder(command=Command.STOP),
    ]


@pytest.mark.parametrize(
    "said",
    [
        {"about": 40},
        {"run": "earlier"},
        {"command": "skip", "about": 42},
        {"command": "stop", "run": ""},
    ],
    ids=["another reading", "another run", "another step", "stop of another run"],
)
def test_a_stale_button_is_refused(display: Shown, said: dict[str, object]) -> None:
    assert display.press(**said).code == 409
    assert display.keys.poll(0.0) == ()


def test_what_can_not_be_done_now_is_refused(display: Shown) -> None:
    display.board.lay(snapshot(can=["stop"]))
    assert display.press().code == 409
    assert display.press(command="stop", about=0).code == 202


def test_the_job_never_waits_for_a_viewer_that_does_not_read(display: Shown) -> None:
    with begun(display):
        slowest_s = 0.0
        long = snapshot(next="x" * 4000)
        for seq in range(3000):
            begun_s = time.monotonic()
            display.board.lay({**long, "seq": seq}, urgent=True)
            slowest_s = max(slowest_s, time.monotonic() - begun_s)
        assert slowest_s < 1.0  # what blocks here blocks for seconds


def test_stopping_waits_for_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    with shown() as display, begun(display):
        for seq in range(200):  # until the viewer's buffers are full
            display.board.lay(snapshot(seq=seq, next="x" * 20_000), urgent=True)
            time.sleep(0.002)
        begun_s = time.monotonic()
        display.server.close()
        assert time.monotonic() - begun_s < 3.0


def test_a_viewer_that_reads_gets_the_last_snapshot_when_it_stops(display: Shown) -> None:
    with begun(display) as wire, wire.makefile("rb") as lines:
        lines.readline()
        display.board.lay(snapshot(seq=99, phase="ended"), urgent=True)
        display.server.close()
        assert json.loads(lines.readline())["phase"] == "ended"
        assert lines.readline() == b""


def test_a_process_ends_although_somebody_still_looks() -> None:
    code = (
        "import sys; sys.path.insert(0, 'tests/display')\n"
        "from display_bench import shown\n"
        "with shown() as display:\n"
        "    print(*display.address, display.token, flush=True); sys.stdin.read()\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdin is not None and process.stdout is not None
    host, port, token = process.stdout.readline().split()
    with socket.create_connection((host, int(port)), timeout=10) as wire:
        wire.sendall(
            f"GET /stream HTTP/1.1\r\nHost: {host}:{port}\r\n"
            f"Authorization: Bearer {token}\r\n\r\n".encode()
        )
        assert wire.recv(10)
        process.stdin.close()
        assert process.wait(10) == 0
    process.stdout.close()


def test_no_name_is_looked_up(monkeypatch: pytest.MonkeyPatch) -> None:
    def dead(*args: object) -> str:
        raise AssertionError("a dead resolver holds for 35 s")

    for name in ("getfqdn", "gethostbyaddr", "gethostname"):
        monkeypatch.setattr(socket, name, dead)
    with shown() as display:
        assert display.ask().code == 200


def test_a_port_in_use_is_not_shared_nor_printed() -> None:
    with shown() as first, shown() as second:
        assert first.server.host != second.server.host
        assert second.ask(path="/stream", authorization=f"Bearer {first.token}").code == 401
        assert second.ask().code == 200


def test_an_address_of_another_computer_is_said() -> None:
    board = Board()
    with pytest.raises(InputError, match="cannot be shown"):
        DisplayServer(board, DisplayKeys(), "192.0.2.1")


def test_the_other_family_is_written_in_brackets() -> None:
    try:
        socket.create_server(("::1", 0), family=socket.AF_INET6).close()
    except OSError:
        pytest.skip("no IPv6 on this machine")
    with shown(address="::1") as display:
        assert display.server.url.startswith("http://[::1]:")
        assert display.ask().code == 200
        assert display.ask(host=f"localhost:{display.address[1]}").code == 200
