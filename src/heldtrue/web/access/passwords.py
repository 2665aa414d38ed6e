"""Passwords: what is good enough, and how they are kept."""

from __future__ import annotations

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from heldtrue.errors import InputError
from heldtrue.web import texts

LEAST, MOST = 10, 200
"""Letters of a password. Length counts, not signs: three words that do not belong together can also be typed."""
LEAST_DIFFERENT = 5

_hasher = PasswordHasher()
"""argon2id with the second recommended option of RFC 9106: 64 MiB, three passes, four lanes."""
_NOBODY = _hasher.hash("nobody has this password")


def check_password(password: str, name: str) -> None:
    """Raises: ``InputError`` with why a password is not good enough."""
    if not LEAST <= len(password) <= MOST:
        raise InputError(texts.PASSWORD_LENGTH.format(least=LEAST, most=MOST))
    plain = password.casefold()
    if len(set(plain)) < LEAST_DIFFERENT or plain in plain[1:] + plain[:-1]:
        raise InputError(texts.PASSWORD_PLAIN)
    if len(plain.replace(name.casefold(), "")) < LEAST // 2:
        raise InputError(texts.PASSWORD_NAME)


def hashed(password: str) -> str:
    """What is kept of it."""
    return _hasher.hash(password)


def matches(password: str, kept: str | None) -> bool:
    """Is it the password of which this is kept?  Takes its time also where nothing is kept, so that nobody can
    tell by the clock which names there are."""
    try:
        right = _hasher.verify(kept or _NOBODY, password[: MOST + 1])
    except (VerificationError, InvalidHashError):
        return False
    return right and kept is not None
