"""How names are said. English: as Webster's and the Oxford dictionaries have the stress and the vowels (from memory); the
rules for Latin, and that no sign of the table is lost."""

from __future__ import annotations

import pytest

from moondesk.moon.catalogue import all_features
from moondesk.service.languages.catalogue import Language, LocalName
from moondesk.speech.names import _table, how_said, sounds_of
from moondesk.speech.sounds import LETTERS


@pytest.mark.parametrize(
    ("name", "code", "ipa", "respelled"),
    [
        ("Clavius", "en", "/ˈkleɪviəs/", "KLAY-vee-us"),
        ("Tycho", "en", "/ˈtaɪkoʊ/", "TY-koh"),
        ("Plato", "en", "/ˈpleɪtoʊ/", "PLAY-toh"),
        ("Copernicus", "en", "/kəˈpɜːrnɪkəs/", "kuh-PUR-ni-kus"),
        ("Eratosthenes", "en", "/ɛrəˈtɔsθəniːz/", "e-ruh-TOS-thuh-neez"),
        ("Theophilus", "en", "/θiˈɔfɪləs/", "thee-O-fi-lus"),
        ("Maginus", "en", "/məˈdʒaɪnəs/", "muh-JY-nus"),
        ("Mare Imbrium", "en", "/ˈmɑːreɪ ˈɪmbriəm/", "MAH-ray IM-bree-um"),
        ("Sinus Medii", "en", "/ˈsaɪnəs ˈmiːdiaɪ/", "SY-nus MEE-dee-eye"),
        ("Mösting A", "en", "/ˈmøstɪŋ/", "MURS-ting"),
        ("Flammarion", "bg", "/flamaˈʁjɔ̃/", "Фламарьо̀н"),
        ("Clavius", "bg", "/ˈklavius/", "Кла̀виус"),
        ("Fabricius", "bg", "/faˈbritsius/", "Фабрѝциус"),
        ("Posidonius", "de", "/pɔziˈdɔnius/", "po-si-DO-ni-uß"),
        ("Archimedes", "es", "/arkiˈmedes/", "ar-qui-ME-des"),
    ],
)
def test_names_are_said_as_each_language_says_them(name, code, ipa, respelled):
    said = how_said(name, code)
    assert (said.ipa, said.respelled) == (ipa, respelled)


def test_what_frames_name_is_known_but_for_the_english_words_of_landing_grounds():
    near = [f for f in all_features() if f.parent is None and abs(f.lon_deg) <= 98]
    named = [f.name for f in near if f.kind != "crater" or f.size_km >= 40]
    lacking = [name for name in named if sounds_of(name, "en") is None]
    assert len(lacking) == 15
    assert all(name.isascii() for name in lacking)


def test_every_name_of_the_table_is_said_in_every_language():
    table = _table()
    for name in (*table.latin, *table.own):
        for code in LETTERS:
            said = how_said(name, code)
            assert said.respelled
            assert sum(c == '"' for c in said.sounds) >= 1, name


def test_the_presenters_word_goes_before_the_rules_and_a_form_of_the_language_wants_none():
    assert Language("en").said("Plato") == "PLAY-toh"
    assert Language("en", {"Plato": LocalName(spoken="PLAH-to")}).said("Plato") == "PLAH-to"
    assert Language("bg").said("Mare Imbrium") == ""
    assert Language("bg", {"Mare Imbrium": LocalName(spoken="мàре")}).said("Mare Imbrium") == "мàре"
    assert Language("bg").said("Zucchius") == "Зу̀киус"
    assert Language("en").said("Nowhere") == ""
