"""The settings as a record, made of moondesk.toml in the data folder and of what was set at the desk.

Most fields are rows of the table (see `table`); `LOOSE` has those that their readers check. A key or a section that is
none of them is refused, with the nearest that is one. What the file sets cannot be changed at the desk, so that nobody
wonders which of two counts; settings that could lock everybody out, or let the wrong ones in, are the file's alone.
"""

from __future__ import annotations

import os
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any

from moondesk.quality.weights import Weights
from moondesk.records import Place
from moondesk.service.arrivals import ARRIVAL_WAYS
from moondesk.service.errors import BadInputError
from moondesk.service.languages import LANGUAGES, REPLY_LANGUAGES
from moondesk.service.settings.public import Public
from moondesk.service.settings.table import (
    Setting,
    as_is,
    check_sections,
    ip_addresses,
    number_from,
    parsed,
    rows_of,
    secure_address,
    setting,
    with_value,
    zone,
)

CONFIG_NAME = "moondesk.toml"
LOOPBACK = "127.0.0.1"
DEFAULT_PORT = 8750
#: How long the whole mails are kept; pictures, and the sentences that were quoted of them, stay.
MAIL_DAYS = 90
#: Parts of the ranking, and what each weighs while nobody has said otherwise; 0 leaves a part out.
WEIGHTS: Mapping[str, float] = MappingProxyType(asdict(Weights()))
MOST_WEIGHT = 10.0
#: Of the environment: the password of the mail server that replies go through.
SMTP_PASSWORD = "MOONDESK_SMTP_PASSWORD"


def language(code: Any) -> str:
    """A language that there is a catalogue of. Raises ValueError."""
    if code not in LANGUAGES:
        raise ValueError(f"there is no catalogue for the language {code!r}; there are {', '.join(LANGUAGES)}")
    return str(code)


def frame_language(code: Any) -> str:
    """A language that frames can be written in, "" for that of what goes out. Raises ValueError."""
    if code and code not in REPLY_LANGUAGES:
        raise ValueError(f"there are no words of frames in {code!r}; there are {', '.join(REPLY_LANGUAGES)}")
    return str(code)


def place(numbers: Any) -> Place | None:
    """Of latitude, longitude and height in m; None where the first two are not both there."""
    if numbers is None or numbers[0] is None or numbers[1] is None:
        return None
    return Place(float(numbers[0]), float(numbers[1]), float(numbers[2] or 0))


def paper(value: Any) -> str:
    if value not in ("a4", "letter"):
        raise ValueError(f"paper is a4 or letter, not {value!r}")
    return str(value)


def edition_kind(value: Any) -> str:
    if value not in ("live", "recorded"):
        raise ValueError(f"an edition is live or recorded, not {value!r}")
    return str(value)


def instant(value: Any) -> datetime:
    when = value if isinstance(value, datetime) else datetime.fromisoformat(str(value))
    return when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)


def evenings(values: Any) -> tuple[date, ...]:
    return tuple(e if isinstance(e, date) else date.fromisoformat(str(e)) for e in values)


@dataclass(frozen=True, kw_only=True)
class IntakeLimits:
    """Caps on what one file may cost."""

    picture_bytes: int = setting(60_000_000, int, "bytes of one picture")
    mail_bytes: int = setting(80_000_000, int, "bytes of one mail")
    #: A forged mail of 100,000 empty parts, or nested 2,000 deep, must not stop the taking.
    mail_parts: int = setting(200, int, "parts of one mail")
    mail_nesting: int = setting(20, int, "depth to which the parts of a mail are nested")
    archive_files: int = setting(200, int, "files of one archive")
    archive_bytes: int = setting(300_000_000, int, "bytes of an archive's files together when unpacked")
    table_bytes: int = setting(5_000_000, int, "bytes of one table")
    table_rows: int = setting(20_000, int, "rows of one table")
    place_seconds: int = setting(120, int, "wall-clock seconds after which a picture is given up")


@dataclass(frozen=True)
class Programme:
    """Whose desk it is. zone: IANA name; evenings and shown times are in it."""

    name: str = setting("Moon desk", str, "the programme's name", desk=True)
    zone: str = setting("UTC", zone, "the time zone", desk=True)
    place: Place | None = setting(None, place, "the place", desk=True, parts=("latitude", "longitude", "height_m"))
    #: In which what goes out is written: notes, frames, replies. The desk itself is in English.
    language: str = setting("en", language, "the language of what goes out", desk=True)
    paper: str = setting("a4", paper, "the paper of the printed rundown, a4 or letter", desk=True)


def naming(value: Any) -> str:
    if value not in ("local", "iau", "both"):
        raise ValueError(f"names are local, iau or both, not {value!r}")
    return str(value)


@dataclass(frozen=True, kw_only=True)
class Air:
    """How frames for air look."""

    theme: str = setting(
        "nightglass",
        str,
        "the look: nightglass, harbour-slate, paper-almanac, or a theme file in the data folder",
        desk=True,
    )
    language: str = setting("", frame_language, "the language of frames, where it is not that of what goes out")
    names: str = setting("local", naming, "names of features: local where the language has them, iau, or both")


@dataclass(frozen=True, kw_only=True)
class FirstEdition:
    """The edition that a fresh store opens with."""

    number: int = setting(1, int, "the number of the edition that a fresh store opens with")
    kind: str = setting("live", edition_kind, "live or recorded")
    recording_utc: datetime | None = setting(None, instant, "when it is recorded")
    air_utc: datetime | None = setting(None, instant, "when it goes on air")
    evenings: tuple[date, ...] = setting((), evenings, "the evenings whose Moon it is about")


@dataclass(frozen=True, kw_only=True)
class Config:
    data_dir: Path
    programme: Programme = field(default_factory=Programme)
    #: Fields of `moondesk.ephemeris.phases.DayRule` that the programme has set; see `programme.evenings.load_calendar`.
    days: Mapping[str, Any] = field(default_factory=dict)
    edition: FirstEdition = field(default_factory=FirstEdition)
    air: Air = field(default_factory=Air)
    limits: IntakeLimits = field(default_factory=IntakeLimits)
    #: Worker processes for placing; 0 places in this process.
    workers: int = 0
    #: What the file sets for ways by which pictures come: by the name of the way.
    ways: Mapping[str, Mapping[str, Any]] = field(
        default_factory=lambda: {way.name: {} for way in ARRIVAL_WAYS.values() if way.section}
    )
    #: Where replies go out, see `moondesk.service.replies.sending.post_of`; without it they are only written.
    smtp: Mapping[str, Any] = field(default_factory=dict)
    mail_days: int = setting(
        MAIL_DAYS, number_from(0), "days for which a mail's text is kept", key="privacy.mail_days", desk=True
    )
    entry_terms: str = setting(
        "",
        str,
        "name and address of the terms under which whoever enters agrees to be shown; without it entering is no consent",
        key="consent.entry_terms",
    )
    address: str = setting(
        "", secure_address, "the desk's own address as other machines see it, https", key="desk.address"
    )
    proxies: tuple[str, ...] = setting(
        (),
        ip_addresses,
        "addresses of the proxies before the desk; only theirs is an X-Forwarded-For believed",
        key="desk.proxies",
    )
    air_folder: str = setting(
        "",
        str,
        "folder for what stands on air as pictures, replaced at each step, for mixing software; without it none is written",
        key="air.folder",
    )
    #: Of every part of the ranking, 0 to 10.
    weights: Mapping[str, float] = field(default_factory=lambda: WEIGHTS)
    public: Public = field(default_factory=Public)
    next_edition: int | None = setting(
        None, as_is, "the edition next to air", key="edition.next", desk=True, file=False
    )
    #: What moondesk.toml sets, as "programme.zone": it cannot be changed at the desk.
    in_file: frozenset[str] = frozenset()

    @property
    def zones(self) -> tuple[str, ...]:
        """Zones to try for a camera's local time; nothing while the programme has not named its own."""
        return () if self.programme.zone == "UTC" else (self.programme.zone,)


def _loose(section: str, **words: str) -> list[Setting]:
    return [
        Setting(key=f"{section}.{name}", parse=as_is, words=said, path=(section, name)) for name, said in words.items()
    ]


#: Rows whose values are kept as they stand: who reads them checks them.
LOOSE = (
    *(
        Setting(key=f"days.{name}", parse=as_is, words=words, path=("days", name), desk=True)
        for name, words in (
            ("first_number", "the number of the first day"),
            ("hour", "the evening's hour"),
            ("rule", "the rule of the day count"),
        )
    ),
    *_loose(
        "smtp",
        host="the mail server that replies go through",
        port="its port, else that of its security",
        security="starttls, tls or plain",
        user="name to log in with",
        ca_file="certificate of who signed the server's",
        address="address that replies come from",
        name="name that replies come from, else the programme's",
        reply_to="where answers go",
    ),
    Setting(
        key="smtp.password_file",
        parse=as_is,
        words="file whose first line is the password",
        path=("smtp", "password_file"),
        secret=SMTP_PASSWORD,
    ),
    *(
        Setting(
            key=f"weights.{name}",
            parse=number_from(0, MOST_WEIGHT, float),
            default=default,
            words=f"the weight of {name.replace('_', ' ')}",
            path=("weights", name),
            desk=True,
        )
        for name, default in WEIGHTS.items()
    ),
)


def all_settings() -> dict[str, Setting]:
    """The table: every setting by its key. Ways by which pictures come bring their own."""
    of_ways = (
        Setting(key=f"{way.section}.{name}", parse=as_is, path=("ways", way.name, name), words=f"see [{way.section}]")
        for way in ARRIVAL_WAYS.values()
        for name in way.keys
    )
    return {row.key: row for row in (*rows_of(Config), *LOOSE, *of_ways)}


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


def read_config(data_dir: Path, workers: int | None = None) -> Config:
    """What moondesk.toml of a data folder sets; the folder need not exist yet.

    The folder of the settings is absolute, whatever was given: what serves its files is at home somewhere else.
    workers: worker processes, None: one for each core. Raises BadInputError with file, key and value.
    """
    data_dir = data_dir.expanduser().resolve()
    path = data_dir / CONFIG_NAME
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise BadInputError(f"{path} cannot be read: {error}", "Correct the file, or move it away.") from error
    config = Config(data_dir=data_dir, workers=(os.cpu_count() or 1) if workers is None else workers)
    rows = all_settings().values()
    sections: dict[str, list[str]] = {}
    for row in rows:
        sections.setdefault(row.section, []).extend(row.lines)
    try:
        check_sections(table, sections)
        for row in rows:
            values = table.get(row.section, {})
            if any(line in values for line in row.lines):
                given = [values.get(line) for line in row.lines]
                config = with_value(config, row.path, parsed(row, given if row.parts else given[0]))
    except ValueError as error:
        raise BadInputError(f"{path}: {error}", "Correct the value, or delete its line.") from error
    return replace(config, in_file=frozenset(f"{s}.{key}" for s, keys in table.items() for key in keys))
