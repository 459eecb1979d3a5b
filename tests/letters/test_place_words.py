"""Places in words: towns where the words make one likely, and none where they do not.

The table is our own, written as viewers write; none of its sentences is of the corpus. Towns and their coordinates are
GeoNames'; those asked for below are of atlases.
"""

from __future__ import annotations

import random
from datetime import datetime

import pytest

from moondesk.service.gazetteer.towns import key_of, towns_named, towns_sounding
from moondesk.service.lexicons.lexicon import lexicons
from moondesk.service.programme.letter.place_words import by_clocks_of, read_places
from moondesk.service.programme.letter.reading import read_letter
from moondesk.service.programme.mail_text import parts_of

WRITTEN = datetime.fromisoformat("2026-11-25T10:00+01:00")

#: Language, words, the town or "" for none.
PLACES = [
    ("en", 'Taken in Leeds with my phone.', "Leeds"),
    ("en", 'I live in a village near Hexham, Northumberland, and took this from the garden.', "Hexham"),
    ("en", 'Shot from my back garden in Reading, Berkshire.', "Reading"),
    ("en", 'The Moon over Edinburgh last night', "Edinburgh"),
    ("en", 'Location: Portland, Oregon', "Portland"),
    ("en", 'Greetings from Cape Town, South Africa!', "Cape Town"),
    ("en", "I'm in Galway, Ireland and it was freezing.", "Galway"),
    ("en", 'Where: Tucson AZ', "Tucson"),
    ("en", 'Taken outside Inverness at the weekend', "Inverness"),
    ("en", 'Best wishes,\nMargaret, Whitby', "Whitby"),
    ("en", 'hi its me from bristol, took this on my phone', "Bristol"),
    ("en", 'I took this in my garden in the evening.', ""),
    ("en", 'Taken with love from Sandy and the kids.', ""),
    ("en", 'You can see Tycho and Copernicus near Plato.', ""),
    ("en", 'It was full moon in May and I was at home.', ""),
    ("en", 'My brother in Boston sent me his telescope.', ""),
    ("en", 'In general the seeing was nice.', ""),
    ("en", 'Best wishes, Victoria', ""),
    ("de", 'Aufgenommen in Kassel vom Balkon aus.', "Kassel"),
    ("de", 'Grüße aus Görlitz', "Görlitz"),
    ("de", 'Ort: Bern', "Bern"),
    ("de", 'Ich wohne in Linz und habe das Bild vom Dach gemacht.', "Linz"),
    ("de", 'Standort war der Parkplatz bei Freiburg im Breisgau', "Freiburg"),
    ("de", 'Viele Grüße\nMonika Weber, Osnabrück', "Osnabrück"),
    ("de", 'fotografiert in der nähe von tübingen', "Tübingen"),
    ("de", 'In der Nacht war der Mond im Garten zu sehen.', ""),
    ("de", 'Das ist in Ordnung, Sie dürfen es zeigen.', ""),
    ("de", 'Mit freundlichen Grüßen aus dem Urlaub', ""),
    ("bg", 'Снимано в Бургас от терасата.', "Burgas"),
    ("bg", 'Поздрави от Велико Търново!', "Veliko Tarnovo"),
    ("bg", 'гр. Видин, снимах от балкона', "Vidin"),
    ("bg", 'Живея в село Бояна до София', "Sofia"),
    ("bg", 'Снимах от двора в неделя.', ""),
    ("fr", 'Photo prise à Lyon depuis mon balcon.', "Lyon"),
    ("fr", 'Lieu : Liège, Belgique', "Liège"),
    ("fr", "J'habite à Rennes", "Rennes"),
    ("fr", 'prise à la main depuis le jardin', ""),
    ("es", 'Tomada en Valencia desde la azotea.', "Valencia"),
    ("es", 'Lugar: Cusco, Perú', "Cusco"),
    ("es", 'Saludos desde Montevideo', "Montevideo"),
    ("es", 'vivo en Rosario, Argentina', "Rosario"),
    ("es", 'la tomé en casa con mi madre', ""),
    ("pt", 'Tirada em Coimbra da varanda.', "Coimbra"),
    ("pt", 'Local: Belo Horizonte, MG', "Belo Horizonte"),
    ("pt", 'Moro em Fortaleza', "Fortaleza"),
    ("pt", 'tirei em casa com o telemóvel', ""),
    ("hi", 'यह फोटो भोपाल में ली गई', "Bhopal"),
    ("hi", 'मैं लखनऊ से हूँ', "Lucknow"),
    ("hi", 'स्थान: वाराणसी', "Varanasi"),
    ("hi", 'छत से फोटो ली', ""),
    ("mr", 'हा फोटो पुण्यात काढला', "Pune"),
    ("mr", 'कोल्हापूरहून पाठवतो', "Kolhapur"),
    ("mr", 'ठिकाण: सातारा', "Satara"),
    ("mr", 'गच्चीवरून काढला', ""),
    ("ja", '札幌で撮りました', "Sapporo"),
    ("ja", '撮影地：長野県松本市', "Matsumoto"),
    ("ja", '京都から見た月です', "Kyoto"),
    ("ja", '庭で撮りました', ""),
    ("ar", 'التقطتها في عمان من السطح', "Amman"),
    ("ar", 'من القاهرة، مصر', "Cairo"),
    ("ar", 'المكان: جدة', "Jeddah"),
    ("ar", 'صورتها من بيروت', "Beirut"),
    ("ar", 'صورتها من السطح', ""),
    ("fr", "Bonjour de Genève !", "Geneva"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "words", "wanted"), PLACES)
def test_places_are_read_where_words_make_them_likely(code: str, words: str, wanted: str) -> None:
    found = read_places(words, (code,), WRITTEN)
    assert [key_of(p.town.name) for p in found[:1]] == ([key_of(wanted)] if wanted else [])


@pytest.mark.parametrize(
    ("name", "country", "latitude", "longitude"),
    [("Ruse", "BG", 43.85, 25.97), ("Русе", "BG", 43.85, 25.97), ("東京", "JP", 35.69, 139.69),
     ("القاهرة", "EG", 30.04, 31.24), ("भोपाल", "IN", 23.26, 77.41), ("são paulo", "BR", -23.55, -46.63)],
)  # fmt: skip
def test_a_town_is_where_atlases_have_it(name: str, country: str, latitude: float, longitude: float) -> None:
    town = towns_named(name)[0]
    assert town.country == country
    assert town.latitude_deg == pytest.approx(latitude, abs=0.1)
    assert town.longitude_deg == pytest.approx(longitude, abs=0.1)


def test_no_town_has_a_name_that_none_bears() -> None:
    assert towns_named("Qzxvbnmtown") == towns_named("") == towns_named("x") == ()
    assert [t.name for t in towns_sounding("घाटमपुर")][:1] == ["Ghatampur"]
    assert [t.name for t in towns_named("नैनीताल")] == ["Nainital"]
    assert towns_sounding("नैनीताल") == ()


def test_two_towns_of_one_name_are_two_candidates_and_a_country_or_a_clock_settles_it() -> None:
    springfield = read_places("I took it in Springfield.", ("en",), WRITTEN)
    assert len(springfield) == 2
    assert not springfield[0].sure
    (one,) = read_places("Taken in Springfield, Illinois.", ("en",), WRITTEN)
    assert (one.sure, one.town.region) == (True, "IL")
    (sofia,) = read_places("Снимано в София", ("bg",), WRITTEN)
    assert sofia.value == "Sofia, BG (42.70, 23.32)"


def test_a_sure_place_tells_the_clock_of_a_letter_in_utc() -> None:
    utc = datetime.fromisoformat("2026-11-25T08:00+00:00")
    said = read_letter("Moon", "Ann", parts_of("I took the Moon in Nagoya last night at half past nine."), utc)
    assert said.value("place").startswith("Nagoya, JP (")
    assert said.value("taken") == "2026-11-24T21:30+09:00 ±15 min"
    assert by_clocks_of((), utc) == utc


def test_junk_is_no_failure() -> None:
    chance = random.Random(11)
    for code, words in lexicons().items():
        said = str(words.table.get("place", {})).split()
        signs = [
            *said,
            "Paris",
            "Русе",
            "東京",
            "القاهرة",
            "भोपाल",
            "\n",
            ",",
            "(",
            ":",
            "\x00",
            "-",
            "'",
            "in",
            "UK",
            "TX",
        ]
        for _ in range(40):
            text = " ".join(chance.choice(signs) for _ in range(chance.randrange(60)))
            assert len(read_places(text, (code,), WRITTEN)) <= 2
