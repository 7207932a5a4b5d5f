"""A message to a push service on this machine: what arrives, and what each answer means."""

from __future__ import annotations

import ssl
import stat
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from locates.push import send as sending
from locates.push.refusal import NotSent, PushError
from locates.push.send import open_public, send
from locates.push.sender_key import Key, key_in, public_point, read_key
from tests.locates.push.service import HOST, Browser, Service, push_service, to_text, who_sends

NOW = datetime(2026, 9, 16, 14, tzinfo=UTC)
KEY = ec.generate_private_key(ec.SECP256R1())


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    with push_service(tmp_path_factory.mktemp("push")) as made:
        yield made


def post(service: Service, browser: Browser, message: bytes = b"{}", **more: Any) -> None:
    given: dict[str, Any] = {
        "endpoint": f"https://{HOST}/send/abc?x=1",
        "receiver": browser.point,
        "auth": browser.auth,
        "key": KEY,
        "contact": "mailto:office@firstspade-trial.com",
        "now": NOW,
        "connect": service.connect,
        **more,
    }
    send(message, **given)


def test_it_arrives_and_only_the_browser_reads_it(service: Service) -> None:
    browser = Browser()
    post(service, browser, b'{"title": "Receiver 3"}', topic="care-7")
    path, headers, body = service.arrived.pop()
    assert path == "/send/abc?x=1"
    assert browser.read(body) == b'{"title": "Receiver 3"}'
    assert b"Receiver" not in body
    wanted = {"Content-Encoding": "aes128gcm", "TTL": "86400", "Urgency": "normal", "Topic": "care-7", "Host": HOST}
    assert wanted.items() <= headers.items()
    claims, sender = who_sends(headers["Authorization"])
    assert claims["aud"] == f"https://{HOST}"
    assert claims["sub"] == "mailto:office@firstspade-trial.com"
    assert 0 < claims["exp"] - NOW.timestamp() <= 86_400  # RFC 8292 section 2
    assert sender == public_point(KEY)


@pytest.mark.parametrize(
    ("status", "more", "gone", "again"),
    [
        (404, {}, True, None),
        (410, {}, True, None),
        (429, {"Retry-After": "120"}, False, 120),
        (503, {"Retry-After": "999999"}, False, 21_600),
        (500, {"Retry-After": "soon"}, False, None),
        (403, {}, False, None),
        (307, {"Location": "https://127.0.0.1/inside"}, False, None),
    ],
)
def test_what_an_answer_means(
    service: Service, status: int, more: dict[str, str], gone: bool, again: int | None
) -> None:
    service.answers.append((status, more))
    with pytest.raises(NotSent) as refused:
        post(service, Browser())
    assert (refused.value.gone, refused.value.again_after_s) == (gone, again)
    service.arrived.pop()
    assert service.arrived == []  # a redirect is not followed


def test_a_certificate_of_another_name_is_not_believed(service: Service) -> None:
    with pytest.raises(NotSent, match="SSLCertVerificationError"):
        post(service, Browser(), endpoint="https://other.firstspade-trial.com/a")
    assert service.arrived == []


def test_it_calls_the_very_address_that_was_checked(monkeypatch: pytest.MonkeyPatch) -> None:
    called = []

    def connect(where: tuple[str, int], timeout: float) -> Any:
        called.append(where)
        raise OSError("no way there")

    monkeypatch.setattr(sending, "public_addresses", lambda host: ["192.0.2.7", "192.0.2.8"])
    monkeypatch.setattr(sending.socket, "create_connection", connect)
    with pytest.raises(NotSent, match="no way there"):
        open_public(HOST)
    assert called == [("192.0.2.7", 443), ("192.0.2.8", 443)]


def test_the_key_is_made_once_and_kept_from_others(tmp_path: Path) -> None:
    file = tmp_path / "push_key.pem"
    first, again = key_in(file), key_in(file)
    assert public_point(first) == public_point(again)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert [one.name for one in tmp_path.iterdir()] == ["push_key.pem"]


def test_a_given_key_is_read_in_either_writing() -> None:
    pem = KEY.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()).decode()
    number = to_text(KEY.private_numbers().private_value.to_bytes(32, "big"))
    for text in (pem, pem.replace("\n", "\\n"), number):
        assert public_point(read_key(text)) == public_point(KEY)
    other_curve = ec.generate_private_key(ec.SECP384R1())
    wrong: list[str] = ["", "nonsense", to_text(b"\0" * 32), _pem(other_curve)]
    for text in wrong:
        with pytest.raises(PushError, match="push key"):
            read_key(text)


def _pem(key: Key) -> str:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()).decode()


def test_the_context_in_use_checks_names() -> None:
    context = ssl.create_default_context()
    assert (context.check_hostname, context.verify_mode) == (True, ssl.CERT_REQUIRED)
