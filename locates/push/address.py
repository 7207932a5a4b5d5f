"""Which addresses a message may be sent to: a push service out there, nothing inside (no forged requests)."""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import urlsplit

from locates.push.refusal import NotSent, PushError

LONGEST = 1_000
PORT = 443
# Names that lead inside by agreement: RFC 6761, RFC 6762, RFC 8375, RFC 7686, ICANN's reservation of .internal.
INSIDE = ("localhost", "local", "internal", "invalid", "test", "example", "home.arpa", "onion", "lan", "intranet")
# Addresses that carry another one within: a translator or tunnel may lead them inside.
CARRIERS = tuple(ipaddress.ip_network(net) for net in ("64:ff9b::/96", "64:ff9b:1::/48", "2002::/16", "2001::/32"))
Address = ipaddress.IPv4Address | ipaddress.IPv6Address


def check_endpoint(endpoint: str) -> str:
    """The address itself when it may be one of a push service: https, the usual port, a public name. Raises
    PushError. Where the name leads is looked up anew at each sending (`public_addresses`)."""
    words = ""
    try:
        parts = urlsplit(endpoint)
        port, host = parts.port, (parts.hostname or "").rstrip(".").casefold()
    except ValueError:
        parts, port, host = urlsplit(""), None, ""
    if len(endpoint) > LONGEST or not endpoint.isascii() or any(c.isspace() for c in endpoint):
        words = f"That is no address; give at most {LONGEST} characters without spaces."
    elif parts.scheme != "https" or port not in {None, PORT}:
        words = "The address must begin with https and use the usual port."
    elif parts.username is not None or parts.password is not None or parts.fragment:
        words = "The address must hold no log-in and no fragment."
    elif not host or "." not in host or _is_number(host):
        words = "The address must name a host of the open internet."
    elif any(host == name or host.endswith(f".{name}") for name in INSIDE):
        words = f"{host} is a name inside a network; a push service has a public one."
    if words:
        raise PushError(words, fields={"endpoint": words})
    return endpoint


def _is_number(host: str) -> bool:
    """An IP address in any writing that a resolver takes: also 2130706433 and 0x7f.1."""
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return host.rsplit(".", 1)[-1][:1].isdigit() or host.rsplit(".", 1)[-1].startswith("0x")
    return True


def is_public(address: Address) -> bool:
    """Whether it lies on the open internet."""
    mapped = getattr(address, "ipv4_mapped", None)
    if mapped is not None:
        return is_public(mapped)
    carried = isinstance(address, ipaddress.IPv6Address) and any(address in net for net in CARRIERS)
    return address.is_global and not address.is_multicast and not carried


def public_addresses(host: str) -> list[str]:
    """Where the name leads; all of it must lie outside, else it is not called at all. Raises NotSent."""
    try:
        found = socket.getaddrinfo(host, PORT, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as wrong:
        raise NotSent(f"{host} is not found: {wrong}") from wrong
    addresses = list(dict.fromkeys(str(row[4][0]) for row in found))
    inside = [text for text in addresses if not is_public(ipaddress.ip_address(text.partition("%")[0]))]
    if inside or not addresses:
        raise NotSent(
            f"{host} leads to {', '.join(inside) or 'nowhere'}, which is not on the open internet.", gone=True
        )
    return addresses
