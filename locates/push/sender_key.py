"""The installation's own key, by which push services know who sends (RFC 8292), and its signed header."""

from __future__ import annotations

import json
import os
import secrets
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from locates.push.encrypt import from_base64url, to_base64url
from locates.push.refusal import PushError

HOLDS_FOR = timedelta(hours=12)  # RFC 8292 section 2: at most 24 hours
NUMBER_BYTES = 32
Key = ec.EllipticCurvePrivateKey


def read_key(text: str) -> Key:
    """A key of P-256: PEM, or the 32 bytes of its number as base64url. Raises PushError."""
    try:
        if "-----BEGIN" in text:
            key = load_pem_private_key(text.replace("\\n", "\n").encode(), None)
        else:
            key = _from_number(from_base64url(text.strip(), "key"))
    except (ValueError, TypeError, PushError) as wrong:
        raise PushError("The push key cannot be read; give PEM, or 32 bytes as base64url.") from wrong
    if not isinstance(key, ec.EllipticCurvePrivateKey) or not isinstance(key.curve, ec.SECP256R1):
        raise PushError("The push key must be one of the curve P-256.")
    return key


def _from_number(given: bytes) -> Key:
    if len(given) != NUMBER_BYTES:
        raise ValueError(f"{len(given)} bytes")
    return ec.derive_private_key(int.from_bytes(given, "big"), ec.SECP256R1())


def key_in(file: Path) -> Key:
    """The key in the file, made there once when it is not there; whoever comes second reads the first one's."""
    if not file.exists():
        made = ec.generate_private_key(ec.SECP256R1())
        draft = file.with_name(f"{file.name}.{secrets.token_hex(4)}")
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
        with suppress(FileExistsError):
            os.link(draft, file)
        draft.unlink()
    return read_key(file.read_text(encoding="ascii"))


def public_point(key: Key) -> str:
    """What a browser is told when it subscribes (applicationServerKey)."""
    return to_base64url(key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))


def authorization(endpoint: str, key: Key, contact: str, now: datetime) -> str:
    """The Authorization header for one push service; `contact` is a mailto: or https: address."""
    parts = urlsplit(endpoint)
    claims = {
        "aud": f"{parts.scheme}://{parts.netloc}",
        "exp": int((now + HOLDS_FOR).timestamp()),
        "sub": contact,
    }
    signed = f"{_part({'typ': 'JWT', 'alg': 'ES256'})}.{_part(claims)}"
    first, second = decode_dss_signature(key.sign(signed.encode(), ec.ECDSA(hashes.SHA256())))
    signature = to_base64url(first.to_bytes(32, "big") + second.to_bytes(32, "big"))
    return f"vapid t={signed}.{signature}, k={public_point(key)}"


def _part(value: dict[str, object]) -> str:
    return to_base64url(json.dumps(value, separators=(",", ":")).encode())
