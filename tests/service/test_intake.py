"""Taking folders: every file accounted for, nothing twice, nothing lost."""

from __future__ import annotations

from datetime import UTC, date, datetime
from email.message import EmailMessage

import pytest
from fakes import jpeg_with_gps, png

from moondesk.records import Place
from moondesk.service.errors import BadInputError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.settings.config import Config, IntakeLimits
from moondesk.service.store import letters
from moondesk.service.store.pictures import count_pictures, list_pictures, read_picture
from moondesk.service.store.records import EditionPlan

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


def take(folder, storage, media, config):
    edition = open_edition(storage, config, NOW, lambda _: None)
    return {
        i.origin: i
        for i in Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder)
    }


def test_every_file_is_accounted_for(folder, storage, media, config):
    items = take(folder, storage, media, config)
    assert {o: i.outcome for o, i in items.items()} == {
        "README.md": "left",
        "a.png": "taken",
        "b.jpg": "taken",
        "page.jpg": "refused",
        "sub/c.png": "taken",
        "gone.jpg": "refused",
    }
    assert items["page.jpg"].sentence.startswith("page.jpg: The file is a web page")
    assert items["gone.jpg"].sentence == "The table names gone.jpg, which is not in the folder."
    listed = list_pictures(storage, 1)
    assert [p.picture.enclosure.given_name for p in listed if p.picture.enclosure.refused] == ["page.jpg"]


def test_the_row_goes_with_its_picture_and_bad_values_are_remarked(folder, storage, media, config):
    take(folder, storage, media, config)
    by_name = {p.picture.enclosure.given_name: p.picture.submission.arrival for p in list_pictures(storage, 1)}
    a = by_name["a.png"]
    assert (a.sender_name, a.credit_line, a.equipment, a.consent, a.place_name, a.place) == (
        "Ilse",
        "Ilse from Vienna",
        "6 inch",
        "yes by form",
        "Vienna",
        Place(48.2, 16.4),
    )
    assert a.received_utc == datetime(2026, 3, 25, 21, tzinfo=UTC)
    b = by_name["b.jpg"]
    assert (b.sender_name, b.received_utc, b.place, len(b.remarks)) == ("Bo", None, None, 3)


def test_a_second_run_takes_nothing_twice_and_originals_are_untouched(folder, storage, media, config):
    take(folder, storage, media, config)
    before = count_pictures(storage, 1)
    again = take(folder, storage, media, config)
    assert {i.outcome for o, i in again.items() if o not in ("README.md", "gone.jpg")} == {"known"}
    (folder / "renamed.jpg").write_bytes(jpeg_with_gps())
    assert take(folder, storage, media, config)["renamed.jpg"].outcome == "known"
    assert count_pictures(storage, 1) == before
    shas = {p.picture.enclosure.sha256 for p in list_pictures(storage, 1)}
    assert {media.path(s).read_bytes() for s in shas} >= {png(), jpeg_with_gps(), (folder / "page.jpg").read_bytes()}


def mail(folder, name="m.eml", *pictures, text="Hello"):
    message = EmailMessage()
    message["From"] = "Zoë <zoe@example.org>"
    message["Date"] = "Wed, 25 Mar 2026 21:05:00 +0100"
    message["Subject"] = "Moon"
    message.set_content(text)
    for k, data in enumerate(pictures):
        message.add_attachment(data, maintype="image", subtype="png", filename=f"{k}.png")
    (folder / name).write_bytes(message.as_bytes())


def test_a_mail_with_two_pictures_is_one_submission(tmp_path, storage, media, config):
    mail(tmp_path, "m.eml", png(), png(shade=5), png(), b"GIF89a" + bytes(80))
    items = take(tmp_path, storage, media, config)
    assert (items["m.eml"].outcome, items["m.eml"].pictures) == ("taken", 2)
    listed = list_pictures(storage, 1)
    assert [p.picture.enclosure.given_name for p in listed] == ["0.png", "1.png", "3.png"]  # attached again: once
    assert {p.picture.submission.id for p in listed} == {1}
    assert "GIF" in listed[2].picture.enclosure.refused
    arrival = listed[0].picture.submission.arrival
    assert (arrival.sender_name, arrival.subject, arrival.received_utc.hour) == ("Zoë", "Moon", 20)
    assert take(tmp_path, storage, media, config)["m.eml"].outcome == "known"


def test_a_mail_without_a_picture_is_a_letter(tmp_path, storage, media, config):
    mail(tmp_path, "m.eml", text="I forgot the picture")
    assert take(tmp_path, storage, media, config)["m.eml"].outcome == "taken"
    assert list_pictures(storage, 1) == ()
    (found,) = letters.unread(storage, 10)
    assert (found.sender_name, found.holds) == ("Zoë", True)
    assert [p.text for p in letters.text_of(storage, found.id)] == ["I forgot the picture"]


def test_a_row_may_speak_for_a_mail(tmp_path, storage, media, config):
    mail(tmp_path, "m.eml", png())
    (tmp_path / "submissions.csv").write_text("file,consent,place,latitude,longitude\nm.eml,told by phone,Graz,47,15\n")
    take(tmp_path, storage, media, config)
    arrival = read_picture(storage, 1).submission.arrival
    assert (arrival.consent, arrival.place, arrival.sender_name) == ("told by phone", Place(47, 15), "Zoë")


def test_the_same_attachment_in_two_mails_is_two_submissions(tmp_path, storage, media, config):
    mail(tmp_path, "a.eml", png())
    mail(tmp_path, "b.eml", png(), text="again")
    take(tmp_path, storage, media, config)
    assert count_pictures(storage, 1).total == 2


def test_odd_files_never_stop_the_others(tmp_path, storage, media):
    (tmp_path / "0.eml").write_bytes(b"\0" * 100)
    (tmp_path / "1.jpg").write_bytes(b"")
    (tmp_path / "2.heic").write_bytes(b"\0\0\0\x18ftypqt  " + bytes(40))
    (tmp_path / "3.png").write_bytes(png() + bytes(5000))
    (tmp_path / "4.png").write_bytes(png())
    (tmp_path / "5.png").symlink_to(tmp_path / "4.png")
    (tmp_path / "sübmission\u202egpj.png").write_bytes(png(shade=3))
    (tmp_path / "submissions.csv").write_bytes(b"no table")
    config = Config(data_dir=tmp_path / "data", limits=IntakeLimits(picture_bytes=4000))
    items = take(tmp_path, storage, media, config)
    assert {o: i.outcome for o, i in items.items()} == {
        "0.eml": "taken",
        "1.jpg": "refused",
        "2.heic": "refused",
        "3.png": "refused",
        "4.png": "taken",
        "sübmission gpj.png": "taken",
        "submissions.csv": "refused",
    }
    assert "a video" in items["2.heic"].sentence
    assert "larger than" in items["3.png"].sentence


def test_a_folder_that_is_none(tmp_path, storage, media, config):
    with pytest.raises(BadInputError, match="not a folder"):
        take(tmp_path / "nowhere", storage, media, config)


def test_arrivals_go_to_the_edition_that_airs_next(storage, config):
    planned = Config(
        data_dir=config.data_dir,
        edition=EditionPlan(number=7, kind="live", recording_utc=None, air_utc=NOW, evenings=(date(2026, 3, 25),)),
    )
    first = open_edition(storage, planned, NOW.replace(hour=1), lambda plan: 8 if plan.evenings else None)
    assert (first.plan.number, first.plan.day_number) == (7, 8)
    assert open_edition(storage, planned, NOW.replace(hour=2), lambda _: None) == first
    assert open_edition(storage, planned, NOW.replace(hour=9), lambda _: None).plan.number == 8  # 7 has aired
