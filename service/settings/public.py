"""Settings of the upload page: the table [public] of moondesk.toml.

address          its own address as the audience sees it (https://...), for receipt links; default: as it was asked
proxies          addresses of the proxies before it; only theirs is an X-Forwarded-For believed
contact          whom to ask about one's data: a mail address or a sentence
terms            address of the programme's own terms or privacy statement
pictures, form_bytes, forms_at_once, ...    limits, see `Public`
"""

from __future__ import annotations

import ipaddress
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from moondesk.service.errors import BadInputError
from moondesk.service.settings.config import CONFIG_NAME
from moondesk.service.settings.slips import check_keys

DEFAULT_PUBLIC_PORT = 8760


@dataclass(frozen=True, kw_only=True)
class Public:
    address: str = ""
    proxies: tuple[str, ...] = ()
    contact: str = ""
    terms: str = ""
    #: Pictures of one form, and bytes of all its files together.
    pictures: int = 12
    form_bytes: int = 150_000_000
    #: Forms of one visitor: in a row, and then an hour.
    forms_at_once: int = 20
    forms_per_hour: int = 60
    #: From one address, which a class or a carrier's customers may share; and from everybody together. A third of it
    #: may come in a row.
    address_forms_per_hour: int = 600
    all_forms_per_hour: int = 3_000
    all_bytes_per_hour: int = 20_000_000_000
    #: Bytes of forms that are coming in at the same time; one address may have half of it.
    arriving_bytes: int = 1_000_000_000
    #: Connections from one address.
    connections: int = 32


#: The settings that are numbers.
NUMBERS = tuple(f.name for f in fields(Public) if isinstance(f.default, int))


def load_public(data_dir: Path) -> Public:
    """The settings of a data folder. Raises BadInputError with file, key and value."""
    path = data_dir / CONFIG_NAME
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8")).get("public", {}) if path.is_file() else {}
        return public_of(table)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError, TypeError, AttributeError, ValueError) as error:
        raise BadInputError(f"{path}: {error}", "Correct the value, or delete its line.") from error


def public_of(table: Mapping[str, Any]) -> Public:
    """Raises ValueError or TypeError for a value that is none."""
    check_keys("public", table, (f.name for f in fields(Public)))
    values = dict(table)
    for name in ("address", "terms"):
        text = str(values.get(name, ""))
        if text and not text.startswith(("https://", "http://")):
            raise ValueError(f"[public] {name} begins with https://, not {text!r}")
        values[name] = text
    if isinstance(values.get("proxies", ()), str):
        raise ValueError('[public] proxies is a list: ["127.0.0.1"]')
    values["proxies"] = tuple(str(ipaddress.ip_address(p)) for p in values.get("proxies", ()))
    for name in NUMBERS:
        if int(values.get(name, 1)) < 1:
            raise ValueError(f"[public] {name} is at least 1")
    return Public(**{**values, "address": values["address"].rstrip("/"), "contact": str(values.get("contact", ""))})
