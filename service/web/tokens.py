"""Secrets of the forms: signed tokens against forged requests, tokens of receipt links, marks of known browsers.

A form's token is signed together with the visitor's cookie (a signed double submit): a page elsewhere can make a
visitor's browser send a form, but can neither read the cookie nor sign for it. Pure but for the key's file.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from moondesk.service.store.keys import FORMS_KEY, load_key

#: Where a script puts a form's token; a plain form puts it into its address. Both are read before the form itself.
TOKEN_HEADER, TOKEN_FIELD = "X-Form-Token", "token"
#: A form may be filled in during a whole evening.
VALID = timedelta(hours=12)
VISITOR = re.compile(r"[0-9a-f]{32}")
_MARKED = re.compile(r"[0-9]{1,12}\.[0-9a-f]{16}", re.ASCII)
_TOKEN = re.compile(r"([0-9]{1,12})\.([0-9a-f]{32})\.([0-9a-f]{64})", re.ASCII)


def new_visitor() -> str:
    """A value for the visitor's cookie."""
    return secrets.token_hex(16)


@dataclass(frozen=True)
class Tokens:
    """key: secret of this installation."""

    key: bytes

    def issue(self, visitor: str, now: datetime) -> str:
        """A fresh token for a form of a visitor: when, the form's own number, and the signature of both."""
        when, form_id = str(int(now.timestamp())), secrets.token_hex(16)
        return f"{when}.{form_id}.{self._sign('form', visitor, when, form_id)}"

    def form_id(self, token: str, visitor: str, now: datetime) -> str | None:
        """The number of the form that the token came with; None where it is forged, another visitor's, or too old."""
        parts = _TOKEN.fullmatch(token)
        if not parts or not VISITOR.fullmatch(visitor):
            return None
        when, form_id, signature = parts.groups()
        if not hmac.compare_digest(signature, self._sign("form", visitor, when, form_id)):
            return None
        age = now.timestamp() - int(when)  # before: the clock was set back since; it was signed here all the same
        return form_id if abs(age) <= VALID.total_seconds() else None

    def receipt(self, submission_key: str) -> str:
        """The token of a submission's receipt link, 192 bits; the same for the same submission."""
        digest = bytes.fromhex(self._sign("receipt", submission_key))
        return base64.urlsafe_b64encode(digest[:24]).decode()

    def browser_mark(self, account_id: int) -> str:
        """What a browser keeps by which an account was logged in once."""
        name = f"{account_id}.{secrets.token_hex(8)}"
        return f"{name}.{self._sign('browser', name)}"

    def account_of_mark(self, mark: str) -> int | None:
        """Whose account a browser's mark is of; None: it is none of ours."""
        name, _, signature = mark.rpartition(".")
        if not _MARKED.fullmatch(name) or not hmac.compare_digest(
            signature.encode(), self._sign("browser", name).encode()
        ):
            return None
        return int(name.partition(".")[0])

    def cookie(self, name: str) -> str:
        """The name of a cookie of this installation: cookies know no ports (RFC 6265, 8.5), and two of them on one
        host would take each other's away."""
        return f"{name}_{self._sign('cookies')[:10]}"

    def _sign(self, *parts: str) -> str:
        return hmac.new(self.key, "\n".join(parts).encode(), hashlib.sha256).hexdigest()


def load_tokens(data_dir: Path) -> Tokens:
    """The secret of a data folder, made at the first call and readable by its owner only. Raises StorageError."""
    return Tokens(load_key(data_dir / FORMS_KEY))
