"""Sends one message to a push service (RFC 8030): straight to the address that was checked, no redirect followed."""

from __future__ import annotations

import http.client
import socket
import ssl
from collections.abc import Callable, Mapping
from datetime import datetime
from urllib.parse import urlsplit

from locates.push.address import PORT, check_endpoint, public_addresses
from locates.push.encrypt import encrypt
from locates.push.refusal import NotSent
from locates.push.sender_key import Key, authorization

TIMEOUT_S = 10.0
KEPT_FOR_S = 86_400  # how long the push service keeps it for a browser that is off
LONGEST_WAIT_S = 21_600
GONE = frozenset({404, 410})  # RFC 8030 section 7.3: the subscription is no more
LATER = frozenset({408, 425, 429})
Connect = Callable[[str], ssl.SSLSocket]


def open_public(host: str) -> ssl.SSLSocket:
    """A connection to the name's public address, its certificate checked against the name. The address is
    looked up once and used as found, so that it cannot change between the check and the call."""
    trouble: Exception | None = None
    for address in public_addresses(host):
        try:
            plain = socket.create_connection((address, PORT), timeout=TIMEOUT_S)
        except OSError as wrong:
            trouble = wrong
            continue
        try:
            return ssl.create_default_context().wrap_socket(plain, server_hostname=host)
        except (OSError, ssl.SSLError):
            plain.close()
            raise
    raise NotSent(f"{host} does not answer: {trouble}")


def send(
    message: bytes,
    *,
    endpoint: str,
    receiver: bytes,
    auth: bytes,
    key: Key,
    contact: str,
    now: datetime,
    topic: str = "",
    connect: Connect = open_public,
) -> None:
    """Encrypt and send. A later message of the same `topic` (at most 32 letters of base64url) takes the place of
    one that the browser has not fetched yet. Raises NotSent, and PushError for keys that cannot be used."""
    parts = urlsplit(check_endpoint(endpoint))
    headers = {
        "Authorization": authorization(endpoint, key, contact, now),
        "Content-Encoding": "aes128gcm",
        "Content-Type": "application/octet-stream",
        "TTL": str(KEPT_FOR_S),
        "Urgency": "normal",
        **({"Topic": topic} if topic else {}),
    }
    body = encrypt(message, receiver, auth)
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    try:
        status, wait = _post(parts.hostname or "", path, headers, body, connect)
    except (OSError, ssl.SSLError, http.client.HTTPException) as wrong:
        raise NotSent(f"{parts.hostname}: {type(wrong).__name__}: {wrong}") from wrong
    if 200 <= status < 300:
        return
    if status in GONE:
        raise NotSent(f"The push service knows the subscription no more ({status}).", gone=True)
    later = wait if status in LATER or status >= 500 else None
    raise NotSent(f"{parts.hostname} answered {status}.", again_after_s=later)


def _post(host: str, path: str, headers: Mapping[str, str], body: bytes, connect: Connect) -> tuple[int, int | None]:
    """Status and the seconds of Retry-After; nothing else of the answer is read."""
    call = http.client.HTTPSConnection(host, PORT, timeout=TIMEOUT_S)
    call.sock = connect(host)
    try:
        call.request("POST", path, body, dict(headers))
        answer = call.getresponse()
        said = answer.getheader("Retry-After") or ""
        return answer.status, min(int(said), LONGEST_WAIT_S) if said.isdigit() and len(said) < 9 else None
    finally:
        call.close()
