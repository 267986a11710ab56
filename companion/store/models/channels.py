"""Where an alert can go beside a mailbox: browsers that take a push, and a practice's own gateway."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class PushSubscription(Base):
    """One browser of one person that takes web pushes (RFC 8030, RFC 8291). A person has several.

    It is good until it is ended, or the sign-in that set it up is: a phone that was signed out stays quiet.
    """

    __tablename__ = "push_subscriptions"
    __table_args__ = (UniqueConstraint("person_id", "endpoint_hash"),)

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"), index=True)
    sign_in_id: Mapped[str] = mapped_column(ForeignKey("sign_ins.id"), index=True)
    endpoint: Mapped[str]
    """The push service's address for this browser: whoever knows it can write to it."""
    endpoint_hash: Mapped[str] = mapped_column(index=True)
    p256dh: Mapped[str]
    """The browser's public key, base64url."""
    auth: Mapped[str]
    """The browser's authentication secret, base64url."""
    device_name: Mapped[str] = mapped_column(default="", server_default="")
    says_more: Mapped[bool] = mapped_column(default=False, server_default="0")
    """The person wants more than neutral words where a lock screen may show them; never a name or a symptom."""
    created_at: Mapped[datetime]
    last_accepted_at: Mapped[datetime | None]
    """When the push service last took a message for it."""
    failing_since: Mapped[datetime | None]
    """Since when the push service has taken none."""
    ended_at: Mapped[datetime | None]


class Webhook(Base):
    """A practice's own gateway, for its text messages, phone calls or chat. One a practice, changed in place."""

    __tablename__ = "webhooks"

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"), unique=True)
    url: Mapped[str]
    secret: Mapped[str]
    """Signs what is sent. It is kept readable, since a signature cannot be made from a hash."""
    created_at: Mapped[datetime]
    last_accepted_at: Mapped[datetime | None]
    failing_since: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
