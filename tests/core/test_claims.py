"""Claims typed by a presenter: what must be true, roughly so, false or untellable, with the number by another path."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from notes_truth import height, table
from test_notes_trade import picture

from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.catalogue import all_features
from moondesk.notes.amounts import amount_of
from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.claims import EXAMPLES, check_claim, plain_words
from moondesk.notes.messages import Number, in_english
from moondesk.notes.name_lookup import feature_meant
from moondesk.records import Annotation, Feature, TimeCandidate

#: The evening of the first quarter of 18 October 2026 (16:13 UTC), and the next.
QUARTER, DAY_AFTER = datetime(2026, 10, 18, 19, 30, tzinfo=UTC), datetime(2026, 10, 19, 17, tzinfo=UTC)


@pytest.fixture(scope="module")
def evenings() -> dict[datetime, Annotation]:
    return {when: picture(when) for when in (QUARTER, DAY_AFTER)}


def value(checked: Checked, name: str) -> float:
    part = checked.said.value(name)
    assert isinstance(part, Number)
    return part.value


@pytest.mark.parametrize(("claim", "when", "verdict"), [
    # common practice: how the Moon looks on the evening of first quarter, and a day later
    ("the terminator runs along the zero meridian", QUARTER, "roughly"),
    ("the terminator runs along the zero meridian", DAY_AFTER, "false"),
    ("The terminator is at 4.5 degrees west.", QUARTER, "true"),
    ("the terminator is at 4.5° east", QUARTER, "false"),
    ("half of the Sea of Rains is lit", DAY_AFTER, "true"),
    ("About half of Mare Imbrium is lit!", DAY_AFTER, "true"),
    ("half of the Sea of Rains is lit", QUARTER, "false"),
    ("half of the Sea of Rains is still dark", DAY_AFTER, "true"),
    ("more than 90 % of the Sea of Showers is lit", DAY_AFTER, "false"),
    ("Bailly is still dark", DAY_AFTER, "true"),
    ("Bailly is lit", DAY_AFTER, "false"),
    ("Copernicus is dark", DAY_AFTER, "roughly"),  # its rim, 3.8 km high, may catch the Sun already
    ("Copernicus is dark", QUARTER, "true"),
    ("Plato is fully lit", DAY_AFTER, "roughly"),  # the Sun is 5 degrees up: the rim's shadow lies on the floor
    ("Theophilus is fully lit", DAY_AFTER, "true"),
    ("the Sea of Vapours is wholly lit", DAY_AFTER, "true"),
    ("Mare Vaporum is in sunlight", QUARTER, "true"),
    ("today it is more than half lit", DAY_AFTER, "true"),
    ("tonight the Moon is less than half lit", DAY_AFTER, "false"),
    ("it is half lit", QUARTER, "true"),
    ("51 % of the Moon is lit", QUARTER, "true"),
    ("the Moon is full", QUARTER, "false"),
    ("the Moon is waxing", QUARTER, "true"),
    ("the Moon is waning", QUARTER, "false"),
    ("Clavius is on the terminator", DAY_AFTER, "true"),
    ("the terminator runs through Clavius", DAY_AFTER, "true"),
    ("Mare Crisium is on the terminator", DAY_AFTER, "false"),
    ("Clavius is larger than Plato", QUARTER, "true"),
    ("Plato is larger than Clavius", QUARTER, "false"),
    ("Plato is smaller than Clavius", QUARTER, "true"),
    ("Theophilus is larger than Catharina", QUARTER, "roughly"),  # 98.6 and 98.8 km
    ("Plato is north of Archimedes", QUARTER, "true"),
    ("Archimedes is to the north of Plato", QUARTER, "false"),
    ("Mare Crisium is east of Mare Serenitatis", QUARTER, "true"),
    ("it is 8 days old", QUARTER, "true"),  # new Moon 10 October, 15:50 UTC
    ("it is 9 days old", QUARTER, "roughly"),
    ("it is 11 days old", QUARTER, "false"),
    ("Clavius is 230 km wide", QUARTER, "true"),
    ("Clavius is 500 km across", QUARTER, "false"),
])  # fmt: skip
def test_verdicts(evenings, claim: str, when: datetime, verdict: str) -> None:
    checked = check_claim(claim, evenings[when], when)
    assert checked.verdict == verdict, in_english(checked.said)
    assert checked.said.values
    assert checked.tolerance is not None or "Moon is wa" in claim


def test_numbers_are_those_of_another_path(evenings) -> None:
    """The edge of the light is where the Sun's height is 0 on the equator; kilometres by 2 pi 1737.4 / 360 a degree;
    sizes by the catalogue as a plain table; the lit part by the ephemeris, which other tests check against DE421."""
    sky = aspect_at(QUARTER, None)
    edge = check_claim("the terminator runs along the zero meridian", evenings[QUARTER], QUARTER)
    assert height(0, -value(edge, "at"), sky.sub_solar_lat_deg, sky.sub_solar_lon_deg) == pytest.approx(0, abs=0.01)
    assert value(edge, "km") == pytest.approx(value(edge, "off") * 30.32, abs=0.1)
    far = check_claim("Copernicus is on the terminator", evenings[QUARTER], QUARTER)
    row = table()["Copernicus"]
    true = abs(height(float(row["lat"]), float(row["lon"]), sky.sub_solar_lat_deg, sky.sub_solar_lon_deg))
    assert value(far, "off") == pytest.approx(true, abs=0.01)
    assert value(far, "km") == pytest.approx(true * 30.32, abs=1)
    sizes = check_claim("Clavius is larger than Plato", evenings[QUARTER], QUARTER)
    assert (value(sizes, "km"), value(sizes, "other_km")) == tuple(
        float(table()[n]["size_km"]) for n in ("Clavius", "Plato")
    )
    lit = check_claim("it is half lit", evenings[QUARTER], QUARTER)
    assert value(lit, "percent") == pytest.approx(100 * evenings[QUARTER].terminator.illuminated_fraction, abs=0.05)
    north = check_claim("Plato is north of Archimedes", evenings[QUARTER], QUARTER)
    latitudes = [float(table()[name]["lat"]) for name in ("Plato", "Archimedes")]
    assert value(north, "degrees") == pytest.approx(latitudes[0] - latitudes[1])


def test_every_example_is_understood(evenings) -> None:
    for example in EXAMPLES:
        checked = check_claim(example, evenings[QUARTER], QUARTER)
        assert checked.verdict in ("true", "roughly", "false"), (example, in_english(checked.said))
        assert "{" not in in_english(checked.said)


@pytest.mark.parametrize(
    "claim",
    [
        "",
        "the Moon is made of cheese",
        "Tycho",
        "is is is",
        "half",
        "x" * 5000,
        "} {0}",
        "half of half of half is lit is lit",
        "150 % of Plato is lit",
        "🌙 is 🌕",
    ],
)
def test_what_is_no_claim_is_said_to_be_none_with_what_can_be_asked(evenings, claim: str) -> None:
    checked = check_claim(claim, evenings[QUARTER], QUARTER)
    assert checked.verdict == "not understood"
    assert in_english(checked.said)


def test_an_unknown_name_is_told_with_what_may_be_meant(evenings) -> None:
    checked = check_claim("Coppernik is dark", evenings[QUARTER], QUARTER)
    assert checked.verdict == "not understood"
    assert "coppernik" in in_english(checked.said)


@pytest.mark.parametrize(("typed", "name"), [
    ("Sea of Rains", "Mare Imbrium"), ("the sea of showers", "Mare Imbrium"), ("Tycho", "Tycho"), ("tyco", "Tycho"),
    ("crater Copernicus", "Copernicus"), ("Copernicus crater", "Copernicus"), ("mare imbriun", "Mare Imbrium"),
    ("Eratostenes", "Eratosthenes"), ("the Straight Wall", "Rupes Recta"), ("Apennines", "Montes Apenninus"),
    ("Ocean of Storms", "Oceanus Procellarum"), ("Sea of Tranquility", "Mare Tranquillitatis"),
    ("Bay of Rainbows", "Sinus Iridum"), ("Ptolemäus", "Ptolemaeus"),
])  # fmt: skip
def test_names_as_people_write_them(typed: str, name: str) -> None:
    found = feature_meant(typed)
    assert isinstance(found, Feature)
    assert found.name == name


def test_a_slip_of_the_pen_is_never_taken_for_a_second_name() -> None:
    """One letter left out of each larger named crater: it is that crater, or nobody says which it is."""
    tried, wrong = 0, []
    for f in [f for f in all_features() if f.parent is None and f.kind == "crater" and f.size_km > 80 and len(f.name) > 6
              and abs(f.lon_deg) < 80][:60]:  # fmt: skip
        typed = f.name[:3] + f.name[4:]
        found = feature_meant(typed)
        if isinstance(found, Feature) and typed != "Jansen":  # which is a crater, as Janssen is
            tried += 1
            wrong += [(typed, found.name)] * (found.name != f.name)
    assert tried > 40
    assert not wrong


def test_all_english_forms_name_a_feature() -> None:
    from moondesk.notes.name_lookup import ENGLISH

    known = {f.name for f in all_features()}
    assert set(ENGLISH.values()) <= known


# --- what cannot be told ---------------------------------------------------------------------------------------------


def test_what_is_outside_the_frame_or_behind_the_limb_cannot_be_told(evenings) -> None:
    part = replace(evenings[QUARTER], width=450)  # the Moon's west alone
    assert check_claim("Mare Crisium is lit", part, QUARTER).verdict == "cannot tell"
    assert check_claim("Tsiolkovskiy is dark", evenings[QUARTER], QUARTER).verdict == "cannot tell"


def test_without_a_time_the_age_cannot_be_told_and_the_light_can(evenings) -> None:
    bare = replace(evenings[QUARTER], time=None, aspect=None)
    assert check_claim("it is 8 days old", bare, None).verdict == "cannot tell"
    assert check_claim("half of the Sea of Rains is lit", bare, None).verdict == "false"
    assert check_claim("it is half lit", bare, None).verdict == "true"


def test_a_vague_light_makes_a_verdict_vague(evenings) -> None:
    a = evenings[DAY_AFTER]
    vague = replace(a, time=TimeCandidate(DAY_AFTER, 110.0, "told"))
    sky = check_claim("half of the Sea of Rains is lit", a, DAY_AFTER)
    assert check_claim(f"{value(sky, 'percent') - 5:.0f} % of the Sea of Rains is lit", a, DAY_AFTER).verdict == "true"
    assert check_claim(f"{value(sky, 'percent') - 5:.0f} % of the Sea of Rains is lit", vague, DAY_AFTER
                       ).verdict == "roughly"  # fmt: skip
    assert check_claim("Mare Crisium is lit", vague, DAY_AFTER).verdict == "true"  # hours change nothing there


def test_an_unplaced_picture_tells_nothing(evenings) -> None:
    assert check_claim("it is half lit", replace(evenings[QUARTER], pose=None), QUARTER).verdict == "cannot tell"


def test_near_full_moon_no_edge_is_named() -> None:
    when = datetime(2026, 10, 26, 4, 30, tzinfo=UTC)  # full Moon at 4:12
    checked = check_claim("the terminator runs along the zero meridian", picture(when), when)
    assert checked.verdict == "cannot tell"
    assert check_claim("the moon is full", picture(when), when).verdict == "true"


# --- words -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("words", "value", "sense"), [
    ("half", 0.5, "about"), ("a third", 1 / 3, "about"), ("two thirds", 2 / 3, "about"),
    ("three quarters", 0.75, "about"),
    ("more than half", 0.5, "more"), ("less than a quarter", 0.25, "less"), ("40 %", 0.4, "about"),
    ("12,5 percent", 0.125, "about"), ("all", 1.0, "about"), ("none", 0.0, "about"), ("most", 0.5, "more"),
    ("more than 60 %", 0.6, "more"), ("part", 0.5, "some"),
])  # fmt: skip
def test_amounts(words: str, value: float, sense: str) -> None:
    amount = amount_of(words)
    assert amount is not None
    assert amount.value == pytest.approx(value)
    assert amount.sense == sense


def test_an_amount_and_what_is_left_of_it_agree() -> None:
    for words in ("half", "a third", "more than half", "all", "part"):
        amount = amount_of(words)
        assert amount is not None
        for share in (0.0, 0.2, 0.33, 0.5, 0.66, 1.0):
            assert amount.judge(share) == amount.other().judge(1 - share)
    assert amount_of("a few") is None
    assert amount_of("150 %") is None


def test_plain_words() -> None:
    assert plain_words("Today it is MORE than half lit!") == "it is more than half lit"
    assert plain_words(" Bailly is still dark. ") == "bailly is dark"
