"""Settings of the upload page: the section [public] of moondesk.toml."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from moondesk.service.settings.table import ip_addresses, number_from, own_address, setting, web_address

DEFAULT_PUBLIC_PORT = 8760


def _most(default: int, words: str) -> Any:
    """A number of at least 1."""
    return setting(default, number_from(1), words)


@dataclass(frozen=True, kw_only=True)
class Public:
    address: str = setting(
        "", own_address, "its own address as the audience sees it, for receipt links; else as it was asked"
    )
    proxies: tuple[str, ...] = setting(
        (), ip_addresses, "addresses of the proxies before it; only theirs is an X-Forwarded-For believed"
    )
    contact: str = setting("", str, "whom to ask about one's data: a mail address or a sentence")
    terms: str = setting("", web_address, "address of the programme's own terms or privacy statement")
    question_days: int = _most(21, "days for which a question can be answered by its link")
    pictures: int = _most(12, "pictures of one form")
    form_bytes: int = _most(150_000_000, "bytes of all files of one form together")
    forms_at_once: int = _most(20, "forms of one visitor in a row")
    forms_per_hour: int = _most(60, "forms of one visitor an hour after those in a row")
    #: A class or a carrier's customers may share an address. A third of these may come in a row.
    address_forms_per_hour: int = _most(600, "forms an hour from one address")
    all_forms_per_hour: int = _most(3_000, "forms an hour from everybody together")
    all_bytes_per_hour: int = _most(20_000_000_000, "bytes an hour from everybody together")
    arriving_bytes: int = _most(
        1_000_000_000, "bytes of forms that are coming in at the same time; one address may have half of it"
    )
    connections: int = _most(32, "connections from one address")
