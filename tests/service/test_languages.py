"""Sentences in the programme's language. Dates, numbers and lists against the Unicode CLDR's charts (Bulgarian)."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from babel.messages.pofile import read_po
from desk_people import log_in, make_account, post

from moondesk.notes.messages import Listed, Name, Number, Term, places_of, say
from moondesk.service.errors import BadInputError
from moondesk.service.languages import FOLDER, LANGUAGES, own_name
from moondesk.service.languages.catalogue import Language, LocalName
from moondesk.service.store.feature_names import keep_names, language_of, names
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app
from tests.builders.build_messages import found

BULGARIAN = Language("bg")
NOW = datetime(2026, 11, 2, 20, tzinfo=UTC)


@pytest.mark.parametrize(
    ("part", "written"),
    [
        (Number(12345.678, 1), "12\N{NO-BREAK SPACE}345,7"),
        (Number(-0.4, 1), "-0,4"),
        (date(2026, 11, 7), "7 ноември 2026\N{NARROW NO-BREAK SPACE}г."),
        (Listed((Term("sea"), Term("crater"), Term("bay"))), "море, кратер и залив"),
        (Name("Mare Imbrium"), "Mare Imbrium (Море на дъждовете)"),
        (Name("Anaxagoras"), "Anaxagoras"),
        (1969, "1969"),
        ("Лидия", "Лидия"),
    ],
)
def test_parts_by_the_languages_custom(part, written):
    assert BULGARIAN.part(part) == written


def test_what_the_catalogue_lacks_is_english_and_told():
    said = say("{kind} without a translation, {what}", kind=Term("crater"), what=say("nor this {n}", n=Term("whatnot")))
    assert BULGARIAN.write(said) == "кратер without a translation, nor this whatnot"
    assert BULGARIAN.missing([said, said]) == ("{kind} without a translation, {what}", "nor this {n}", "whatnot")
    assert Language("en").missing([said]) == ()


def test_every_sentence_of_the_code_is_translated():
    said = [m for m, _ in found()]
    assert len(said) > 15
    missing = BULGARIAN.missing([say("{x}", x=Term(m if isinstance(m, str) else m[0])) for m in said])
    assert [m for m in missing if m != "{x}"] == []


def test_translations_have_the_places_of_their_templates():
    from babel.messages.pofile import read_po

    for code in LANGUAGES:
        if code == "en":
            continue
        with (FOLDER / f"{code}.po").open("rb") as file:
            for message in read_po(file, locale=code):
                if not message.id:
                    continue
                ids = (message.id,) if isinstance(message.id, str) else message.id
                strings = (message.string,) if isinstance(message.string, str) else message.string
                wanted = {p for i in ids for p in places_of(i)}
                for text in strings:
                    assert set(places_of(text or "")) <= wanted, message.id
                    assert isinstance(message.id, tuple) or not text or set(places_of(text)) == wanted, message.id


def test_the_presenters_forms_go_before_the_catalogues(tmp_path):
    with Storage(tmp_path) as storage:
        assert keep_names(storage, "bg", {"Plato": LocalName("Платон (кратер)", "плато̀н")}, NOW, "Vesna") == 1
        assert keep_names(storage, "bg", {"Plato": LocalName("Платон (кратер)", "плато̀н")}, NOW, "Vesna") == 0
        assert names(storage, "en") == {}
        saved = names(storage, "bg")
        assert saved["Plato"].spoken == "плато̀н"
        assert Language("bg", saved).name("Plato") == "Plato (Платон (кратер))"
        assert keep_names(storage, "bg", {"Plato": LocalName()}, NOW, "Vesna") == 1
        assert names(storage, "bg") == {}


def test_names_are_saved_at_the_desk(config):
    client = create_app(config, now=lambda: NOW).test_client()
    log_in(client, config.data_dir, make_account(config.data_dir), NOW)
    assert "Another name" in client.get("/names").text
    sent = post(client, "/names", "/names", feature=["Plato", ""], local=["", ""], spoken=["PLAY-toe", ""])
    assert sent.status_code == 303
    assert "PLAY-toe" in client.get("/names").text
    wrong = post(client, "/names", "/names", feature="Atlantis", local="x", spoken="")
    assert wrong.status_code == 422
    assert "no feature called “Atlantis”" in wrong.text
    long = post(client, "/names", "/names", feature="Plato", local="x" * 81, spoken="")
    assert long.status_code == 422


def test_a_language_is_its_catalogue_and_is_called_as_it_calls_itself():
    assert [(code, own_name(code)) for code in LANGUAGES] == [("en", "English"), ("bg", "Български")]


def test_the_language_is_the_programmes(tmp_path):
    (tmp_path / "moondesk.toml").write_text('[programme]\nlanguage = "bg"\n', encoding="utf-8")
    with Storage(tmp_path) as storage:
        assert (
            language_of(storage, load_config(tmp_path).programme.language).write(say("{k}", k=Term("crater")))
            == "кратер"
        )


def test_a_language_without_a_catalogue_is_told(tmp_path):
    (tmp_path / "moondesk.toml").write_text('[programme]\nlanguage = "xx"\n', encoding="utf-8")
    with pytest.raises(BadInputError, match="no catalogue for the language 'xx'; there are en, bg"):
        load_config(tmp_path)


def test_the_catalogue_holds_what_goes_out_and_nothing_else():
    """The builder finds every sentence and word: what it does not find it would take out of the catalogues."""
    with (FOLDER / "bg.po").open("rb") as file:
        held = {message.id for message in read_po(file, locale="bg") if message.id and message.context is None}
    assert held == {message for message, _ in found()}
