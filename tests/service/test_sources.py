"""Every source through the one path: what lies in a folder, an mbox, a Maildir or an archive is taken, once."""

from __future__ import annotations

import io
import mailbox
import zipfile
from datetime import UTC, datetime
from email.message import EmailMessage

import pytest
from fakes import png

from moondesk.service.errors import BadInputError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.store.pictures import count_pictures, list_pictures

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


@pytest.fixture
def take(storage, media, config):
    def taking(path):
        edition = open_edition(storage, config, NOW, lambda _: None)
        return {
            i.origin: i
            for i in Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(
                path
            )
        }

    return taking


def message(number: int, *attached: tuple[str, bytes]) -> EmailMessage:
    made = EmailMessage()
    made["From"] = f"Sender {number} <s{number}@example.org>"
    made["Date"] = "Wed, 25 Mar 2026 21:05:00 +0100"
    made.set_content(f"Moon {number}")
    for name, data in attached:
        made.add_attachment(data, maintype="application", subtype="octet-stream", filename=name)
    return made


def zipped(**files: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as opened:
        for name, data in files.items():
            opened.writestr(name.replace("_", "."), data)
    return buffer.getvalue()


def names(storage):
    return sorted(p.picture.enclosure.given_name for p in list_pictures(storage, 1))


def test_an_mbox_a_maildir_and_the_mails_themselves_are_the_same_mails(tmp_path, take, storage):
    made = [message(k, (f"{k}.png", png(shade=k))) for k in range(3)]
    box = mailbox.mbox(tmp_path / "evening.mbox")
    directory = mailbox.Maildir(tmp_path / "box")
    for k, one in enumerate(made):
        box.add(one)
        directory.add(one)
        (tmp_path / f"{k}.eml").write_bytes(one.as_bytes())
    box.close()
    first = take(tmp_path / "evening.mbox")
    assert {o: (i.outcome, i.pictures) for o, i in first.items()} == {
        f"evening.mbox #{k}": ("taken", 1) for k in (1, 2, 3)
    }
    assert names(storage) == ["0.png", "1.png", "2.png"]
    assert {i.outcome for i in take(tmp_path / "box").values()} == {"known"}
    assert {i.outcome for i in take(tmp_path).values()} == {"known"}
    assert count_pictures(storage, 1).total == 3


def test_a_folder_holds_any_of_the_others(tmp_path, take, storage):
    (tmp_path / "in").mkdir()
    mailbox.Maildir(tmp_path / "in" / "box").add(message(1, ("1.png", png(shade=1))))
    box = mailbox.mbox(tmp_path / "in" / "old")
    box.add(message(2, ("2.png", png(shade=2))))
    box.close()
    (tmp_path / "in" / "more.zip").write_bytes(zipped(a_png=png(shade=3), b_png=png(shade=4)))
    (tmp_path / "in" / "loose.png").write_bytes(png(shade=5))
    (tmp_path / "in" / "submissions.csv").write_text("file,name\nmore.zip,Ilse\n")
    items = take(tmp_path / "in")
    assert [i.outcome for i in items.values()] == ["taken"] * 4
    assert names(storage) == ["1.png", "2.png", "a.png", "b.png", "loose.png"]
    senders = {
        p.picture.enclosure.given_name: p.picture.submission.arrival.sender_name for p in list_pictures(storage, 1)
    }
    assert (senders["a.png"], senders["b.png"], senders["1.png"]) == ("Ilse", "Ilse", "Sender 1")


def test_an_archive_in_a_mail_is_opened_and_its_content_listed_once(tmp_path, take, storage, media):
    archive = zipped(a_png=png(), b_txt=b"notes", c_png=png(shade=8))
    (tmp_path / "m.eml").write_bytes(message(1, ("a.png", png()), ("all.zip", archive)).as_bytes())
    assert (take(tmp_path)["m.eml"].outcome, take(tmp_path)["m.eml"].outcome) == ("taken", "known")
    listed = {p.picture.enclosure.given_name: p.picture.enclosure for p in list_pictures(storage, 1)}
    assert list(listed) == ["a.png", "b.txt", "c.png"]
    assert (listed["a.png"].refused, listed["c.png"].refused) == (None, None)
    assert listed["b.txt"].refused
    assert media.path(listed["c.png"].sha256).read_bytes() == png(shade=8)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (zipped(), "is empty"),
        (zipped(inner_zip=zipped(a_png=png())), "zip archive"),
        (zipped(a_png=png())[:60], "damaged"),
    ],
    ids=["clutter only", "an archive inside", "cut off"],
)
def test_an_archive_that_gives_nothing_is_listed_with_its_sentence(tmp_path, take, storage, data, sentence):
    (tmp_path / "x.zip").write_bytes(data if data[:4] == b"PK\x03\x04" else zipped(Thumbs_db=b"x"))
    assert take(tmp_path / "x.zip")["x.zip"].outcome == "refused"
    (picture,) = list_pictures(storage, 1)
    assert sentence in picture.picture.enclosure.refused


def test_a_single_picture_a_single_mail_and_nothing(tmp_path, take):
    (tmp_path / "a.png").write_bytes(png())
    (tmp_path / "m.eml").write_bytes(message(1).as_bytes())
    assert take(tmp_path / "a.png")["a.png"].outcome == "taken"
    assert take(tmp_path / "m.eml")["m.eml"].outcome == "taken"  # a letter
    with pytest.raises(BadInputError, match="not a folder or file"):
        take(tmp_path / "nowhere")
