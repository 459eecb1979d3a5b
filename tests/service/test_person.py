"""`moondesk person`: what is stored of one person, whole, and nothing of anybody else; other spellings are offered."""

from __future__ import annotations

import json
import zipfile

import fakes
import pytest
from click.testing import CliRunner
from letters_desk import NOW, mail, pick, picture_of, taken, with_terms

from moondesk.service.cli.main import main
from moondesk.service.exports import person_archive
from moondesk.service.store import accounts, questions, replies
from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.decisions import insert_changes
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.senders import name_key, submissions_of, variants
from moondesk.service.store.submissions import add_consent

ANN = "ann@x.org"


@pytest.fixture
def data(config, storage, monkeypatch):
    """All kinds of things of Ann's, and Bo's beside them."""
    ann, bo = taken(
        storage,
        with_terms(config),
        mail(ANN, "Here is the Moon, with my 6 inch Dobsonian. You may show it.", "Ann's Moon", 90),
        mail("bo@y.org", "Here is my Moon, secret words of Bo.", "Bo's Moon", 120),
    )
    taken(storage, config, mail(ANN, "Have you got it?", "A letter of Ann's"))
    picture = picture_of(storage, ann)
    accounts.add_account(storage, "Vesna", "presenter", "x", NOW, "Vesna")
    add_consent(storage, ann, ConsentRecord(state="given", kind="phone", evidence="Yes!", noted_by="Vesna"), NOW)
    with storage.writing():
        insert_changes(storage, picture, [DecidedChange("credit_line", {"text": "Ann from Cork"})], "Vesna", NOW)
    pick(storage, picture)
    pick(storage, picture_of(storage, bo))
    with storage.writing() as execute:
        execute("update rundown_items set note = 'she is nine'")
        execute(
            "insert into aired (edition_id, item_id, picture_id, aired_utc, credit, frame) "
            "select edition_id, id, picture_id, ?, 'Ann from Cork', '' from rundown_items where picture_id = ?",
            [NOW.isoformat(), picture],
        )
        execute("update versions set words = 'Bo sent the same picture'")
    question_id, _ = questions.ask(storage, ann, picture, "consent", "", "Vesna", NOW, 21)
    given = questions.Answer(
        choice="yes", value="", asked="May we show it?", words="Yes, of course", language="en", when_utc=NOW
    )
    assert questions.answer(storage, question_id, given, questions.Consequences(), "the sender, by a link")
    replies.keep(storage, ann, ANN, "Re: Ann's Moon", "Dear Ann, it is lovely.", None, 0, "Vesna", NOW)
    drawn = config.data_dir / "labelled.png"
    drawn.write_bytes(fakes.png())
    monkeypatch.setattr(person_archive, "redraw_missing", lambda *_: drawn)
    return config.data_dir


def run(data, *args):
    result = CliRunner().invoke(main, ["person", *args, "--data", str(data)])
    return result.exit_code, result.output


def test_the_archive_holds_the_whole_record_and_nothing_of_others(data, storage, tmp_path):
    out = tmp_path / "ann.zip"
    code, told = run(data, ANN, "--out", str(out))
    assert (code, "2 submissions, 1 pictures, 3 files" in told) == (0, True), told
    assert out.stat().st_mode & 0o077 == 0
    with zipfile.ZipFile(out) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        whole = {name: archive.read(name) for name in names}
    assert [n for n in names if n.startswith("files/")] == [
        "files/1-mail.eml",
        "files/1-1-moon.png",
        "files/3-mail.eml",
    ]
    assert {"labelled/1.png", "annotations/1.json", "person.json", "README.txt"} <= set(names)
    assert whole["files/1-1-moon.png"] == fakes.png(300, 300, shade=90)
    for name, content in whole.items():
        for other in (b"bo@y.org", b"Bo's", b"secret words", b"Vesna"):
            assert other not in content, (name, other)
    told = json.loads(whole["person.json"])
    first, letter = told["submissions"]
    (picture,) = first["pictures"]
    assert first["text"][0]["text"].startswith("Here is the Moon, with my 6 inch")
    assert any(s["field"] == "aperture_mm" for s in first["suggestions"])
    assert [c["evidence"] for c in first["consents"]] == ["Yes!"]
    assert first["consents"][0]["noted_by"] == "the programme"
    assert first["questions"][0]["answers"][0]["words"] == "Yes, of course"
    assert "token" not in first["questions"][0]
    assert first["replies"][0]["body"] == "Dear Ann, it is lovely."
    assert picture["decisions"][0]["what"] == {"text": "Ann from Cork"}
    assert picture["aired"][0]["credit"] == "Ann from Cork"
    assert picture["rundown"][0]["note"] == "she is nine"
    assert picture["annotation"]["whole"] == "annotations/1.json"
    assert letter["letter"][0]["kind"] == "letter"
    readme = whole["README.txt"].decode()
    assert "2 mails or forms, 1 pictures" in readme
    assert "Ann's Moon; 1 pictures; showing it: given" in readme


def test_without_out_it_only_counts_and_nobody_is_told_as_such(data, tmp_path):
    assert run(data, ANN) == (0, "2 submissions, 1 pictures, 3 files. Name the archive to write with --out.\n")
    assert run(data, "nobody@example.org")[0] == 3
    code, told = run(data, ANN, "--out", str(tmp_path / "no" / "where.zip"))
    assert code != 0
    assert "cannot be written" in told


def test_a_mail_that_somebody_else_passed_on_is_not_theirs(config, storage, tmp_path, monkeypatch):
    (one,) = taken(storage, config, mail("bo@y.org", "Private words of Bo. Ann took it.", "Fwd", 90))
    with storage.writing() as execute:
        execute("insert into other_addresses values ('ann@x.org', ?)", [one])
    monkeypatch.setattr(person_archive, "redraw_missing", lambda *_: None)
    out = tmp_path / "ann.zip"
    assert run(config.data_dir, ANN, "--out", str(out))[0] == 0
    with zipfile.ZipFile(out) as archive:
        content = b"".join(archive.read(n) for n in archive.namelist())
        assert "files/1-1-moon.png" in archive.namelist()
    assert b"bo@y.org" not in content
    assert b"Private words" not in content


@pytest.mark.parametrize(
    ("address", "name", "why"),
    [
        ("ilse.kaltenbach+moon@x.org", "I. K.", "what stands after a +"),
        ("ilsekaltenbach@x.org", "I. K.", "its dots"),
        ("other@y.org", "Ilse Kaltenbäch", "the same name"),
        ("other@y.org", "Kaltenbach, Ilse", "another order"),
        ("other@y.org", "ILSE KALTENBÄCH", "the same name"),
        ("", "Ilse Kaltenbäch", "the same name"),
        ("bo@y.org", "Ilse Maier", ""),
        ("kaltenbach@x.org", "Other Person", ""),
    ],
)
def test_other_spellings_are_offered_never_taken(config, storage, address, name, why):
    first = mail("ilse.kaltenbach@x.org", "Here.", "Moon", 90, From="Ilse Kaltenbäch <ilse.kaltenbach@x.org>")
    other = mail("x@y.org", "Here too.", "Moon", 140, From=f"{name} <{address or 'gone@z.org'}>")
    mine, theirs = taken(storage, config, first, other)
    with storage.writing() as execute:
        execute("update submissions set sender_name = ?, sender_address = ? where id = ?", [name, address, theirs])
        execute("update submissions set sender_name = 'Ilse Kaltenbäch' where id = ?", [mine])
    assert submissions_of(storage, "ilse.kaltenbach@x.org") == (mine,)
    found = variants(storage, [mine], ["ilse.kaltenbach@x.org"])
    assert [(v.sender, v.submissions) for v in found] == ([(address or name, 1)] if why else [])
    assert not why or why in found[0].why


def test_an_address_that_stands_in_both_is_offered_but_not_a_forms(config, storage):
    numbers = taken(storage, config, *(mail(f"v{k}@x.org", "Here.", "Moon", 90 + k) for k in range(4)))
    with storage.writing() as execute:
        for k in numbers:
            execute("insert into other_addresses values ('form@club.example', ?)", [k])
        for k in numbers[:2]:
            execute("insert into other_addresses values ('home@x.org', ?)", [k])
    (found,) = variants(storage, numbers[:1], ["v0@x.org"])
    assert (found.sender, found.why) == ("v1@x.org", "the same address stands in them")


def test_names_are_compared_without_order_and_accents():
    assert name_key("Núñez, Ana María") == name_key("ana maria NUNEZ") == "ana maria nunez"
    assert name_key("Søren Łuczak") == name_key("Luczak Soren")
    assert name_key("Strauß") == name_key("STRAUSS")
    assert name_key("प्रिया") != name_key("परया")
