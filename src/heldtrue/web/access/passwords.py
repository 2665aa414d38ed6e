"""Passwords: what is good enough, and how they are kept.

After NIST SP 800-63B-4 (from memory): length counts and not the kinds of signs, nothing has to be changed by the
calendar, and what is common, expected or known from breaches is refused.
"""

from __future__ import annotations

import re
import threading
import unicodedata

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from heldtrue.errors import InputError
from heldtrue.web import texts

LEAST, MOST = 15, 200
"""Letters of a password: the least of the standard where a password may be all there is."""
LEAST_GUESSES = 10.0**10
"""Guesses that it takes at the least, by the estimate of ``zxcvbn``: its highest of five steps."""
LOOKED_AT = 72
"""Letters that the estimate looks at: its work grows with the square of them."""
OUR_WORDS = ("heldtrue", "held true", "lathe", "chuck", "jaws", "turning", "workshop", "password", "administrator")
"""What somebody tries first at this door; with the name they are no part of what makes a password long."""
LEAST_OWN = 6
"""Letters that have to be left without those words."""

_hasher = PasswordHasher()
"""argon2id with the second recommended option of RFC 9106: 64 MiB, three passes, four lanes."""
_NOBODY = _hasher.hash("nobody has this password")
_one_at_a_time = threading.Lock()
"""The estimate keeps the words of whom it judges in a place that all threads share."""


def check_password(password: str, name: str) -> None:
    """Raises: ``InputError`` with why a password is not good enough."""
    password = _written(password)
    if not LEAST <= len(password) <= MOST:
        raise InputError(texts.PASSWORD_LENGTH.format(least=LEAST, most=MOST))
    words = [one.casefold() for one in (name, *name.split(), *OUR_WORDS) if len(one) > 1]
    own = password.casefold()
    for word in sorted(words, key=len, reverse=True):
        own = own.replace(word, "")
    if len(re.sub(r"[\W\d_]", "", own)) < LEAST_OWN and own != password.casefold():
        raise InputError(texts.PASSWORD_NAME)
    if _guesses(password, words) < LEAST_GUESSES:
        raise InputError(texts.PASSWORD_COMMON)


def _guesses(password: str, words: list[str]) -> float:
    """How many guesses it takes who knows the commonest 30 000 passwords, words, names, dates and ways to type."""
    from zxcvbn import zxcvbn  # its lists are large, and wanted only where a password is set

    with _one_at_a_time:
        return float(zxcvbn(password[:LOOKED_AT], words)["guesses"])


def hashed(password: str) -> str:
    """What is kept of it."""
    return _hasher.hash(_written(password))


def matches(password: str, kept: str | None) -> bool:
    """Is it the password of which this is kept?  Takes its time also where nothing is kept, so that nobody can
    tell by the clock which names there are."""
    try:
        right = _hasher.verify(kept or _NOBODY, _written(password)[: MOST + 1])
    except (VerificationError, InvalidHashError):
        return False
    return right and kept is not None


def _written(password: str) -> str:
    """One way to write each letter: keyboards write an accent as a part of its letter or after it."""
    return unicodedata.normalize("NFC", password)
