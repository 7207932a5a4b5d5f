"""Encryption and the sender's signature against the RFCs' own examples, and against a second reader."""

from __future__ import annotations

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec
from hypothesis import given, settings
from hypothesis import strategies as st

from locates.push.encrypt import MOST_BYTES, encrypt, from_base64url, to_base64url
from locates.push.refusal import PushError
from tests.locates.push.service import Browser, from_text, who_sends

# RFC 8291, section 5 and appendix A (https://www.rfc-editor.org/rfc/rfc8291).
PLAIN = b"When I grow up, I want to be a watermelon"
RECEIVER = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
RECEIVER_PRIVATE = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
SENDER_PRIVATE = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
AUTH = "BTBZMqHH6r4Tts7J_aSIgg"
SALT = "DGv6ra1nlYgDCS1FRnbzlw"
BODY = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK"
    "6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
)
# RFC 8292, section 2.4 (https://www.rfc-editor.org/rfc/rfc8292).
VAPID = (
    "vapid t=eyJ0eXAiOiJKV1QiLCJhbGciOiJFUzI1NiJ9.eyJhdWQiOiJodHRwczovL3B1c2guZXhhbXBsZS5uZXQiLCJleHAiOjE"
    "0NTM1MjM3NjgsInN1YiI6Im1haWx0bzpwdXNoQGV4YW1wbGUuY29tIn0.i3CYb7t4xfxCDquptFOepC9GAu_HLGkMlMuCGSK2rpi"
    "UfnK9ojFwDXb1JrErtmysazNjjvW2L9OkSSHzvoD1oA, k=BA1Hxzyi1RUM1b5wjxsn7nGxAszw2u61m164i3MrAIxHF6YK5h4SD"
    "Yic-dRuU_RCPCfA5aq9ojSwk5Y2EmClBPs"
)


def private(text: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(from_text(text), "big"), ec.SECP256R1())


def test_the_example_of_rfc_8291_to_the_byte() -> None:
    made = encrypt(PLAIN, from_text(RECEIVER), from_text(AUTH), salt=from_text(SALT), sender=private(SENDER_PRIVATE))
    assert to_base64url(made) == BODY


def test_the_second_reader_reads_the_rfcs_own_bytes() -> None:
    assert Browser(private(RECEIVER_PRIVATE), from_text(AUTH)).read(from_text(BODY)) == PLAIN


def test_the_second_reader_takes_the_signature_of_rfc_8292_and_no_other() -> None:
    claims, _ = who_sends(VAPID)
    assert claims == {"aud": "https://push.example.net", "exp": 1453523768, "sub": "mailto:push@example.com"}
    with pytest.raises(InvalidSignature):
        who_sends(VAPID.replace("i3CYb7t4", "i3CYb7t5"))


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=MOST_BYTES))
def test_what_is_encrypted_is_read_and_never_twice_alike(message: bytes) -> None:
    browser = Browser()
    first, second = (encrypt(message, browser.point, browser.auth) for _ in range(2))
    assert browser.read(first) == browser.read(second) == message
    assert first != second
    assert len(first) <= 4096


def test_too_long_and_wrong_keys_are_refused() -> None:
    browser = Browser()
    with pytest.raises(PushError, match="at most 3993"):
        encrypt(b"x" * (MOST_BYTES + 1), browser.point, browser.auth)
    with pytest.raises(PushError, match="15 bytes"):
        encrypt(b"x", browser.point, browser.auth[1:])
    off_the_curve = browser.point[:-1] + bytes([browser.point[-1] ^ 1])
    for point in (b"", browser.point[1:], off_the_curve):
        with pytest.raises(PushError, match="subscribe again"):
            encrypt(b"x", point, browser.auth)
    with pytest.raises(PushError, match="base64url"):
        from_base64url("a+b/", "auth")
