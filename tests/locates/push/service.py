"""A push service on this machine, with TLS of its own: it reads what the protocol says a service and a browser
read (RFC 8030, 8188, 8291, 8292), written here from the texts and not from the code under test."""

from __future__ import annotations

import base64
import json
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat
from cryptography.x509.oid import NameOID

HOST = "push.firstspade-trial.com"


def from_text(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def to_text(given: bytes) -> str:
    return base64.urlsafe_b64encode(given).rstrip(b"=").decode()


@dataclass
class Browser:
    """The other side of a subscription."""

    private: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    auth: bytes = b"sixteen bytes ok"

    @property
    def point(self) -> bytes:
        return self.private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)

    def keys(self) -> dict[str, str]:
        return {"p256dh": to_text(self.point), "auth": to_text(self.auth)}

    def read(self, body: bytes) -> bytes:
        """RFC 8188 section 2.1 (header) and RFC 8291 section 3.4, with the library's own HKDF."""
        salt, size, length = body[:16], int.from_bytes(body[16:20], "big"), body[20]
        sender = body[21 : 21 + length]
        assert (size, length) == (4096, 65)
        theirs = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), sender)
        shared = self.private.exchange(ec.ECDH(), theirs)

        def derive(salted: bytes, secret: bytes, info: bytes, count: int) -> bytes:
            return HKDF(hashes.SHA256(), count, salted, info).derive(secret)

        secret = derive(self.auth, shared, b"WebPush: info\0" + self.point + sender, 32)
        key = derive(salt, secret, b"Content-Encoding: aes128gcm\0", 16)
        nonce = derive(salt, secret, b"Content-Encoding: nonce\0", 12)
        padded = AESGCM(key).decrypt(nonce, body[21 + length :], None).rstrip(b"\0")
        assert padded[-1] == 2
        return padded[:-1]


def who_sends(header: str) -> tuple[dict[str, Any], str]:
    """The claims and the public key of a vapid header whose signature holds (RFC 8292, RFC 7515)."""
    scheme, _, rest = header.partition(" ")
    given = dict(part.strip().split("=", 1) for part in rest.split(","))
    assert scheme == "vapid"
    head, claims, signature = given["t"].split(".")
    assert json.loads(from_text(head)) == {"typ": "JWT", "alg": "ES256"}
    raw = from_text(signature)
    assert len(raw) == 64
    key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), from_text(given["k"]))
    both = encode_dss_signature(int.from_bytes(raw[:32], "big"), int.from_bytes(raw[32:], "big"))
    key.verify(both, f"{head}.{claims}".encode(), ec.ECDSA(hashes.SHA256()))
    return json.loads(from_text(claims)), given["k"]


@dataclass
class Service:
    """What has arrived, and what the next messages are answered with."""

    port: int
    trust: ssl.SSLContext
    arrived: list[tuple[str, dict[str, str], bytes]] = field(default_factory=list)
    answers: list[tuple[int, dict[str, str]]] = field(default_factory=list)

    def connect(self, host: str) -> ssl.SSLSocket:
        """In the place of `open_public`: the name leads here."""
        return self.trust.wrap_socket(
            socket.create_connection(("127.0.0.1", self.port), timeout=5), server_hostname=host
        )


@contextmanager
def push_service(folder: Path) -> Iterator[Service]:
    certificate, key = _certificate(folder)
    made: list[Service] = []

    class Door(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            service = made[0]
            service.arrived.append((self.path, dict(self.headers.items()), body))
            status, more = service.answers.pop(0) if service.answers else (201, {})
            self.send_response(status)
            for name, value in {"Content-Length": "0", "Connection": "close", **more}.items():
                self.send_header(name, value)
            self.end_headers()

        def log_message(self, *args: Any) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Door)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    made.append(Service(server.server_address[1], ssl.create_default_context(cafile=str(certificate))))
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield made[0]
    finally:
        server.shutdown()
        server.server_close()
        thread.join(5)


def _certificate(folder: Path) -> tuple[Path, Path]:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, HOST)])
    today = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(datetime(2020, 1, 1, tzinfo=UTC))
        .not_valid_after(max(today, datetime(2040, 1, 1, tzinfo=UTC)) + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(HOST)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    files = folder / "cert.pem", folder / "key.pem"
    files[0].write_bytes(made.public_bytes(Encoding.PEM))
    files[1].write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    return files
