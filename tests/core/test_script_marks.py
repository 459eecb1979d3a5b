"""The text of a script and its marks: written, read, and not a word of it changed."""

import pytest

from moondesk.notes.messages import Name, in_english, say
from moondesk.script.marks import (
    OF_FEATURE,
    SHOWS,
    Spoken,
    Unread,
    count_words,
    read_cue,
    read_text,
    sentences_of,
    write_cue,
    write_text,
)
from moondesk.script.records import Cue, Line


@pytest.mark.parametrize("show", SHOWS)
@pytest.mark.parametrize("picture", [0, 2])
def test_a_cue_is_read_as_it_was_written(show, picture):
    cue = Cue(show=show, picture=picture, feature="Rupes Recta" if show in OF_FEATURE else "")
    assert read_cue(write_cue(cue)) == cue


@pytest.mark.parametrize(
    ("mark", "cue"),
    [
        ("[Picture 2]", Cue(show="as sent", picture=2)),
        ("[ light :  Mare  Imbrium ]", Cue(show="light", feature="Mare Imbrium")),
        ("[AS SENT]", Cue(show="as sent")),
        ("[breathe]", None),
        ("[light]", None),
        ("[light:]", None),
        ("[credit: Ana]", None),
        ("[]", None),
    ],
)
def test_marks_as_people_type_them(mark, cue):
    assert read_cue(mark) == cue


TEXT = """[picture 2: as sent] This is how Ana saw it. [turned] North up, at 5.20 p.m. tonight.

Mr. J. Smith saw [light: Tycho] Tycho [breathe] too! "Did he?" He did
[nothing]"""


def test_a_text_falls_into_sentences_cues_and_what_is_no_mark():
    read = read_text(TEXT)
    spoken = [p for p in read if isinstance(p, Spoken)]
    assert [p.text for p in read if isinstance(p, Unread)] == ["[breathe]"]
    assert [p.show for p in read if isinstance(p, Cue)] == ["as sent", "turned", "light", "nothing"]
    assert all(TEXT[p.start : p.end] == p.text for p in read if not isinstance(p, Cue))
    assert [p.paragraph for p in spoken] == [0, 0, 1, 1, 1, 1, 1]
    assert sentences_of(TEXT)[:2] == ("This is how Ana saw it.", "North up, at 5.20 p.m. tonight.")
    assert sentences_of(TEXT)[-3:] == ("Mr. J. Smith saw Tycho too!", '"Did he?"', "He did")


def test_other_scripts():
    assert sentences_of("Луната е пълна. А утре? Ще видим.") == ("Луната е пълна.", "А утре?", "Ще видим.")
    assert sentences_of("月は満月です。明日は？また明日。") == ("月は満月です。", "明日は？", "また明日。")
    assert count_words("月は満月です。") == 3
    assert count_words("[light: Tycho] Tycho is 85 kilometres — not 86 — wide.") == 7


def test_lines_become_paragraphs_that_read_back():
    line = Line(said=say("Here is {name}.", name=Name("Tycho")), cue=Cue(show="light", feature="Tycho"))
    plain = Line(said=say("Good evening."))
    assert (
        write_text(((plain, line), (plain,)), in_english)
        == "Good evening. [light: Tycho] Here is Tycho.\n\nGood evening."
    )
