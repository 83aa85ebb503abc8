"""Which addresses events may go to: none inside this machine or its network, whatever a name resolves to.

The check is made when a webhook is registered and again for every delivery, which then connects to the very address
that was checked: a name may resolve to another one in between.

Sources: RFC 6890 and the IANA special-purpose registries (what ``ipaddress`` knows); RFC 4291 §2.5.5.2 (IPv4-mapped
addresses); RFC 3879 (site-local addresses); RFC 3056 (6to4); RFC 6052 (64:ff9b::/96, IPv4 behind a translator).
"""

from __future__ import annotations

import ipaddress
import socket
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import SplitResult, urlsplit

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

Address = ipaddress.IPv4Address | ipaddress.IPv6Address

_TRANSLATED = ipaddress.IPv6Network("64:ff9b::/96")
_PORTS = {"https": 443, "http": 80}


class AddressError(ValueError):
    """Events may not go there.

    Attributes:
        wanted: what kind of address is taken.
    """

    def __init__(self, wanted: str) -> None:
        self.wanted = wanted
        super().__init__(f"wanted {wanted}")


@dataclass(frozen=True)
class Target:
    """The parts of an address that matter for a connection.

    Attributes:
        scheme: "https", or "http" for a host that the operator lists.
        host: name or address literal, without brackets.
        port: of the connection.
        listed: the operator lists the host, so that it may be inside.
    """

    scheme: str
    host: str
    port: int
    listed: bool


def target_of(url: str, listed: Collection[str] = ()) -> Target:
    """Take an address apart.

    Args:
        url: the address.
        listed: hosts ("host" or "host:port") that the operator lets be inside, and be reached without encryption.

    Raises:
        AddressError: it is none that events may go to.
    """
    try:
        parts = urlsplit(url)
        port = parts.port or _PORTS.get(parts.scheme, 0)
    except ValueError:
        raise AddressError("an address with a host and a port below 65536") from None
    host = (parts.hostname or "").rstrip(".")
    allowed = host in listed or f"{host}:{port}" in listed
    _refuse_odd(url, parts, host)
    if parts.scheme != "https" and not (allowed and parts.scheme == "http"):
        raise AddressError("an address that begins with https://")
    return Target(parts.scheme, host, port, allowed)


def _refuse_odd(url: str, parts: SplitResult, host: str) -> None:
    if not url.isascii() or not url.isprintable() or " " in url or "\\" in url:
        raise AddressError(
            "an address in ASCII without spaces: other characters percent-encoded or in Punycode"
        )
    if "@" in parts.netloc:
        raise AddressError("an address without user and password")
    if parts.fragment:
        raise AddressError("an address without a fragment (#)")
    if not host or len(host) > 253:
        raise AddressError("an address with a host")


def outside(target: Target) -> list[str]:
    """The numeric addresses of a target, all of them outside.

    Raises:
        AddressError: one is inside, and the operator does not list the host.
        OSError: the name does not resolve.
    """
    found = socket.getaddrinfo(target.host, target.port, type=socket.SOCK_STREAM, proto=socket.IPPROTO_TCP)
    numeric = list(dict.fromkeys(str(entry[4][0]) for entry in found))
    if not target.listed:
        refuse_inside(numeric)
    return numeric


def refuse_inside(numeric: Iterable[str]) -> None:
    """Let numeric addresses through only if all of them are outside.

    Raises:
        AddressError: one is not.
    """
    if not all(is_outside(text) for text in numeric):
        raise AddressError(
            "an address in the public internet: this one leads inside this machine's own network, and the operator does "
            "not list its host"
        )


def is_outside(text: str) -> bool:
    """Whether a numeric address is one of the public internet, also where it wraps another one."""
    try:
        address: Address = ipaddress.ip_address(text)
    except ValueError:
        return False
    wrapped = _wrapped(address)
    if wrapped is not None:
        return is_outside(str(wrapped))
    odd = address.is_multicast or address.is_reserved or address.is_loopback or address.is_link_local
    odd = odd or (isinstance(address, ipaddress.IPv6Address) and address.is_site_local)
    return address.is_global and not odd


def _wrapped(address: Address) -> ipaddress.IPv4Address | None:
    """The IPv4 address that an IPv6 one stands for, if it does."""
    if isinstance(address, ipaddress.IPv4Address):
        return None
    if address in _TRANSLATED:
        return ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    return address.ipv4_mapped or address.sixtofour
