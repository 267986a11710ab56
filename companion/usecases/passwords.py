"""Passwords and tokens: hashed by Argon2id, and tokens that are stored only as a hash.

Hashing is slow on purpose. It is done in a reading session, never under the one writer's lock.
"""

from __future__ import annotations

import hashlib
import secrets
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from companion.common.errors import Problem

SHORTEST, LONGEST = 10, 200
HASHER = PasswordHasher()


@cache
def _decoy() -> str:
    return hashed(secrets.token_urlsafe(16))


def hashed(password: str) -> str:
    return HASHER.hash(password)


def matches(stored: str | None, password: str) -> bool:
    """Compare in the same time whether or not there is anything to compare with."""
    decoy = _decoy()  # made for everybody, so that the first stranger takes no longer than a friend
    if stored is None:
        stored, password = decoy, "\0" + password
    try:
        return HASHER.verify(stored, password)
    except (VerificationError, InvalidHashError):
        return False


def problems_with(password: str, again: str) -> list[Problem]:
    """What is wrong with a new password. Length is what counts; no rules about its signs."""
    if len(password) < SHORTEST:
        return [Problem("password_short", "password", {"shortest": SHORTEST})]
    if len(password) > LONGEST:
        return [Problem("password_long", "password", {"longest": LONGEST})]
    if password != again:
        return [Problem("passwords_differ", "password_again")]
    return []


def new_token() -> str:
    return secrets.token_urlsafe(32)


def token_hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
