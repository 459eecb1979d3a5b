"""Passwords: what makes one acceptable, and its hash. After NIST SP 800-63B (section 5.1.1 of revision 3).

Length counts, no rules of composition (5.1.1.2); at least 12 characters here, where the standard asks for 8 and later
for 15, because a studio shares its machines. Any Unicode character and blanks are taken, normalised (NFKC, as the
standard recommends), 200 at most, of which nothing is cut off. Refused is what is tried first: repetitions, runs of the
alphabet or the keyboard, the names that stand on the page, and the best-known words (from memory).

Hashes are Argon2id (RFC 9106, second recommended option: 64 MiB, three passes), salted each for itself.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache
from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.profiles import RFC_9106_LOW_MEMORY

SHORTEST, LONGEST = 12, 200
#: Characters that must be left of a password when names and well-known words are taken out of it.
OWN_CHARACTERS = 6
RUNS = (
    "abcdefghijklmnopqrstuvwxyz",
    "01234567890",
    "qwertyuiopasdfghjklzxcvbnm",
    "qwertzuiopasdfghjklyxcvbnm",
    "azertyuiopqsdfghjklmwxcvbn",
)
WELL_KNOWN = (
    "password",
    "passwort",
    "passwd",
    "letmein",
    "welcome",
    "iloveyou",
    "administrator",
    "admin",
    "qwerty",
    "qwertz",
    "monkey",
    "dragon",
    "football",
    "sunshine",
    "princess",
    "changeme",
    "secret",
    "moondesk",
)
#: Hash of a password that nobody has: an unknown name takes as long as a known one. Same parameters as `hasher`.
NOBODYS = "$argon2id$v=19$m=65536,t=3,p=4$02PSRn9N/RxPJ1gRQxMoeg$ROsref6QPAWnLDd25hK65iPxDDxUXazgWqikZHLgt20"


@cache
def hasher() -> PasswordHasher:
    return PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)


def complaint(password: str, names: Iterable[str] = ()) -> str:
    """What is wrong with a new password, as a sentence; empty: it will do. names: of account and programme."""
    text = _normal(password)
    if len(text) < SHORTEST:
        return f"Please take at least {SHORTEST} characters; three or four words in a row are easy to keep in mind."
    if len(text) > LONGEST:
        return f"Please keep it to {LONGEST} characters; it has {len(text)}."
    left = text.casefold()
    if len(set(left)) < 5:
        return "It repeats a few characters, which is tried first. Please take another."
    if all(any(a + b in run or b + a in run for run in RUNS) for a, b in pairwise(left)):
        return "It runs along the alphabet or the keyboard, which is tried first. Please take another."
    words = {word for name in names for word in (_normal(name).casefold(), *_normal(name).casefold().split())}
    for word in sorted((w for w in words | set(WELL_KNOWN) if len(w) > 2), key=lambda w: (-len(w), w)):
        left = left.replace(word, "")
    if len(re.sub(r"[\W\d_]+", "", left)) < OWN_CHARACTERS and left != text.casefold():
        return "Beside names on this page and well-known words it holds too little. Please take another."
    return ""


def hash_password(password: str) -> str:
    """Takes about a tenth of a second and 64 MiB, on purpose."""
    return hasher().hash(_normal(password))


def matches(password: str, password_hash: str) -> bool:
    """Whether the password has that hash; as slow as `hash_password`."""
    try:
        return hasher().verify(password_hash, _normal(password))
    except (VerificationError, InvalidHashError):
        return False


def is_outdated(password_hash: str) -> bool:
    """Whether it was made with other parameters than today's."""
    return hasher().check_needs_rehash(password_hash)


def _normal(text: str) -> str:
    return unicodedata.normalize("NFKC", text)
