"""Encrypts a message so that only the browser that subscribed can read it (RFC 8291, RFC 8188). Pure.

The randomness is the caller's to give in tests alone; otherwise every message has a fresh key and salt.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import secrets
import struct

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from locates.push.refusal import PushError

RECORD_BYTES = 4096  # the one record's size; RFC 8291 section 4 asks no push service for more
MOST_BYTES = 3993  # of cleartext in that one record: RFC 8291 section 4
SALT_BYTES = 16
AUTH_BYTES = 16
POINT_BYTES = 65  # an uncompressed point of P-256
LAST = b"\x02"  # ends the padding of the last record: RFC 8188 section 2


def encrypt(
    message: bytes,
    receiver: bytes,
    auth: bytes,
    *,
    salt: bytes | None = None,
    sender: ec.EllipticCurvePrivateKey | None = None,
) -> bytes:
    """The body of a push message in the coding aes128gcm. `receiver` is the browser's public point, `auth` its
    secret of 16 bytes. Raises PushError for keys of the wrong form and for a message that is too long."""
    if len(message) > MOST_BYTES:
        raise PushError(f"The message has {len(message)} bytes; at most {MOST_BYTES} can be sent.")
    theirs = read_point(receiver)
    if len(auth) != AUTH_BYTES:
        raise PushError(
            f"The secret has {len(auth)} bytes; it must have {AUTH_BYTES}.", fields={"auth": "wrong size"}
        )
    ours = sender or ec.generate_private_key(ec.SECP256R1())
    point = ours.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    salt = salt or secrets.token_bytes(SALT_BYTES)
    shared = _expand(auth, ours.exchange(ec.ECDH(), theirs), b"WebPush: info\x00" + receiver + point)
    key = _expand(salt, shared, b"Content-Encoding: aes128gcm\x00")[:16]
    nonce = _expand(salt, shared, b"Content-Encoding: nonce\x00")[:12]
    head = salt + struct.pack("!IB", RECORD_BYTES, len(point)) + point
    return head + AESGCM(key).encrypt(nonce, message + LAST, None)


def _expand(salt: bytes, secret: bytes, info: bytes) -> bytes:
    """HKDF with SHA-256 (RFC 5869) for one block of output."""
    return hmac.digest(hmac.digest(salt, secret, "sha256"), info + b"\x01", "sha256")


def read_point(given: bytes) -> ec.EllipticCurvePublicKey:
    """A public key as a browser gives it. Raises PushError."""
    try:
        return ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), given)
    except ValueError as wrong:
        words = "That is no key of a browser; subscribe again."
        raise PushError(words, fields={"p256dh": words}) from wrong


def to_base64url(given: bytes) -> str:
    """Without padding (RFC 7515 section 2)."""
    return base64.urlsafe_b64encode(given).rstrip(b"=").decode()


def from_base64url(text: str, field: str) -> bytes:
    """Reads it with or without padding. Raises PushError."""
    try:
        if "+" in text or "/" in text:  # the other alphabet, which the decoder would take too
            raise ValueError(text)
        return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, ValueError) as wrong:
        words = "That is not base64url text; subscribe again."
        raise PushError(words, fields={field: words}) from wrong
