"""A practice's gateway: the signed request, and a receiver that refuses, hangs and doubles."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fake_channels import LOOPBACK, Answer, FakeGateway, limits

from companion.delivery.base import DeliveryError, Message
from companion.delivery.webhook import Gateway, send_webhook, signature

MESSAGE = Message(
    address="webhook",
    subject="有一份 4 级报告需要你",
    text="long",
    reference="row-1",
    link="https://companion.example/desk/alerts/a1/take",
    event="alert_next",
    level=4,
    language="zh-Hans",
)


@pytest.fixture
def gateway() -> Iterator[FakeGateway]:
    with FakeGateway() as one:
        yield one


def ours(gateway: FakeGateway) -> Gateway:
    return Gateway(gateway.url, gateway.secret)


def test_the_gateway_is_told_whom_to_reach_and_nothing_about_the_family(gateway: FakeGateway) -> None:
    send_webhook(ours(gateway), MESSAGE, "+6591234567", LOOPBACK)
    (call,) = gateway.requests
    assert call.told == {
        "version": 1,
        "id": "row-1",
        "event": "alert_next",
        "level": 4,
        "phone": "+6591234567",
        "language": "zh-Hans",
        "text": "有一份 4 级报告需要你",
        "link": "https://companion.example/desk/alerts/a1/take",
    }


def test_the_signature_is_what_another_program_makes_of_the_same_bytes() -> None:
    """``printf '1700000000.{}' | openssl dgst -sha256 -hmac Jefe``"""
    digest = "d3793e2b4103edfbd98cc19591832f5fad701d413db9fcae0ae7dab8184ed207"
    assert signature("Jefe", "1700000000", b"{}") == f"v1={digest}"


def test_another_secret_is_refused(gateway: FakeGateway) -> None:
    with pytest.raises(DeliveryError) as told:
        send_webhook(Gateway(gateway.url, "another"), MESSAGE, None, LOOPBACK)
    assert (told.value.reason, told.value.permanent) == ("the gateway answered 401", False)
    assert gateway.requests == []


@pytest.mark.parametrize(
    ("answer", "final"),
    [
        (Answer.UNREACHABLE, True),
        (Answer.UNKNOWN, False),
        (Answer.GONE, False),
        (Answer.TROUBLE, False),
        (Answer.BUSY, False),
        (Answer.REDIRECT, False),
        (Answer.HANG, False),
        (Answer.DRIP, False),
        (Answer.HUGE, False),
        (Answer.ACCEPT_UNSAID, False),
    ],
)
def test_H2_only_a_phone_that_cannot_be_reached_is_final(
    gateway: FakeGateway, answer: Answer, final: bool
) -> None:
    gateway.answer = answer
    with pytest.raises(DeliveryError) as told:
        send_webhook(ours(gateway), MESSAGE, "+6591234567", limits(answer))
    assert told.value.permanent is final


def test_H15_a_twin_can_be_known_as_one(gateway: FakeGateway) -> None:
    gateway.answer = Answer.ACCEPT_UNSAID
    with pytest.raises(DeliveryError):
        send_webhook(ours(gateway), MESSAGE, "+6591234567", LOOPBACK)
    gateway.answer = Answer.ACCEPT
    send_webhook(ours(gateway), MESSAGE, "+6591234567", LOOPBACK)
    assert len(gateway.requests) == 2
    assert gateway.rung == ["+6591234567"]


def test_the_secret_is_never_shown() -> None:
    assert "s3cret" not in repr(Gateway("https://gateway.example", "s3cret"))
