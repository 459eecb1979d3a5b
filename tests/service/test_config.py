"""Settings: sources in their order, errors with file, key and value."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from moondesk.records import Place
from moondesk.service.errors import BadInputError
from moondesk.service.programme.evenings import ProgrammeEvening, load_calendar
from moondesk.service.settings.config import CONFIG_NAME, FirstEdition, default_data_dir
from moondesk.service.store.settings import load_config

SETTINGS = """
[programme]
name = "The Evening Sky"
zone = "Europe/Vienna"
latitude = 48.2
longitude = 16.4
[days]
first_number = 0
hour = 19.5
[edition]
number = 7
kind = "recorded"
recording_utc = 2026-03-25T18:00:00+01:00
air_utc = 2026-03-26T20:00:00Z
evenings = [2026-03-25]
[limits]
mail_parts = 5
"""


def test_a_fresh_folder_has_defaults(tmp_path):
    config = load_config(tmp_path / "none", workers=3)
    assert (config.programme.zone, config.zones, config.edition, config.workers) == ("UTC", (), FirstEdition(), 3)


def test_the_file_is_read(tmp_path):
    (tmp_path / CONFIG_NAME).write_text(SETTINGS)
    config = load_config(tmp_path)
    assert (config.programme.name, config.zones) == ("The Evening Sky", ("Europe/Vienna",))
    assert config.programme.place == Place(48.2, 16.4)
    assert (config.edition.number, config.edition.kind) == (7, "recorded")
    assert config.edition.evenings == (date(2026, 3, 25),)
    assert config.edition.recording_utc == datetime(2026, 3, 25, 17, tzinfo=UTC)
    assert config.limits.mail_parts == 5
    rule = load_calendar(config).rule
    assert (rule.first_number, rule.hour) == (0, 19.5)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[programme]\nzone = 'Moon/Base'", "no time zone 'Moon/Base'"),
        ("[programme]\nzone = '../../etc/passwd'", "no time zone"),
        ("[programme]\nlatitude = 95\nlongitude = 0", "outside the Earth"),
        ("[edition]\nkind = 'streamed'", "live or recorded, not 'streamed'"),
        ("[limits]\nmails = 3", "no 'mails'"),
        ("[days]\nfirst = 3", "no 'first'"),
        ("programme = 3", r"written \[programme\]"),
        ("[programme", "cannot be read"),
    ],
)
def test_a_wrong_setting_names_itself(tmp_path, text, sentence):
    (tmp_path / CONFIG_NAME).write_text(text)
    with pytest.raises(BadInputError, match=sentence):
        load_config(tmp_path)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[programm]\nname = 'Sky'", r"no section \[programm\]; did you mean \[programme\]\?"),
        ("[smtpp]\nhost = 'x'", r"no section \[smtpp\]; did you mean \[smtp\]\?"),
        ("[zzz]", r"no section \[zzz\]; there are \[programme\], \[edition\]"),
        ("[programme]\nzon = 'Europe/Vienna'", r"\[programme\] has no 'zon'; did you mean 'zone'\?"),
        ("[programme]\nnaem = 'Sky'", "did you mean 'name'"),
        ("[edition]\nevening = [2026-03-25]", "did you mean 'evenings'"),
        ("[desk]\nadress = 'https://desk.example.org'", "did you mean 'address'"),
        ("[public]\ncontract = 'x'", "did you mean 'contact'"),
        ("[weights]\nfokus = 3", "did you mean 'focus'"),
        ("zone = 'Europe/Vienna'", r"'zone' stands outside of every section; it belongs under \[programme\]"),
    ],
)
def test_a_slip_in_the_settings_is_refused_with_the_nearest_right_word(tmp_path, text, sentence):
    (tmp_path / CONFIG_NAME).write_text(text)
    with pytest.raises(BadInputError, match=sentence):
        load_config(tmp_path)


def test_a_relative_folder_is_made_absolute(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert load_config(Path("d")).data_dir == tmp_path / "d"
    assert default_data_dir({"MOONDESK_DATA": "d"}) == tmp_path / "d"


def test_a_wrong_day_rule_is_told(tmp_path):
    (tmp_path / CONFIG_NAME).write_text("[days]\nhour = 3")
    with pytest.raises(BadInputError, match="not at 3"):
        load_calendar(load_config(tmp_path))


def test_where_data_goes():
    def at(environ, platform):
        return default_data_dir(environ, platform).as_posix()

    assert at({"MOONDESK_DATA": "/x/y", "HOME": "/h"}, "linux") == "/x/y"
    assert at({"HOME": "/h"}, "linux") == "/h/.local/share/moondesk"
    assert at({"HOME": "/h", "XDG_DATA_HOME": "/d"}, "linux") == "/d/moondesk"
    assert at({"HOME": "/h"}, "darwin") == "/h/Library/Application Support/moondesk"
    assert default_data_dir({"LOCALAPPDATA": "/l"}, "win32") == Path("/l/moondesk")


def test_a_picture_of_the_small_hours_belongs_to_the_evening_before(tmp_path):
    """New Moon was on 2026 March 19, 01:23 UTC (almanac, from memory): day 1 is that evening, day 7 the 25th."""
    (tmp_path / CONFIG_NAME).write_text("[programme]\nzone = 'Europe/Vienna'")
    calendar = load_calendar(load_config(tmp_path))
    assert calendar.evening(datetime(2026, 3, 25, 23, 30, tzinfo=UTC)) == ProgrammeEvening(date(2026, 3, 25), 7)
    assert calendar.day_of_date(date(2026, 3, 25)) == 7


def test_mailbox_privacy_and_consent(tmp_path):
    from moondesk.service.settings.config import CONFIG_NAME, MAIL_DAYS

    plain = load_config(tmp_path)
    assert (dict(plain.ways["mail"]), plain.mail_days, plain.entry_terms) == (
        {},
        MAIL_DAYS,
        "",
    )  # terms: off by default
    (tmp_path / CONFIG_NAME).write_text(
        '[mailbox]\nhost = "imap.example.org"\nport = 993\n[privacy]\nmail_days = 7\n'
        '[consent]\nentry_terms = "Terms of entry, 2026"\n'
    )
    told = load_config(tmp_path)
    assert (told.ways["mail"]["host"], told.mail_days, told.entry_terms) == (
        "imap.example.org",
        7,
        "Terms of entry, 2026",
    )
    for wrong in (
        "[privacy]\nmail_days = -1\n",
        "[privacy]\ndays = 3\n",
        "[consent]\nterms = 1\n",
        "[mailbox]\nx = 1\n",
    ):
        (tmp_path / CONFIG_NAME).write_text(wrong)
        with pytest.raises(BadInputError):
            load_config(tmp_path)
