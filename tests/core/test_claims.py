"""Claims typed by a presenter: what must be true, roughly so, false or untellable, with the number by another path."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from notes_truth import height, rank, sky, table
from test_notes_trade import picture

from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.catalogue import all_features
from moondesk.notes.amounts import Share
from moondesk.notes.claim_reading import read_claims
from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.claim_words import Amount, items_of, languages
from moondesk.notes.claims import EXAMPLES, check_claim
from moondesk.notes.messages import Number, in_english
from moondesk.notes.name_lookup import feature_meant
from moondesk.notes.sunrise_times import crossings_of
from moondesk.records import Annotation, Feature, TimeCandidate
from tests.core.claims.score import EVENINGS, FOLDER, counts
from tests.core.claims.score import picture as evening

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
    ("Copernicus is dark", DAY_AFTER, "true"),  # 4.8 degrees below
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


def amount(text: str, language: str = "en") -> Amount:
    words = next(w for w in languages() if w.language == language)
    (found,) = [i.amount for i in items_of(text, words) if i.amount is not None]
    assert found is not None
    return found


@pytest.mark.parametrize(("text", "value", "unit"), [
    ("half of it", 0.5, "share"), ("a third of it", 1 / 3, "share"), ("two thirds", 2 / 3, "share"),
    ("three quarters", 0.75, "share"), ("40 %", 0.4, "share"), ("12,5 percent", 0.125, "share"),
    ("sixty-one per cent", 0.61, "share"), ("four fifths", 0.8, "share"),
    ("eighty-five kilometres", 85, "km"), ("a hundred and fifty km", 150, "km"), ("400,000 km", 400_000, "km"),
    ("four hundred thousand kilometres", 400_000, "km"), ("one million kilometres", 1e6, "km"),
    ("half a million kilometres", 5e5, "km"), ("a hundred miles", 160.9344, "km"),
    ("fourteen hours", 14, "hours"), ("two and a half days", 60, "hours"), ("a week", 168, "hours"),
    ("a couple of days", 48, "hours"), ("twenty degrees", 20, "degrees"), ("17°", 17, "degrees"),
])  # fmt: skip
def test_numbers_in_words(text: str, value: float, unit: str) -> None:
    found = amount(f"x {text}")
    assert (found.value, found.unit) == (pytest.approx(value, rel=1e-6), unit)


@pytest.mark.parametrize(("text", "value", "unit"), [
    ("шестдесет и един процента", 0.61, "share"), ("две трети", 2 / 3, "share"), ("четири пети", 0.8, "share"),
    ("половината", 0.5, "share"), ("осемдесет и пет километра", 85, "km"), ("сто и петдесет километра", 150, "km"),
    ("четиристотин хиляди километра", 400_000, "km"), ("четиринадесет часа", 14, "hours"), ("девет дни", 216, "hours"),
    ("двадесет градуса", 20, "degrees"),
])  # fmt: skip
def test_numbers_in_bulgarian_words(text: str, value: float, unit: str) -> None:
    found = amount(f"x {text}", "bg")
    assert (found.value, found.unit) == (pytest.approx(value, rel=1e-6), unit)


@pytest.mark.parametrize(("text", "sense"), [
    ("more than half", "more"), ("less than a quarter of it", "less"), ("at least sixty percent", "more"),
    ("barely a quarter of it", "about"), ("a good half", "about"), ("a little over sixty percent", "about"),
])  # fmt: skip
def test_senses_of_amounts(text: str, sense: str) -> None:
    assert amount(text).sense == sense


def test_an_amount_and_what_is_left_of_it_agree() -> None:
    for one in (
        Share(0.5, "about"),
        Share(1 / 3, "about"),
        Share(0.5, "more"),
        Share(1.0, "about"),
        Share(0.5, "some"),
    ):
        for share in (0.0, 0.2, 0.33, 0.5, 0.66, 1.0):
            assert one.judge(share) == one.other().judge(1 - share)


# --- free words ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("half", "language"), [(h, c) for h in ("open", "apart") for c in ("en", "bg")])
def test_claims_in_free_words(half: str, language: str) -> None:
    """By who wrote no code; of the half "apart" one sentence was read, when the words were done."""
    found = counts(half, language)
    assert found["false called true"] == 0
    assert found["true called false"] == 0
    assert found["understood"] >= 0.9 * found["claims"]


@pytest.mark.parametrize(("claim", "names", "kind"), [
    ("Plato, Archimedes and Copernicus are all in the light.", ["Plato", "Archimedes", "Copernicus"], "state"),
    ("Clavius is larger than Plato", ["Clavius"], "compare"),
    ("South of Plato lies Archimedes", ["Archimedes"], "beside"),
    ("Tycho is named after Tycho Brahe", ["Tycho"], "namesake"),
    ("Нови тази вечер са Тихо и Платон.", ["Tycho", "Plato"], "newly"),
])  # fmt: skip
def test_of_what_a_claim_speaks(claim: str, names: list[str], kind: str) -> None:
    (found,) = read_claims(claim).claims
    assert ([f.name for f in found.subjects], found.kind) == (names, kind)


@pytest.mark.parametrize(("claim", "number", "verdict"), [
    ("Ptolemaeus is bigger than its neighbours Alphonsus and Arzachel", 3, "true"),  # each of those compared with
    ("Alphonsus is bigger than Arzachel and Ptolemaeus", 3, "false"),
    ("Kepler hasn't seen the Sun yet, it's still in the dark", 2, "cannot tell"),  # the "not" is another clause's
    ("Theophilus isn't in the dark", 2, "true"),
    ("Copernicus came into the light yesterday", 4, "true"),  # at 2:34 of the day before, 41 hours ago
    ("The Sun set over Langrenus the day before yesterday", 7, "roughly"),  # 40 hours
    ("The Moon is full the day after tomorrow", 5, "true"),
    ("The Moon is in first quarter", 1, "false"),
    ("The Moon is now past full and waning", 7, "true"),
    ("The Sea of Rains is the largest sea of the near side", 6, "cannot tell"),  # by length, not by area
    ("The Sea of Nectar is the largest sea of the near side", 6, "false"),
    ("Tycho's floor is lit", 4, "true"),  # not the lettered crater Tycho S
    ("Clavius is two and a half times as wide as Copernicus", 4, "true"),
    ("Of Tycho and Copernicus only Copernicus is dark", 3, "cannot tell"),
])  # fmt: skip
def test_what_was_once_misread(claim: str, number: int, verdict: str) -> None:
    assert check_claim(claim, evening(number), EVENINGS[number]).verdict == verdict


def test_no_heap_of_words_breaks_it() -> None:
    """Words of the corpus in any order, with the time known and not."""
    heap = [
        w
        for line in (FOLDER / "open.jsonl").read_text(encoding="utf-8").splitlines()
        for w in json.loads(line)["text"].split()
    ]
    dice = random.Random(7)
    for k in range(400):
        text = " ".join(dice.choice(heap) for _ in range(dice.randint(1, 14)))
        number = dice.randint(1, 8)
        annotation, when = evening(number), EVENINGS[number]
        checked = check_claim(text, annotation, when) if k % 4 else check_claim(
            text, replace(annotation, time=None, aspect=None), None)  # fmt: skip
        assert in_english(checked.said), text


def test_two_facts_in_a_sentence_must_both_hold() -> None:
    when = EVENINGS[4]
    assert check_claim("Tycho is lit and Bailly is dark", evening(4), when).verdict == "true"
    assert check_claim("Tycho is lit and Bailly is lit", evening(4), when).verdict == "false"
    later = read_claims("Copernicus is 96 km wide, and Kepler is smaller than that").claims[1]
    assert [f.name for f in (*later.subjects, *later.others)] == ["Kepler", "Copernicus"]


def test_of_a_list_the_first_that_fails_is_named() -> None:
    checked = check_claim("Tycho, Clavius and Bailly are all lit", evening(4), EVENINGS[4])
    assert checked.verdict == "false"
    assert "Bailly" in in_english(checked.said)


@pytest.mark.parametrize("claim", ["Kepler is not lit yet", "Neither Kepler nor Aristarchus is lit"])
def test_not(claim: str) -> None:
    assert check_claim(claim, evening(2), EVENINGS[2]).verdict == "true"
    assert check_claim(claim, evening(5), EVENINGS[5]).verdict == "false"


@pytest.mark.parametrize("claim", [
    "Tycho is lit by a green lantern", "Tycho is supposedly lit", "Copernicus was dark", "Tycho and the wombat are lit",
])  # fmt: skip
def test_words_that_nobody_reads_leave_nothing_plainly_true_or_false(claim: str) -> None:
    assert check_claim(claim, evening(4), EVENINGS[4]).verdict not in ("true", "false")


def test_what_is_not_understood_says_what_is_known_of_what_it_names() -> None:
    checked = check_claim("Tycho smells of pancakes", evening(4), EVENINGS[4])
    assert checked.verdict == "not understood"
    assert "85 km" in in_english(checked.said)
    assert all("Tycho" in hint for hint in checked.hints[:3])


@pytest.mark.parametrize("number", [3, 4, 7])
def test_rising_and_setting_by_another_path(number: int) -> None:
    """The Sun's upper edge crosses the horizon of DE421 at the instant that is told."""
    when = EVENINGS[number]
    with sky() as truth:
        for name in ("Tycho", "Copernicus", "Aristarchus", "Posidonius"):
            row = table()[name]
            lat, lon = float(row["lat"]), float(row["lon"])
            crossing = crossings_of(lat, lon, when)[0]
            for hours in (crossing.last_rise, crossing.next_rise, crossing.last_set, crossing.next_set):
                assert truth.height(when + timedelta(hours=hours), lat, lon) == pytest.approx(-0.267, abs=0.03)
            up = truth.height(when, lat, lon) > 0
            said = check_claim(f"{name} is in the light", evening(number), when).verdict
            assert (said in ("true", "roughly")) == up
            ago = f"The Sun rose over {name} {-crossing.last_rise:.0f} hours ago"
            assert check_claim(ago, evening(number), when).verdict == "true"
            assert check_claim(f"The Sun will set over {name} in {crossing.next_set / 24:.1f} days", evening(number),
                               when).verdict == "true"  # fmt: skip


@pytest.mark.parametrize("number", [3, 4, 7])
def test_the_suns_height_by_another_path(number: int) -> None:
    when = EVENINGS[number]
    with sky() as truth:
        for name in ("Tycho", "Copernicus", "Plato"):
            true = truth.height(when, float(table()[name]["lat"]), float(table()[name]["lon"]))
            if true > 1:
                right, wrong = (f"The Sun stands {true + k:.0f} degrees high over {name}" for k in (0, 12))
                assert check_claim(right, evening(number), when).verdict == "true"
                assert check_claim(wrong, evening(number), when).verdict == "false"


@pytest.mark.parametrize("name", ["Tycho", "Copernicus", "Clavius", "Kepler", "Mare Crisium"])
def test_sizes_and_ranks_by_the_catalogue(name: str) -> None:
    km = float(table()[name]["size_km"])
    assert check_claim(f"{name} is {km:.0f} km across", evening(4), EVENINGS[4]).verdict == "true"
    assert check_claim(f"{name} is {1.5 * km:.0f} km across", evening(4), EVENINGS[4]).verdict == "false"
    assert check_claim(f"{name} is more than {0.8 * km:.0f} km wide", evening(4), EVENINGS[4]).verdict == "true"
    if name == "Clavius":
        assert rank(name) == 2
        assert (
            check_claim("Clavius is the second largest crater of the near side", evening(4), EVENINGS[4]).verdict
            == "true"
        )
        assert check_claim("Clavius is the largest crater of the near side", evening(4), EVENINGS[4]).verdict == "false"


def test_the_edge_runs_through_what_it_touches_alone() -> None:
    """Beyond a feature's radius and a degree it runs near it, not through it."""
    checked = check_claim("The terminator runs through Copernicus", evening(2), EVENINGS[2])
    assert checked.verdict == "false"
    assert check_claim("Copernicus is near the terminator", evening(3), EVENINGS[3]).verdict == "true"
