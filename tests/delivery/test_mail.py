"""Mail through a real SMTP server, and each way in which one can refuse."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from fakes import IMPATIENCE_S, PATIENCE_S, Mode, Postbox

from companion.delivery.base import DeliveryError, Message
from companion.delivery.mail import Encryption, MailServer, is_address, reach, send_mail

LETTER = Message("ada@practice.example", "A report needs you", "Open the page.\nTake it.\n", "ref-1")


@pytest.fixture
def postbox() -> Iterator[Postbox]:
    with Postbox() as box:
        yield box


def server_of(box: Postbox, **changes: object) -> MailServer:
    patience_s = IMPATIENCE_S if box.mode is Mode.HANG else PATIENCE_S
    plain = MailServer(box.host, box.port, "companion@practice.example", patience_s=patience_s)
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_a_letter_arrives_as_it_was_written(postbox: Postbox) -> None:
    receipt = send_mail(server_of(postbox), replace(LETTER, subject="Größe: 角膜", text="Ünïcode\n\nsecond\n"))
    (letter,) = postbox.letters
    assert postbox.recipients == ["ada@practice.example"]
    assert letter["Subject"] == "Größe: 角膜"
    assert letter["Message-ID"] == receipt == "<ref-1@practice.example>"
    assert letter.get_content_type() == "text/plain"
    assert letter.get_content().replace("\r\n", "\n") == "Ünïcode\n\nsecond\n"


@pytest.mark.parametrize(
    ("mode", "permanent"),
    [
        (Mode.LATER, False),
        (Mode.NEVER, True),
        (Mode.LATER_AFTER_DATA, False),
        (Mode.MISSET, False),
        (Mode.MISSET_AFTER_DATA, False),
        (Mode.HANG, False),
        (Mode.ACCEPT_UNSAID, False),
    ],
)
def test_each_refusal_says_whether_to_try_again(postbox: Postbox, mode: Mode, permanent: bool) -> None:
    postbox.mode = mode
    with pytest.raises(DeliveryError) as refused:
        send_mail(server_of(postbox), LETTER)
    assert refused.value.permanent is permanent
    assert "ada@" not in refused.value.reason


def test_a_server_that_is_down_is_tried_again(postbox: Postbox) -> None:
    postbox.close()
    with pytest.raises(DeliveryError) as refused:
        send_mail(server_of(postbox), LETTER)
    assert not refused.value.permanent
    postbox.open()
    send_mail(server_of(postbox), LETTER)
    assert len(postbox.letters) == 1


def test_a_twin_carries_the_same_message_id(postbox: Postbox) -> None:
    postbox.mode = Mode.ACCEPT_UNSAID
    with pytest.raises(DeliveryError):
        send_mail(server_of(postbox), LETTER)
    postbox.mode = Mode.ACCEPT
    send_mail(server_of(postbox), LETTER)
    assert len(postbox.letters) == 2
    assert len({letter["Message-ID"] for letter in postbox.letters}) == 1


# The fake server asks for a log-in on loopback without encryption, and says that this is unwise.
@pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")
def test_a_wrong_password_is_ours_to_mend_and_never_final() -> None:
    with Postbox(login=("companion", "right")) as box:
        with pytest.raises(DeliveryError) as refused:
            send_mail(server_of(box, login="companion", password="wrong"), LETTER)
        assert not refused.value.permanent
        with pytest.raises(DeliveryError):
            reach(server_of(box, login="companion", password="wrong"))
        send_mail(server_of(box, login="companion", password="right"), LETTER)
        assert len(box.letters) == 1


def test_a_server_without_encryption_gets_nothing_when_encryption_is_asked(postbox: Postbox) -> None:
    with pytest.raises(DeliveryError) as refused:
        send_mail(server_of(postbox, encryption=Encryption.STARTTLS), LETTER)
    assert not refused.value.permanent
    assert postbox.letters == []


@pytest.mark.parametrize(
    "address",
    [
        "ada@practice.example\r\nBcc: eve@elsewhere.example",
        "ada@practice.example, eve@elsewhere.example",
        "Ada <ada@practice.example>",
        "ada",
        "",
        "ada@practice.example\n",
        "a" * 250 + "@practice.example",
    ],
)
def test_only_one_plain_address_is_an_address(postbox: Postbox, address: str) -> None:
    assert not is_address(address)
    with pytest.raises(DeliveryError) as refused:
        send_mail(server_of(postbox), replace(LETTER, address=address))
    assert refused.value.permanent
    assert postbox.letters == []


@pytest.mark.parametrize("subject", ["One\r\nBcc: eve@elsewhere.example", "One\nTwo"])
def test_a_header_stays_one_line(postbox: Postbox, subject: str) -> None:
    with pytest.raises(DeliveryError) as refused:
        send_mail(server_of(postbox), replace(LETTER, subject=subject))
    assert refused.value.permanent
    assert postbox.letters == []


def test_reaching_a_server_sends_nothing(postbox: Postbox) -> None:
    reach(server_of(postbox))
    assert postbox.letters == []
    postbox.close()
    with pytest.raises(DeliveryError):
        reach(server_of(postbox))
