"""What people type to say who they are: a phone number, a short name or an e-mail address."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Literal

import phonenumbers

from companion.common.errors import InvalidInput, Problem

Kind = Literal["phone", "short_name", "email"]
_SHORT_NAME = re.compile(r"[a-z][a-z0-9._-]{2,31}")
_EMAIL = re.compile(r"[^@\s]{1,64}@[^@\s]{1,255}")
_DIALLED = re.compile(r"[+0-9][0-9 ()./-]{4,24}")


def tidy(login: str) -> str:
    return unicodedata.normalize("NFKC", login).strip()


def phone_number(text: str, regions: Iterable[str]) -> str | None:
    """Read a phone number as E.164, as dialled in one of ``regions``; None when it can't be one."""
    for region in (None, *regions):
        try:
            number = phonenumbers.parse(text, region)
        except phonenumbers.NumberParseException:
            continue
        if phonenumbers.is_possible_number(number):
            return str(phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164))
    return None


def read_login(text: str, regions: Iterable[str], field: str = "login") -> tuple[Kind, str]:
    """Say what kind of log-in ``text`` is, and its stored form. Raises InvalidInput when it is none."""
    login = tidy(text)
    if "@" in login and _EMAIL.fullmatch(login):
        return "email", login.lower()
    if _DIALLED.fullmatch(login):
        number = phone_number(login, regions)
        if number is not None:
            return "phone", number
        raise InvalidInput(Problem("phone_unknown", field))
    if _SHORT_NAME.fullmatch(login.lower()):
        return "short_name", login.lower()
    raise InvalidInput(Problem("login_form", field))
