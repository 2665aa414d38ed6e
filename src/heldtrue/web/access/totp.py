"""The second factor: six digits that an authenticator on somebody's own telephone shows, new every 30 s (RFC 6238).

Twenty lines of the standard library, because a login has to know *which* code was used, so that none is taken twice.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from datetime import datetime
from urllib.parse import quote, urlencode

STEP = 30
"""How long a code is shown, s."""
DIGITS = 6
SLACK = 1
"""Codes before and after the one of this moment that are taken too: clocks differ, and typing takes time (RFC 6238,
section 5.2, allows one for the way over the network)."""
SECRET_BYTES = 20
"""As many as the hash has (RFC 4226, requirement 6: 16 at least, 20 recommended)."""
RECOVERY_CODES, RECOVERY_LETTERS, GROUP = 8, 24, 4
"""Codes for the day the telephone is lost; of 120 bits each, so that a plain hash of them is enough."""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
"""Of base 32: no 0 beside O and no 1 beside I."""


def new_secret() -> str:
    """What the server and the authenticator share, in base 32."""
    return base64.b32encode(secrets.token_bytes(SECRET_BYTES)).decode()


def code_of(secret: bytes, step: int, digits: int = DIGITS, kind: str = "sha1") -> str:
    """The code of one step: RFC 4226, section 5.3, with the time of RFC 6238 as its counter.

    SHA-1 is what every authenticator knows; here it stands under HMAC, where its collisions are of no use.
    """
    made = hmac.digest(secret, step.to_bytes(8, "big"), kind)
    at = made[-1] & 0x0F
    number = int.from_bytes(made[at : at + 4], "big") & 0x7FFFFFFF
    return str(number % 10**digits).zfill(digits)


def step_at(moment: datetime) -> int:
    """Which step a moment falls in."""
    return int(moment.timestamp()) // STEP


def step_of(code: str, secret: str, now: datetime, after: int) -> int | None:
    """Which step a code is that of; None where it is wrong, too old, or not newer than ``after``, the last one used."""
    typed = "".join(code.split())
    if len(typed) != DIGITS or not (typed.isascii() and typed.isdigit()):
        return None
    key, here, found = base64.b32decode(secret), step_at(now), None
    for step in range(here - SLACK, here + SLACK + 1):
        # Every one is compared, in time that does not depend on where they differ.
        if hmac.compare_digest(code_of(key, step), typed) and step > after:
            found = step
    return found


def address_of(secret: str, name: str, place: str) -> str:
    """What the QR code says to an authenticator: the common ``otpauth`` address."""
    words = urlencode({"secret": secret, "issuer": place, "digits": DIGITS, "period": STEP}, quote_via=quote)
    return f"otpauth://totp/{quote(place)}:{quote(name)}?{words}"


def new_recovery_codes() -> list[str]:
    """Codes for the day the authenticator is lost, each good once."""
    return ["".join(secrets.choice(LETTERS) for _ in range(RECOVERY_LETTERS)) for _ in range(RECOVERY_CODES)]


def in_groups(word: str) -> str:
    """Letters as they are read out and typed."""
    return " ".join(word[at : at + GROUP] for at in range(0, len(word), GROUP))


def recovery_hash(code: str) -> str:
    """What is kept of a recovery code, however it was typed."""
    plain = "".join(sign for sign in code.upper() if sign.isalnum())
    return hashlib.sha256(plain.encode()).hexdigest()
