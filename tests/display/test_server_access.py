"""Who is let in: the rules one by one, and the addresses that may be named."""

from __future__ import annotations

import pytest

from gaugelink.display.server import (
    Access,
    Refused,
    RequestHead,
    address_line,
    concrete_address,
    host_of,
    hosts_of,
)
from gaugelink.errors import InputError

HOST, TOKEN = "192.168.1.20:8737", "abc"
DOOR = Access(hosts=frozenset({HOST}), pages=frozenset({"/"}), token=TOKEN)


def got(path: str = "/", **headers: str) -> RequestHead:
    sent = {"Host": HOST} | {name.replace("_", "-"): value for name, value in headers.items()}
    return RequestHead(verb="GET", path=path, headers=tuple(sent.items()))


def test_the_page_is_open_and_the_stream_wants_the_token() -> None:
    assert DOOR.refuse(got()) is None
    assert DOOR.refuse(got("/stream")) is Refused.NO_TOKEN
    assert DOOR.refuse(got("/stream", Authorization="Bearer abc")) is None
    assert DOOR.refuse(got("/stream", Authorization="Bearer abcd")) is Refused.NO_TOKEN
    assert DOOR.refuse(got("/stream", Authorization="abc")) is Refused.NO_TOKEN


def test_a_name_in_capitals_is_the_same_name() -> None:
    door = Access(hosts=hosts_of("127.0.0.1", 80), pages=frozenset({"/"}), token=TOKEN)
    assert door.refuse(got(Host="LocalHost:80", Origin="http://localhost:80")) is None
    assert door.refuse(got(Host="localhost:80", Origin="http://127.0.0.1:80")) is not None


def test_the_word_localhost_is_for_loopback_only() -> None:
    assert hosts_of("127.0.0.1", 5) == {"127.0.0.1:5", "localhost:5"}
    assert hosts_of("192.168.1.20", 5) == {"192.168.1.20:5"}
    assert hosts_of("::1", 5) == {"[::1]:5", "localhost:5"}


def test_an_https_page_is_a_foreign_page() -> None:
    assert DOOR.refuse(got(Origin=f"https://{HOST}")) is Refused.FOREIGN_PAGE


@pytest.mark.parametrize(
    "text",
    [
        *("0.0.0.0", "::", "224.0.0.1", "255.255.255.255", "fe80::1%2", "::ffff:1.2.3.4"),
        *("bench.local", "localhost", "", "192.168.1", "192.168.1.20:80", "http://192.168.1.20"),
    ],
)
def test_only_one_address_in_figures_is_accepted(text: str) -> None:
    with pytest.raises(InputError) as raised:
        concrete_address(text)
    assert raised.value.hint


@pytest.mark.parametrize(
    ("text", "host"),
    [
        ("192.168.1.20", "192.168.1.20:8"),
        ("FD00::0:1", "[fd00::1]:8"),
        (" 127.0.0.1 ", "127.0.0.1:8"),
    ],
)
def test_an_address_is_written_as_a_browser_wants_it(text: str, host: str) -> None:
    assert host_of(concrete_address(text), 8) == host
    assert address_line(host, "t") == f"http://{host}/#k=t"
