"""Who may ask the display for what: pure rules on one request, and which addresses may be bound.

The address the request was sent to comes first, on every path and verb: a foreign name that was
made to lead here (DNS rebinding) passes every later rule. Then the page it comes from, then the
token, which is new in each run and asked for on loopback too: there are other users and programs.
Framing is refused wherever it could be read in two ways (RFC 9112, 6.3).
"""

from __future__ import annotations

import hmac
import ipaddress
import re
from dataclasses import dataclass
from enum import IntEnum

from gaugelink.errors import InputError

LOOPBACK = "127.0.0.1"
MOST_BODY_BYTES = 500
STREAM, ACT = "/stream", "/act"
_DIGITS = re.compile(r"[0-9]{1,4}", re.ASCII)
_OWN_SITE = ("same-origin", "none")  # "none": typed, scanned, or opened by another program


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
