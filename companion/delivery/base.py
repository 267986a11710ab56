"""What every channel answers with: a receipt, or an error that says whether to try again."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Message:
    """One message for one address. A channel takes of it what it can carry."""

    address: str
    subject: str
    text: str
    reference: str
    """The same for every try at this message, so that a twin can be known as one."""
    title: str = ""
    """Who speaks, where a channel shows that above the words."""
    brief: str = ""
    """The subject for a screen that anybody may see: it doesn't even say that it is about an eye."""
    link: str = ""
    """Where to go."""
    event: str = ""
    """What kind of message it is, for a program that reads it."""
    about: str = ""
    """What it is about: a later message about the same thing stands in for an earlier one."""
    level: int | None = None
    language: str = "en"


class DeliveryError(Exception):
    """The channel did not accept the message.

    permanent: this address will never accept anything; trying again is useless. Trouble with the channel itself
    (down, slow, wrong password, policy) is never permanent: it is mended, and then the message must go.
    """

    def __init__(self, reason: str, *, permanent: bool) -> None:
        super().__init__(reason)
        self.reason = reason
        self.permanent = permanent
