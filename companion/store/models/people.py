"""People, their memberships in practices, how they and their phones sign in, invitations and consents."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from companion.store.base import Base, fresh_id


class Person(Base):
    """Anybody who signs in. A person is global; what they may do hangs on memberships and guardianships.

    The carrier of a pass is a person without a log-in: their only way in is the pass's link.
    """

    __tablename__ = "people"

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    name: Mapped[str]
    language: Mapped[str] = mapped_column(default="en")
    theme: Mapped[str] = mapped_column(default="hour")
    """``hour`` follows the hour and the device; ``paper`` and ``lamp`` are pinned."""
    hour_cycle: Mapped[str] = mapped_column(default="usual", server_default="usual")
    """``usual`` as the language has it, ``h23`` or ``h12``."""
    digits: Mapped[str] = mapped_column(default="usual", server_default="usual")
    """``usual`` as the language has them, ``latin`` or ``native``."""
    text_size: Mapped[str] = mapped_column(default="usual", server_default="usual")
    """``usual``, ``large`` or ``largest``."""
    phone: Mapped[str | None] = mapped_column(unique=True)
    """E.164."""
    short_name: Mapped[str | None] = mapped_column(unique=True)
    """Lower case."""
    email: Mapped[str | None] = mapped_column(unique=True)
    """Lower case."""
    password_hash: Mapped[str | None]
    created_at: Mapped[datetime]


class Membership(Base):
    """One role of one person at one practice. A person who has two roles has two rows."""

    __tablename__ = "memberships"

    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"), primary_key=True)
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"), primary_key=True, index=True)
    role: Mapped[str] = mapped_column(primary_key=True)
    since: Mapped[datetime]
    ended_at: Mapped[datetime | None]


class SignIn(Base):
    """A signed-in browser. The cookie holds a token, the row only its hash."""

    __tablename__ = "sign_ins"

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    token_hash: Mapped[str] = mapped_column(unique=True)
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"), index=True)
    pass_id: Mapped[str | None] = mapped_column(ForeignKey("carer_passes.id"))
    """Set where a pass's link was the way in: then it is worth what the pass is worth."""
    created_at: Mapped[datetime]
    last_seen_at: Mapped[datetime]
    ended_at: Mapped[datetime | None]
    agent: Mapped[str] = mapped_column(default="")


class DeviceKey(Base):
    """What a phone keeps of a sign-in: with it alone it adds reports of trouble, unverified, and reads nothing."""

    __tablename__ = "device_keys"

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    secret_hash: Mapped[str]
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"), index=True)
    sign_in_id: Mapped[str] = mapped_column(ForeignKey("sign_ins.id"), index=True)
    """The sign-in that set it up; ended from elsewhere, it takes the key along."""
    device: Mapped[str]
    """The phone's own name for itself: of one person's keys on one phone, only the newest is good."""
    created_at: Mapped[datetime]
    ended_at: Mapped[datetime | None]


class Invitation(Base):
    """A one-time link. Used once, or revoked, or expired; stored hashed."""

    __tablename__ = "invitations"
    __table_args__ = (
        ForeignKeyConstraint(["practice_id", "wearer_id"], ["wearers.practice_id", "wearers.id"]),
        Index("ix_invitations_wearer", "practice_id", "wearer_id"),
    )

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"))
    token_hash: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[str]
    """``guardian`` of the wearer, the ``wearer`` in person, or a role at the practice."""
    wearer_id: Mapped[str | None]
    name: Mapped[str]
    language: Mapped[str]
    invited_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    """Null for the first member of a practice, whom nobody could invite."""
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime]
    used_at: Mapped[datetime | None]
    used_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    revoked_at: Mapped[datetime | None]


class Consent(Base):
    """Which consent text a person agreed to, in which language, when."""

    __tablename__ = "consents"
    __table_args__ = (UniqueConstraint("person_id", "text_version"),)

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"))
    text_version: Mapped[str]
    language: Mapped[str]
    given_at: Mapped[datetime]
    withdrawn_at: Mapped[datetime | None]


class Recovery(Base):
    """A one-time way back in for somebody who can't sign in: a link shown at the desk, never sent."""

    __tablename__ = "recoveries"

    id: Mapped[str] = mapped_column(primary_key=True, default=fresh_id)
    practice_id: Mapped[str] = mapped_column(ForeignKey("practices.id"), index=True)
    person_id: Mapped[str] = mapped_column(ForeignKey("people.id"), index=True)
    token_hash: Mapped[str] = mapped_column(unique=True)
    started_by: Mapped[str] = mapped_column(ForeignKey("people.id"))
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime]
    confirmed_at: Mapped[datetime | None]
    """When the practice said that it has spoken with the person; without it the link opens nothing."""
    confirmed_by: Mapped[str | None] = mapped_column(ForeignKey("people.id"))
    used_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]
