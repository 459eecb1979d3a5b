"""Settings, units in their names. Made at the desk < moondesk.toml in the data folder < environment < command line.

    [programme]  name, zone (IANA), language (en, bg), latitude, longitude, height_m
    [days]       first_number, hour, rule            day of the lunation, see `moondesk.ephemeris.phases.DayRule`
    [edition]    number, kind, recording_utc, air_utc, evenings    the edition that a fresh store opens with
    [mailbox]    host, user, port, folder, password_file, ca_file, plain, since, poll_seconds    see `moondesk watch`
    [smtp]       host, port, security (starttls, tls, plain), user, password_file, ca_file, address, name, reply_to
                 of the server that replies go through, and from whom; without it they are only written
    [privacy]    mail_days    days for which the text of a mail is kept (0: for good)
    [consent]    entry_terms    the programme's own published terms, where its lawyers take entering for consent; off
    [desk]       address    its own address as other machines see it (https://...), see `moondesk.service.web.access.network_rules`
                 proxies    addresses of the proxies before it; only theirs is an X-Forwarded-For believed
    [weights]    of the parts of the ranking, 0 to 10; any of `WEIGHTS`
    [limits]     any field of `Limits`

What can be set at the desk stands in the store (`moondesk.service.settings.at_desk`); what the file sets cannot be changed there.
A key or a section that is none of these is refused, with the nearest that is one.
"""

from __future__ import annotations

import ipaddress
import os
import re
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import UTC, date, datetime
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from moondesk.service.arrivals import ARRIVAL_WAYS
from moondesk.service.errors import BadInputError
from moondesk.service.settings.slips import check_sections
from moondesk.service.store.records import EditionPlan

if TYPE_CHECKING:
    from moondesk.records import Place

CONFIG_NAME = "moondesk.toml"
LOOPBACK = "127.0.0.1"
DEFAULT_PORT = 8750
#: How long the whole mails are kept; pictures, and the sentences that were quoted of them, stay.
MAIL_DAYS = 90
#: Parts of the ranking, and what each weighs while nobody has said otherwise; 0 leaves a part out.
WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "detail": 3.0,
        "focus": 2.0,
        "exposure": 2.0,
        "noise": 0.3,
        "completeness": 1.0,
        "terminator": 2.0,
        "fresh": 2.0,
        "newcomer": 1.0,
        "simple_equipment": 1.0,
        "fairness": 1.5,
        "variety": 0.5,
    }
)
MOST_WEIGHT = 10.0
SMTP_KEYS = ("host", "port", "security", "user", "password_file", "ca_file", "address", "name", "reply_to")
PROGRAMME_KEYS = ("name", "zone", "language", "latitude", "longitude", "height_m")
DAYS_KEYS = ("first_number", "hour", "rule")
EDITION_KEYS = ("number", "kind", "recording_utc", "air_utc", "evenings")


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Caps on what one file may cost."""

    picture_bytes: int = 60_000_000
    mail_bytes: int = 80_000_000
    #: A forged mail of 100,000 empty parts, or nested 2,000 deep, must not stop the taking.
    mail_parts: int = 200
    mail_nesting: int = 20
    #: Files of one archive, and their bytes together when unpacked.
    archive_files: int = 200
    archive_bytes: int = 300_000_000
    table_bytes: int = 5_000_000
    table_rows: int = 20_000
    #: Wall-clock seconds after which a picture is given up.
    place_seconds: int = 120


@dataclass(frozen=True)
class Programme:
    """Whose desk it is. zone: IANA name; evenings and shown times are in it."""

    name: str = "Moon desk"
    zone: str = "UTC"
    place: Place | None = None
    #: In which what goes out is written: notes, frames, replies. The desk itself is in English.
    language: str = "en"


@dataclass(frozen=True, kw_only=True)
class Config:
    data_dir: Path
    programme: Programme = field(default_factory=Programme)
    #: Fields of `moondesk.ephemeris.phases.DayRule` that the programme has set (that module is loaded only when needed).
    days: Mapping[str, Any] = field(default_factory=dict)
    edition: EditionPlan | None = None
    limits: Limits = field(default_factory=Limits)
    #: Worker processes for placing; 0 places in this process.
    workers: int = 0
    #: What the file sets for ways by which pictures come: by the name of the way.
    ways: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    #: Where replies go out; the keys are `SMTP_KEYS`, see `moondesk.service.replies.sending.post_of`.
    smtp: Mapping[str, Any] = field(default_factory=dict)
    #: Days for which the text of a mail is kept; 0: for good.
    mail_days: int = MAIL_DAYS
    #: Name and address of the terms under which whoever enters agrees to be shown; empty: entering is no consent.
    entry_terms: str = ""
    #: The desk's own address beyond this machine, https; empty: it has none. Proxies that stand before it.
    address: str = ""
    proxies: tuple[str, ...] = ()
    #: Of every part of the ranking, 0 to 10.
    weights: Mapping[str, float] = field(default_factory=lambda: WEIGHTS)
    #: Number of the edition that the desk says is next to air; None: the lowest that is not aired yet.
    next_edition: int | None = None
    #: What moondesk.toml sets, as "programme.zone": it cannot be changed at the desk.
    in_file: frozenset[str] = frozenset()

    @property
    def zones(self) -> tuple[str, ...]:
        """Zones to try for a camera's local time; nothing while the programme has not named its own."""
        return () if self.programme.zone == "UTC" else (self.programme.zone,)


def default_data_dir(environ: Mapping[str, str] = os.environ, platform: str = sys.platform) -> Path:
    """MOONDESK_DATA, else the platform's place for a program's data."""
    if environ.get("MOONDESK_DATA"):
        return Path(environ["MOONDESK_DATA"]).expanduser().absolute()
    home = Path(environ.get("HOME") or environ.get("USERPROFILE") or "~").expanduser()
    if platform == "win32":
        return Path(environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "moondesk"
    if platform == "darwin":
        return home / "Library" / "Application Support" / "moondesk"
    return Path(environ.get("XDG_DATA_HOME") or home / ".local" / "share") / "moondesk"


def load_config(data_dir: Path, workers: int | None = None) -> Config:
    """Settings for a data folder, those made at the desk among them; it need not exist yet.

    The folder of the settings is absolute, whatever was given: what serves its files is at home somewhere else.
    Raises BadInputError with file, key and value; StorageError.
    """
    from moondesk.service.settings.at_desk import stored_settings, with_settings

    data_dir = data_dir.expanduser().resolve()
    return with_settings(_file_config(data_dir, workers), stored_settings(data_dir))


def _file_config(data_dir: Path, workers: int | None) -> Config:
    path = data_dir / CONFIG_NAME
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise BadInputError(f"{path} cannot be read: {error}", "Correct the file, or move it away.") from error
    try:
        check_sections(table, _sections())
        programme = table.get("programme", {})
        address, proxies = _desk(table.get("desk", {}))
        return Config(
            data_dir=data_dir,
            programme=Programme(
                str(programme.get("name", "Moon desk")),
                _zone(programme.get("zone", "UTC")),
                _place(programme),
                language(programme.get("language", "en")),
            ),
            days=table.get("days", {}),
            edition=edition_plan(table["edition"]) if "edition" in table else None,
            limits=_limits(table.get("limits", {})),
            workers=(os.cpu_count() or 1) if workers is None else workers,
            ways={way.name: table.get(way.section, {}) for way in ARRIVAL_WAYS.values() if way.section},
            smtp=table.get("smtp", {}),
            mail_days=_days_kept(table.get("privacy", {}).get("mail_days", MAIL_DAYS)),
            entry_terms=str(table.get("consent", {}).get("entry_terms", "")),
            address=address,
            proxies=proxies,
            weights={**WEIGHTS, **{name: weight(value) for name, value in table.get("weights", {}).items()}},
            in_file=frozenset(
                f"{section}.{key}" for section, keys in table.items() if isinstance(keys, dict) for key in keys
            ),
        )
    except (AttributeError, TypeError, ValueError) as error:
        raise BadInputError(f"{path}: {error}", "Correct the value, or delete its line.") from error


def edition_plan(table: Mapping[str, Any]) -> EditionPlan:
    """An edition from its table. Raises ValueError for a value that is none."""
    kind = table.get("kind", "live")
    if kind not in ("live", "recorded"):
        raise ValueError(f"an edition is live or recorded, not {kind!r}")
    evenings = tuple(e if isinstance(e, date) else date.fromisoformat(str(e)) for e in table.get("evenings", ()))
    return EditionPlan(
        number=int(table.get("number", 1)),
        kind=kind,
        recording_utc=_instant(table.get("recording_utc")),
        air_utc=_instant(table.get("air_utc")),
        evenings=evenings,
    )


def _instant(value: Any) -> datetime | None:
    if value is None:
        return None
    when = value if isinstance(value, datetime) else datetime.fromisoformat(str(value))
    return when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)


def _zone(name: Any) -> str:
    try:
        ZoneInfo(str(name))
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(f"there is no time zone {name!r}; zones are named like Europe/Vienna") from error
    return str(name)


def language(code: Any) -> str:
    """A language that there is a catalogue of. Raises ValueError."""
    from moondesk.service.languages import LANGUAGES

    if code not in LANGUAGES:
        raise ValueError(f"there is no catalogue for the language {code!r}; there are {', '.join(LANGUAGES)}")
    return str(code)


def _place(table: Mapping[str, Any]) -> Place | None:
    if "latitude" not in table or "longitude" not in table:
        return None
    from moondesk.records import Place

    return Place(float(table["latitude"]), float(table["longitude"]), float(table.get("height_m", 0)))


def _sections() -> Mapping[str, tuple[str, ...]]:
    """The sections of moondesk.toml, and what each may set."""
    from moondesk.service.settings.public import Public

    return {
        "programme": PROGRAMME_KEYS,
        "days": DAYS_KEYS,
        "edition": EDITION_KEYS,
        **{way.section: way.keys for way in ARRIVAL_WAYS.values() if way.section},
        "smtp": SMTP_KEYS,
        "privacy": ("mail_days",),
        "consent": ("entry_terms",),
        "desk": ("address", "proxies"),
        "weights": tuple(WEIGHTS),
        "limits": tuple(f.name for f in fields(Limits)),
        "public": tuple(f.name for f in fields(Public)),
    }


def _desk(table: Mapping[str, Any]) -> tuple[str, tuple[str, ...]]:
    address, proxies = str(table.get("address", "")).rstrip("/"), table.get("proxies", ())
    if address and not re.fullmatch(
        r"https://[A-Za-z0-9.-]+(:[0-9]{1,5})?|https://\[[0-9a-fA-F:]+\](:[0-9]{1,5})?", address
    ):
        raise ValueError(f"[desk] address is like https://desk.example.org, not {address!r}")
    if isinstance(proxies, str):
        raise ValueError('[desk] proxies is a list: ["127.0.0.1"]')
    return address, tuple(str(ipaddress.ip_address(p)) for p in proxies)


def weight(value: Any) -> float:
    """A part's weight in the ranking. Raises ValueError."""
    number = float(value)
    if not 0 <= number <= MOST_WEIGHT:  # nan too
        raise ValueError(f"a weight lies from 0 to {MOST_WEIGHT:g}, not at {value}")
    return number


def _days_kept(value: Any) -> int:
    if int(value) < 0:
        raise ValueError(f"mail_days is a number of days, not {value!r}")
    return int(value)


def _limits(table: Mapping[str, Any]) -> Limits:
    return Limits(**{name: int(value) for name, value in table.items()})
