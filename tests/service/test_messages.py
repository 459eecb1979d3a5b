"""What the program says of what is stored is kept as codes with values, and shown in words."""

from __future__ import annotations

import re
import string
from datetime import UTC, datetime

import fakes
import pytest

from moondesk.sentences import sentence
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.store import audit
from moondesk.service.store.messages import (
    WORDS,
    in_words,
    keep_sentences,
    message,
    message_of,
    read_list,
    read_sentences,
    words_of,
)

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
#: Columns of what people have written.
BY_PEOPLE = {("suggestions", "words"), ("consents", "evidence"), ("replies", "body"), ("mail_texts", "parts")}


@pytest.mark.parametrize("code", WORDS)
def test_a_message_comes_back_and_has_words(code):
    names = {name for _, name, _, _ in string.Formatter().parse(WORDS[code]) if name} - {"how"}
    values = dict.fromkeys(names, "7")
    made = message(code, **values)
    assert message_of(made.kept) == made
    assert "{" not in made.words()
    assert re.search(r"7|[a-zA-Z)][.?:]$", made.words())


def test_a_message_without_words_is_a_wrong_call():
    with pytest.raises(KeyError):
        message("unheard_of")


@pytest.mark.parametrize("old", ["account Ada made, helper", '{"a": 1}', "", "{code}"])
def test_words_of_an_earlier_release_are_shown_as_they_stand(old):
    assert message_of(old) == in_words(old)
    assert (message_of(old).words(), message_of(old).kept) == (old, old)


def test_several_sentences_stand_in_one_column():
    said = (sentence("too_many_pixels", width=9, height=8, millions=120), sentence("send_half"))
    kept = keep_sentences(said)
    assert kept.startswith('[{"code": "too_many_pixels", "width": "9"')
    assert read_sentences(kept) == said
    assert words_of(kept).startswith("The picture has 9 x 8 pixels, more than the 120 million")
    assert words_of("It was a film. Please send a picture.") == "It was a film. Please send a picture."
    assert keep_sentences(read_sentences("It was a film.")) == "It was a film."
    assert list(map(str, read_list('["one", {"code": "send_half"}]'))) == ["one", str(said[1])]
    assert (keep_sentences(()), read_sentences("")) == ("", ())


def test_values_are_words_only_where_they_are_shown(storage):
    with storage.writing():
        audit.note(storage, NOW, "Ada", "setting_changed", setting="programme.zone", value='"Europe/Vienna"')
    (row,) = storage.read("select what from audit")
    assert row["what"] == '{"code": "setting_changed", "setting": "programme.zone", "value": "\\"Europe/Vienna\\""}'
    (line,) = audit.lines(storage, 1)
    assert line.message.words({"programme.zone": "Time zone"}) == "Time zone set to Europe/Vienna"
    assert message("same_picture", percent=80, framing="cut").words() == (
        "The same picture, sent again (at 80 % of the size, cropped)."
    )
    assert message("same_file_of_other", who="").words().startswith("Somebody else sent")


def test_no_sentence_of_the_program_is_kept(storage, media, config, tmp_path):
    (tmp_path / "a.png").write_bytes(fakes.png(shade=4))
    (tmp_path / "b.png").write_bytes(fakes.png(shade=4))
    (tmp_path / "film.png").write_bytes(b"no picture")
    edition = open_edition(storage, config, NOW, lambda _: None)
    intake = Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW)
    assert [item.outcome for item in intake.take_path(tmp_path)].count("refused") >= 1
    found = set()
    for row in storage.read("select name from sqlite_master where type = 'table' and name not like 'sqlite%'"):
        for values in storage.read(f"select * from {row['name']}"):
            found |= {(row["name"], k) for k, v in values.items() if isinstance(v, str) and SENTENCE.search(v)}
    assert found <= BY_PEOPLE


SENTENCE = re.compile(r"\b[A-Z][a-z]+ (?:[a-z]+ ){2,}[a-z]+[.?]")
