"""Which addresses may be fetched: the web's schemes, known hosts, and the public network alone.

A name is resolved before it is asked, and the connection is made to an address that was checked,
so that a name cannot point elsewhere between the check and the connection.
"""

import ipaddress
import socket
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

import httpcore
import httpx

from service.errors import ReedgateError

Resolve = Callable[[str, int], Sequence[str]]
"""Host and port to numeric addresses."""

_PORTS = {"http": 80, "https": 443}
_NAT64 = ipaddress.ip_network("64:ff9b::/96")
_SPECIAL = (ipaddress.ip_network("192.0.0.0/24"), ipaddress.ip_network("2001::/23"))
"""Special-purpose blocks (IANA registries) that some Python releases count as global."""


class AddressRefused(ReedgateError):
    """An address that is not fetched, and why."""

    title = "The address is not fetched"


@dataclass(frozen=True, slots=True)
class Site:
    """A scheme and a host that may be asked."""

    scheme: str
    host: str
    port: int


def site_of(url: str) -> Site:
    """Scheme, host and port of an address.

    Raises:
        AddressRefused: not an address of the web, or with a user name in it.
    """
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as error:
        raise AddressRefused(f"{url!r} is not a well-formed address.") from error
    if parts.scheme.lower() not in _PORTS:
        raise AddressRefused(f"{url!r}: only http and https are fetched.")
    if not parts.hostname:
        raise AddressRefused(f"{url!r} names no host.")
    if parts.username is not None or parts.password is not None:
        raise AddressRefused(f"{url!r}: an address with a user name in it is not fetched.")
    if any(letter in url for letter in "\r\n\t\\") or " " in parts.netloc:
        raise AddressRefused(f"{url!r} is not a well-formed address.")
    scheme = parts.scheme.lower()
    host = parts.hostname.rstrip(".").lower()
    return Site(scheme, host, port if port is not None else _PORTS[scheme])


def sites_of(urls: Iterable[str]) -> frozenset[Site]:
    """The sites of a set of addresses; of a site known over http, https too."""
    found: set[Site] = set()
    for url in urls:
        if url:
            site = site_of(url)
            found.add(site)
            if site == Site("http", site.host, 80):
                found.add(Site("https", site.host, 443))
    return frozenset(found)


def is_public(address: str) -> bool:
    """Whether a numeric address is of the public network.

    Loopback, private, link-local, shared, multicast, reserved and documentation ranges are not,
    nor such an address inside an IPv6 one.
    """
    try:
        number = ipaddress.ip_address(address.split("%", 1)[0])
    except ValueError:
        return False
    if isinstance(number, ipaddress.IPv6Address):
        inner = number.ipv4_mapped or number.sixtofour
        if inner is None and number.teredo is not None:
            return False
        if inner is None and number in _NAT64:
            inner = ipaddress.IPv4Address(int(number) & 0xFFFFFFFF)
        if inner is not None:
            return is_public(str(inner))
        if number.is_site_local:
            return False
    return number.is_global and not (
        any(number in block for block in _SPECIAL if block.version == number.version)
        or number.is_multicast
        or number.is_reserved
        or number.is_loopback
        or number.is_link_local
        or number.is_unspecified
    )


def look_up(host: str, port: int) -> Sequence[str]:
    """The numeric addresses of a host, by the system's resolver."""
    rows = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(row[4][0]) for row in rows))


def public_addresses(host: str, port: int, resolve: Resolve | None = None) -> Sequence[str]:
    """The addresses of a host, all of them public.

    Raises:
        AddressRefused: it cannot be found, or any of its addresses is not public.
    """
    if _is_numeric_in_disguise(host):
        raise AddressRefused(f"{host!r} is not a host name.")
    try:
        found = (resolve or look_up)(host, port)
    except OSError as error:
        raise AddressRefused(f"The host {host!r} cannot be found.") from error
    if not found:
        raise AddressRefused(f"The host {host!r} cannot be found.")
    for address in found:
        if not is_public(address):
            raise AddressRefused(
                f"The host {host!r} is at {address}, which is not an address of the public network."
            )
    return found


def _is_numeric_in_disguise(host: str) -> bool:
    """``2130706433``, ``0x7f.1`` and ``127.1`` are addresses to some resolvers."""
    if "." in host:
        last = host.rsplit(".", 1)[1]
        looks = last.isdigit() or last.startswith("0x")
    else:
        looks = host.isdigit() or host.startswith("0x")
    if not looks or ":" in host:
        return False
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return True
    return False


class PublicBackend(httpcore.SyncBackend):
    """Connects to public addresses alone."""

    def __init__(self, resolve: Resolve | None = None) -> None:
        self._resolve = resolve

    def connect_tcp(
        self,
        host: str,
        port: int,
        timeout: float | None = None,
        local_address: str | None = None,
        socket_options: Iterable[httpcore.SOCKET_OPTION] | None = None,
    ) -> httpcore.NetworkStream:
        problem: httpcore.ConnectError | None = None
        for address in public_addresses(host, port, self._resolve):
            try:
                return super().connect_tcp(address, port, timeout, local_address, socket_options)
            except httpcore.ConnectError as error:
                problem = error
        raise problem or httpcore.ConnectError(f"{host} has no address")


class PublicTransport(httpx.HTTPTransport):
    """An httpx transport whose connections go to public addresses alone."""

    def __init__(self, resolve: Resolve | None = None) -> None:
        super().__init__(retries=0)
        self._pool = httpcore.ConnectionPool(
            ssl_context=httpx.create_ssl_context(),
            max_connections=1,
            network_backend=PublicBackend(resolve),
        )


def public_client(resolve: Resolve | None = None) -> httpx.Client:
    """A client for the public network: no proxy of the environment, no redirect followed by
    itself.
    """
    return httpx.Client(
        transport=PublicTransport(resolve), follow_redirects=False, trust_env=False, cookies=None
    )
