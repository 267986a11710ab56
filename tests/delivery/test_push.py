"""Web push against the published examples, and a push service that decrypts, refuses, hangs and doubles."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import http_ece
import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from fake_channels import LOOPBACK, Answer, FakeBrowser, PushService, limits, vapid_claims

from companion.delivery.base import DeliveryError, Message
from companion.delivery.push import (
    LONGEST_TEXT,
    Browser,
    PushSender,
    authorization,
    check_browser,
    encrypt,
    from_text,
    keep_key,
    send_push,
    to_text,
)

MESSAGE = Message(
    address="subscription",
    subject="A report at level 4 needs you",
    text="long",
    reference="row-1",
    title="The companion",
    brief="Please look now",
    link="https://companion.example/desk/alerts/a1/take",
    event="alert",
    about="a1",
    level=4,
    language="en",
)

# RFC 8291, section 5 and appendix A.
PLAIN = b"When I grow up, I want to be a watermelon"
SENDER_PRIVATE = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
SENDER_PUBLIC = "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8"
BROWSER_PRIVATE = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
BROWSER_PUBLIC = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
SECRET, SALT = "BTBZMqHH6r4Tts7J_aSIgg", "DGv6ra1nlYgDCS1FRnbzlw"
ENCRYPTED = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8w"
    "EqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
)
# RFC 8292, section 2.4.
TOKEN = (
    "eyJ0eXAiOiJKV1QiLCJhbGciOiJFUzI1NiJ9.eyJhdWQiOiJodHRwczovL3B1c2guZXhhbXBsZS5uZXQiLCJleHAiOjE0NTM1MjM3"
    "NjgsInN1YiI6Im1haWx0bzpwdXNoQGV4YW1wbGUuY29tIn0.i3CYb7t4xfxCDquptFOepC9GAu_HLGkMlMuCGSK2rpiUfnK9ojFwDX"
    "b1JrErtmysazNjjvW2L9OkSSHzvoD1oA"
)
TOKEN_KEY = "BA1Hxzyi1RUM1b5wjxsn7nGxAszw2u61m164i3MrAIxHF6YK5h4SDYic-dRuU_RCPCfA5aq9ojSwk5Y2EmClBPs"


@pytest.fixture
def service() -> Iterator[PushService]:
    with PushService() as one:
        yield one


@pytest.fixture(scope="module")
def sender() -> PushSender:
    return PushSender(ec.generate_private_key(ec.SECP256R1()), "mailto:companion@practice.example")


def private(text: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(from_text(text), "big"), ec.SECP256R1())


def known(browser: FakeBrowser, says_more: bool = False) -> Browser:
    return Browser(browser.endpoint, browser.p256dh, browser.auth, says_more)


def test_the_published_example_is_encrypted_byte_for_byte() -> None:
    browser = Browser("https://push.example.net/push/JzLQ3raZJfFBR0aqvOMsLrt54w4rJUsV", BROWSER_PUBLIC, SECRET)
    once = private(SENDER_PRIVATE)
    assert PushSender(once, "mailto:x@example.org").public_key == SENDER_PUBLIC
    assert to_text(encrypt(PLAIN, browser, from_text(SALT), once)) == ENCRYPTED


def test_somebody_elses_code_reads_what_ours_wrote() -> None:
    browser = Browser("https://push.example.net/1", BROWSER_PUBLIC, SECRET)
    first, second = encrypt(PLAIN, browser), encrypt(PLAIN, browser)
    assert first != second, "a key and a salt are used once"
    for body in (first, second):
        read = http_ece.decrypt(body, private_key=private(BROWSER_PRIVATE), auth_secret=from_text(SECRET))
        assert read == PLAIN


def test_what_checks_our_tokens_takes_the_published_one_and_no_other() -> None:
    claims = {"aud": "https://push.example.net", "exp": 1453523768, "sub": "mailto:push@example.com"}
    assert vapid_claims(f"vapid t={TOKEN}, k={TOKEN_KEY}") == claims
    assert vapid_claims(f"vapid t={TOKEN[:-4]}AAAA, k={TOKEN_KEY}") is None
    assert vapid_claims(f"vapid t={TOKEN}, k={TOKEN_KEY}", only=BROWSER_PUBLIC) is None


def test_our_token_is_the_published_one_but_for_the_key(sender: PushSender) -> None:
    ours = PushSender(sender.key, "mailto:push@example.com")
    header = authorization(ours, "https://push.example.net/p/JzLQ3raZJfFBR0aqvOMsLrt54w4rJUsV", 1453480568)
    token = header.removeprefix("vapid t=").partition(",")[0]
    assert token.rpartition(".")[0] == TOKEN.rpartition(".")[0]
    assert vapid_claims(header, only=ours.public_key) is not None


def test_a_push_arrives_neutral_and_urgent(service: PushService, sender: PushSender) -> None:
    browser = service.subscribe(sender.public_key)
    assert send_push(sender, known(browser), MESSAGE, LOOPBACK) == "201"
    (push,) = service.pushes
    assert push.told == {
        "title": "The companion",
        "text": "Please look now",
        "path": "/desk/alerts/a1/take",
        "about": "a1",
        "language": "en",
    }
    assert (push.ttl, push.urgency, push.contact) == (86400, "high", "mailto:companion@practice.example")
    assert 0 < len(push.topic) <= 32  # RFC 8030, section 5.4


def test_whoever_asked_for_it_reads_the_subject(service: PushService, sender: PushSender) -> None:
    send_push(sender, known(service.subscribe(), says_more=True), MESSAGE, LOOPBACK)
    assert service.pushes[0].told["text"] == MESSAGE.subject


def test_another_senders_push_is_refused_and_that_is_not_final(service: PushService, sender: PushSender) -> None:
    browser = service.subscribe(SENDER_PUBLIC)
    with pytest.raises(DeliveryError) as told:
        send_push(sender, known(browser), MESSAGE, LOOPBACK)
    assert (told.value.reason, told.value.permanent) == ("the push service answered 403", False)


@pytest.mark.parametrize(
    ("answer", "final"),
    [
        (Answer.UNKNOWN, True),
        (Answer.GONE, True),
        (Answer.TROUBLE, False),
        (Answer.BUSY, False),
        (Answer.FORBIDDEN, False),
        (Answer.REDIRECT, False),
        (Answer.HANG, False),
        (Answer.DRIP, False),
        (Answer.HUGE, False),
        (Answer.ACCEPT_UNSAID, False),
    ],
)
def test_H2_only_a_browser_that_is_gone_is_final(
    service: PushService, sender: PushSender, answer: Answer, final: bool
) -> None:
    service.answer = answer
    with pytest.raises(DeliveryError) as told:
        send_push(sender, known(service.subscribe()), MESSAGE, limits(answer))
    assert told.value.permanent is final


def test_H2_a_service_that_is_down_is_not_final(service: PushService, sender: PushSender) -> None:
    browser = service.subscribe()
    service.close()
    with pytest.raises(DeliveryError) as told:
        send_push(sender, known(browser), MESSAGE, LOOPBACK)
    assert not told.value.permanent
    service.open()
    assert send_push(sender, known(browser), MESSAGE, LOOPBACK) == "201"


@pytest.mark.parametrize(
    ("p256dh", "auth"),
    [
        (BROWSER_PUBLIC, SECRET[:-2]),
        (BROWSER_PUBLIC, "not base64url!"),
        (BROWSER_PUBLIC[:-4], SECRET),
        (to_text(b"\x04" + b"\x01" * 64), SECRET),  # no point of the curve
        ("", ""),
    ],
)
def test_keys_that_are_none_are_known_as_such(p256dh: str, auth: str) -> None:
    browser = Browser("https://push.example.net/1", p256dh, auth)
    with pytest.raises(ValueError):
        check_browser(browser)
    with pytest.raises(DeliveryError):
        encrypt(b"x", browser)


def test_what_does_not_fit_is_never_sent() -> None:
    browser = Browser("https://push.example.net/1", BROWSER_PUBLIC, SECRET)
    assert len(encrypt(b"x" * LONGEST_TEXT, browser)) == 4096
    with pytest.raises(DeliveryError):
        encrypt(b"x" * (LONGEST_TEXT + 1), browser)


def test_the_key_is_made_once_and_its_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "push_key"
    first = keep_key(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert keep_key(path).private_numbers() == first.private_numbers()
    assert [one.name for one in tmp_path.iterdir()] == ["push_key"]


def test_processes_that_start_together_have_one_key(tmp_path: Path) -> None:
    with ThreadPoolExecutor(8) as pool:
        keys = list(pool.map(lambda _: keep_key(tmp_path / "push_key").private_numbers(), range(24)))
    assert len({one.private_value for one in keys}) == 1
    assert len(list(tmp_path.iterdir())) == 1


def test_nothing_secret_is_shown_by_accident(sender: PushSender) -> None:
    assert "PrivateKey" not in repr(sender)
