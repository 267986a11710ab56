"""Speak to an address that somebody else gave us: a push service, a practice's gateway.

Owns what such an address may be and how long it may take. Only https; only hosts that are public on the internet,
checked at the moment of connecting and connected to as checked, so that no name can lead elsewhere in between.
Nothing is followed, little is read, and the whole conversation ends in time. It must not know what is said.
"""

from __future__ import annotations

import http.client
import io
import ipaddress
import re
import socket
import ssl
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from time import monotonic
from typing import Any, cast
from urllib.parse import SplitResult, urlsplit

from companion.delivery.base import DeliveryError

LONGEST_URL = 2000
MOST_READ = 32_768
"""Of an answer only its head counts; one that is larger than this [bytes] is none."""
_PLAIN = re.compile(r"[\x21-\x7e]+")
_NAT64 = ipaddress.IPv6Network("64:ff9b::/96")  # RFC 6052: an IPv4 address as an IPv6-only network sees it


@dataclass(frozen=True)
class Outgoing:
    """What an outgoing request may do."""

    loopback: bool = False
    """This machine and plain http are allowed as well: for tests, and for a gateway on the same machine."""
    patience_s: float = 8.0
    """How long all of one conversation may take [s]: it ends within a claim's lease."""


class Refused(DeliveryError):
    """We do not speak to this address. It is never final: a name may be mended, and a setting."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason, permanent=False)


def check_url(url: str, limits: Outgoing) -> SplitResult:
    """Take an address apart. Raises Refused for one that we would never call."""
    if len(url) > LONGEST_URL or not _PLAIN.fullmatch(url) or "\\" in url:
        raise Refused("not one plain address")
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as error:
        raise Refused("not one plain address") from error
    if parts.scheme != "https" and not (parts.scheme == "http" and limits.loopback):
        raise Refused("not https")
    if not parts.hostname or "@" in parts.netloc or "%" in parts.netloc or port == 0:
        raise Refused("not one plain host")
    literal = _as_address(parts.hostname)
    if literal is not None and not _may_reach(literal, limits):
        raise Refused("an address inside a private network")
    return parts


def post(url: str, body: bytes, headers: Mapping[str, str], limits: Outgoing) -> int:
    """Send ``body`` and return the status of the answer. Raises DeliveryError where none comes, or too late."""
    until = monotonic() + limits.patience_s
    parts = check_url(url, limits)
    secure = parts.scheme == "https"
    port = parts.port or (443 if secure else 80)
    host = cast(str, parts.hostname)
    try:
        addresses = _resolve(host, port, until)
        if not all(_may_reach(one, limits) for one, _ in addresses):
            raise Refused("a name that leads into a private network")
        line = _connect(addresses, until)
        try:
            if secure:
                line = _encrypted(line, host, until)
            return _ask(_Line(line, until), parts, port, body, headers)
        finally:
            line.close()
    except (http.client.HTTPException, OSError, ValueError) as error:
        raise DeliveryError(_told(error), permanent=False) from error


def _ask(line: _Line, parts: SplitResult, port: int, body: bytes, headers: Mapping[str, str]) -> int:
    talk = http.client.HTTPConnection(cast(str, parts.hostname), port)
    talk.default_port = 443 if parts.scheme == "https" else 80
    talk.auto_open = 0
    talk.sock = line
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    talk.request("POST", path, body, {**headers, "Connection": "close"})
    return talk.getresponse().status


class _Line:
    """A connection that gives up in time and reads little: what ``http.client`` asks of a socket, and no more."""

    def __init__(self, line: socket.socket, until: float) -> None:
        self._line, self._until, self._room = line, until, MOST_READ

    def sendall(self, data: Any) -> None:
        self._line.settimeout(_left(self._until))
        self._line.sendall(data)

    def makefile(self, mode: str, *_: Any) -> io.BufferedReader:
        return io.BufferedReader(cast(io.RawIOBase, _Reader(self)))

    def read_into(self, buffer: memoryview) -> int:
        if self._room <= 0:
            raise OSError("the answer is too large")
        self._line.settimeout(_left(self._until))
        count = self._line.recv_into(buffer[: self._room])
        self._room -= count
        return count

    def close(self) -> None:
        self._line.close()


class _Reader(io.RawIOBase):
    def __init__(self, line: _Line) -> None:
        self._line = line

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        return self._line.read_into(memoryview(buffer))


_Address = ipaddress.IPv4Address | ipaddress.IPv6Address


def _resolve(host: str, port: int, until: float) -> list[tuple[_Address, tuple[Any, ...]]]:
    """Ask what a name stands for. The system's resolver knows no time limit, so it is asked on the side."""
    answers: list[Any] = []

    def ask() -> None:
        try:
            answers.extend(socket.getaddrinfo(host, port, type=socket.SOCK_STREAM))
        except (OSError, UnicodeError) as error:
            answers.append(error)

    asker = threading.Thread(target=ask, daemon=True)
    asker.start()
    asker.join(_left(until))
    if asker.is_alive():
        raise TimeoutError("the name was not found in time")
    if not answers or isinstance(answers[0], Exception):
        raise OSError("the name was not found")
    return [(ipaddress.ip_address(target[0].partition("%")[0]), target) for *_, target in answers]


def _connect(addresses: list[tuple[_Address, tuple[Any, ...]]], until: float) -> socket.socket:
    """Connect to the first address that answers, as it was checked; a slow one leaves time for the next."""
    trouble: OSError = OSError("the name was not found")
    for index, (_, target) in enumerate(addresses):
        share = _left(until) / (len(addresses) - index)
        family = socket.AF_INET6 if len(target) == 4 else socket.AF_INET
        line = socket.socket(family, socket.SOCK_STREAM)
        line.settimeout(share)
        try:
            line.connect(target)
        except OSError as error:
            line.close()
            trouble = error
        else:
            return line
    raise trouble


def _encrypted(line: socket.socket, host: str, until: float) -> socket.socket:
    line.settimeout(_left(until))
    return ssl.create_default_context().wrap_socket(line, server_hostname=host)


def _left(until: float) -> float:
    left = until - monotonic()
    if left <= 0:
        raise TimeoutError("no answer in time")
    return left


def _as_address(host: str) -> _Address | None:
    """Read a host as an address, in every spelling that the system's resolver takes for one (``0x7f.1``)."""
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        pass
    try:
        return ipaddress.IPv4Address(socket.inet_aton(host))
    except OSError:
        return None


def _may_reach(address: _Address, limits: Outgoing) -> bool:
    if isinstance(address, ipaddress.IPv6Address):
        inner = address.ipv4_mapped or address.sixtofour
        if inner is None and address in _NAT64:
            inner = ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
        if inner is not None:
            return _is_public(inner)
    return _is_public(address) or (limits.loopback and address.is_loopback)


def _is_public(address: _Address) -> bool:
    odd = address.is_multicast or address.is_reserved or address.is_unspecified or address.is_link_local
    site = isinstance(address, ipaddress.IPv6Address) and address.is_site_local
    return address.is_global and not odd and not site


def _told(error: Exception) -> str:
    """Say what went wrong, in one short line that holds no address."""
    if isinstance(error, TimeoutError):
        return "no answer in time"
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate is not good: {error.verify_message}"
    if isinstance(error, http.client.HTTPException):
        return f"what came is no answer: {type(error).__name__}"  # their bytes stay theirs
    return " ".join(f"{type(error).__name__}: {error}".split())[:200]
