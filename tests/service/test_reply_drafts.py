"""What drafts say is true of the picture, and is said well in every language that replies are written in.

Truth is computed anew from the ephemeris and the marks; plural forms are those of the Unicode CLDR's rules (Babel);
French spaces and Spanish marks by the Lexique des règles typographiques (Imprimerie nationale) and the Ortografía de la
lengua española (RAE, 2010).
"""

from __future__ import annotations

import itertools
import random
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import fakes
import pytest
from babel import Locale
from babel.messages.pofile import read_po

from moondesk.checks.verdict import FRAMED
from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import sun_altitude_deg
from moondesk.notes.messages import Message, Name, Term, in_english, places_of, say_many
from moondesk.quality.measurement import Quality
from moondesk.quality.resolution import Resolution
from moondesk.records import Clock, ClockVerdict, FeatureMark, FieldStop, Status, Terminator
from moondesk.sentences import sentence, sentences_of
from moondesk.service.languages import FOLDER, LANGUAGES, REPLIES_FOLDER, REPLY_LANGUAGES
from moondesk.service.languages.catalogue import Language
from moondesk.service.replies.about import TakenOn, about_picture
from moondesk.service.replies.advice import advice_for
from moondesk.service.replies.draft import Circumstances, draft_of
from moondesk.service.replies.letter_draft import LETTERS, letter_draft, letter_is
from moondesk.service.replies.voices import Voice, voice_for
from moondesk.service.store.records import Arrival, Enclosure, LetterPart, SentPicture, Submission, Suggestion
from tests.builders.build_messages import REPLIES, template

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
PROGRAMME = "Orion 7"  # no word of any language
GOOD = Quality(
    km_per_px=2.0,
    resolution=Resolution(km=8.0, ln_sigma=0.1, px=4.0, source="limb", focus_km=8.0, blur_km=8.0),
    burnt_share=0.0,
    level=0.8,
    noise=0.01,
    signal_to_noise=90.0,
    framed_share=1.0,
    disc_share=1.0,
    terminator=None,
    distance_km=380_000.0,
    sharpened=0.0,
)


def read(field: str, value: str = "yes") -> Suggestion:
    return Suggestion(field, value, "words", "mail")  # type: ignore[arg-type]


def sent(
    seed: int = 1, suggestions: tuple[Suggestion, ...] = (), refused: bool = False, name: str = "Ilse Kern"
) -> SentPicture:
    enclosure = Enclosure(
        given_name="moon.jpg",
        size_bytes=9,
        sha256="0" * 64,
        media_type="image/jpeg",
        refusal=sentences_of("It is no picture.") if refused else (),
    )
    arrival = Arrival(
        key="mail:1",
        source="mail",
        origin="1.eml",
        enclosures=(enclosure,),
        sender_name=name,
        sender_address="ilse@viewers.example",
        suggestions=suggestions,
    )
    return SentPicture(seed, Submission(seed, 1, NOW, arrival), enclosure)


def wide():
    """The stand-in's placed picture, large enough in its frame for no advice."""
    a = fakes.annotation()
    return replace(a, width=1200, height=900, pose=replace(a.pose, x=600.0, y=450.0, radius_px=400.0, mirrored=False))


def clock_off(hours: float):
    a = wide()
    there = a.taken.candidates[0].utc - timedelta(hours=hours)
    return replace(a, clock=Clock(ClockVerdict.DISAGREES, there, 1.0))


def small():
    a = wide()
    return replace(a, pose=replace(a.pose, radius_px=40.0))


def near():
    a = wide()
    return replace(a, pose=replace(a.pose, radius_px=1500.0))


def in_a_field():
    a = wide()
    return replace(a, pose=replace(a.pose, radius_px=300.0), field_stop=FieldStop(200.0, 450.0, 440.0))


SOFT = replace(GOOD, resolution=replace(GOOD.resolution, km=200.0))
#: Where the sentences of drafts stand; those of questions and receipts are put in, or sent, by others.
DRAFTING = ("about.py", "advice.py", "draft.py", "letter_draft.py", "voices.py")
#: Name, annotation, quality, equipment of each kind of advice.
ADVICE = (
    ("none", wide(), GOOD, None),
    *(
        ("burnt", wide(), replace(GOOD, burnt_share=share), kind)
        for share in (0.1, 0.3, 0.5, 0.8)
        for kind in ("phone", None)
    ),
    ("dark", wide(), replace(GOOD, level=0.1), None),
    ("soft", wide(), SOFT, "phone"),
    ("soft", wide(), SOFT, "small telescope"),
    ("grainy", wide(), replace(GOOD, signal_to_noise=9.0), None),
    ("cut", wide(), replace(GOOD, framed_share=0.9), "phone"),
    ("close-up", near(), replace(GOOD, framed_share=0.3), "small telescope"),
    ("small", small(), GOOD, "phone"),
    ("small", small(), GOOD, "compact"),
    ("off centre", in_a_field(), GOOD, "small telescope"),
    *(("clock", clock_off(hours), GOOD, None) for hours in (2, 5, 11, -2, -11, 24, 48, 264, -24, -120, 2400)),
)


def sky(when: datetime, seed: int = 0):
    """A placed picture of the whole Moon at an instant: marks with the Sun's true height, seen at random."""
    at, chance = aspect_at(when, None), random.Random(seed)
    base = wide()
    shown = [f for f in all_features() if f.parent is None and abs(f.lon_deg) < 70 and f.size_km > 60]
    heights = sun_altitude_deg(
        [f.lat_deg for f in shown], [f.lon_deg for f in shown], at.sub_solar_lat_deg, at.sub_solar_lon_deg
    )
    marks = tuple(
        FeatureMark(
            feature=f,
            x=600.0,
            y=450.0,
            sigma_px=0.5,
            radius_px=3.0,
            sun_altitude_deg=float(height),
            cos_view=0.7,
            lit_fraction=1.0,
            seen=chance.random(),
            prominence=chance.random(),
        )
        for f, height in zip(shown, heights, strict=True)
    )
    return replace(
        base,
        features=tuple(m for m in marks if m.sun_altitude_deg > 0),
        pose=replace(
            base.pose,
            libration_lat_deg=at.libration_lat_deg,
            libration_lon_deg=at.libration_lon_deg,
            sub_solar_lat_deg=at.sub_solar_lat_deg,
            sub_solar_lon_deg=at.sub_solar_lon_deg,
        ),
        terminator=Terminator(at.phase_angle_deg, at.illuminated_fraction, 270.0, 0.5),
    )


FIRST = datetime(2026, 10, 10, 20, tzinfo=UTC)
#: Over a lunation, and two in which nothing but one feature, or one sea, is well seen.
SKIES = tuple(sky(FIRST + timedelta(days=day), day) for day in range(1, 30))
FEW = tuple(
    replace(SKIES[8], features=tuple(m for m in SKIES[8].features if m.feature.kind == kind)[:count])
    for kind, count in (("crater", 1), ("sea", 1), ("sea", 3))
)
#: What is not placed, by what is known of it.
UNNAMED = (
    None,
    replace(fakes.annotation(), sure=False),
    *(fakes.bare(status.value) for status in Status if status is not Status.ANNOTATED),
    replace(fakes.bare("unplaced"), reasons=(sentence("burnt_out"),)),
    replace(fakes.bare("unplaced"), reasons=FRAMED.reasons),
)
EVERY = tuple(code for code in REPLY_LANGUAGES)
EARLIER = (None, *range(12), 21)


def drafts(code: str):
    """(situation, draft) over the matrix: status, certainty, voice, close-up, mirrored, advice, seeds."""
    language, earlier = Language(code), itertools.cycle(EARLIER)
    taken = itertools.cycle((None, TakenOn(date(2026, 11, 1), 21), TakenOn(date(2026, 11, 24))))
    stories = itertools.cycle(((), (read("story", "It was cold."),)))
    for voice, mirrored, seed in itertools.product(Voice, (False, True), range(3)):
        for name, a, quality, equipment in ADVICE:
            b = replace(a, pose=replace(a.pose, mirrored=mirrored))
            c = Circumstances(
                quality=quality, equipment=equipment, taken=next(taken), earlier=next(earlier), voice=voice
            )
            picture = sent(seed, next(stories))
            yield (name, voice, mirrored, seed), draft_of(PROGRAMME, picture, b, c, language)
        for a in (*SKIES, *FEW) if not mirrored else ():
            c = Circumstances(quality=GOOD, taken=next(taken), earlier=next(earlier), voice=voice)
            yield ("sky", voice, seed), draft_of(PROGRAMME, sent(seed), a, c, language)
        for k, a in enumerate(UNNAMED):
            c = Circumstances(
                earlier=next(earlier), voice=voice, equipment=("phone", "small telescope", None)[seed % 3]
            )
            for ask in (None, (), (date(2026, 3, 1), date(2026, 2, 1))):
                yield (k, voice, seed, ask), draft_of(PROGRAMME, sent(seed), a, c, language, ask=ask)
        for refused in (
            sent(seed, refused=True),
            replace(sent(seed), enclosure=replace(sent().enclosure, media_type="message/rfc822")),
        ):
            yield ("refused", voice, seed), draft_of(PROGRAMME, refused, None, Circumstances(voice=voice), language)
        told = sent(seed, (read("credit", "Clara Kern"),))
        yield ("by name", voice, seed), draft_of(PROGRAMME, told, wide(), Circumstances(voice=voice), language)
        nameless = sent(seed, name="")
        yield ("no name", voice, seed), draft_of(PROGRAMME, nameless, wide(), Circumstances(voice=voice), language)
        yield (
            ("not shown", voice, seed),
            draft_of(PROGRAMME, sent(seed), wide(), Circumstances(refused=True, voice=voice), language),
        )
        for c in (
            Circumstances(aired=date(2026, 11, 24), voice=voice),
            Circumstances(left=date(2026, 11, 24), voice=voice),
        ):
            yield ("after the show", voice, seed, c.left), draft_of(PROGRAMME, sent(seed), wide(), c, language)
        for what, _ in LETTERS:
            yield (what, voice), letter_draft(PROGRAMME, sent(seed).submission.arrival, what, language, voice=voice)


ENGLISH = re.compile(r"\b(the|and|of|with|is|are|we|you|your|thank|this)\b", re.IGNORECASE)
#: What must not stand in a letter to a grown-up, and to a child.
WRONG_ADDRESS = {
    "de": (r"\b([Dd]u|[Dd]ich|[Dd]ir|[Dd]eine?\w*)\b", r"\b(Ihr|Ihre[nmrs]?|Ihnen)\b|[a-zä] Sie\b"),
    "fr": (r"\b([Tt]u|[Tt]on|[Tt]a|[Tt]es|[Tt]oi|[Tt]e)\b", r"\b([Vv]ous|[Vv]otre|[Vv]os)\b"),
    "es": (r"\b([Tt]u|[Tt]us|[Tt]ú|[Tt]e|[Tt]i|[Cc]ontigo)\b", r"\b([Uu]sted|salude|toque|baje)\b"),
    "bg": (
        r"\b([Тт]и|[Тт]еб|[Тт]вой|[Тт]воя\w*|изпрати|сподели)\b",
        r"\b(Ви|Вашия|Вашата|Вашето|изпратихте|докоснете)\b",
    ),
}


@pytest.mark.parametrize("code", EVERY)
def test_every_draft_reads_as_one_letter_in_one_language(code):
    seen = set()
    for situation, draft in drafts(code):
        where = (code, situation, draft.body)
        assert (draft.language, draft.untranslated) == (code, ()), where
        assert not re.search(r"[{}]|  | \n|\n{3}|\.\.|,,|\s[.,]|None", draft.body), where
        paragraphs = draft.body.split("\n\n")
        assert paragraphs[-1].splitlines()[-1] == PROGRAMME, where
        for paragraph in paragraphs[1:-1]:
            assert paragraph.strip(), where
            assert re.search(r"(?:[.!?。！？।؟]|\bг\.)$", paragraph), where
            assert not re.match(r"[a-zа-яà-ÿ]", paragraph), where
        if code != "en":
            assert not ENGLISH.search(draft.body.replace(PROGRAMME, "")), where
        if code == "es":
            for opening, closing in ("¿?", "¡!"):
                assert draft.body.count(opening) == draft.body.count(closing), where
        if code == "fr":
            assert not re.search(r"(?<!\u202f)[;!?]|(?<!\u00a0):|«(?!\u00a0)|(?<!\u00a0)»|'", draft.body), where
        seen.add(draft.body)
    assert len(seen) > 300


@pytest.mark.parametrize("code", sorted(WRONG_ADDRESS.keys() & set(EVERY)))
def test_a_grown_up_and_a_child_are_spoken_to_as_the_language_does(code):
    to_adult, to_child = WRONG_ADDRESS[code]
    for situation, draft in drafts(code):
        wrong = re.search(to_child if draft.voice is Voice.CHILD else to_adult, draft.body)
        assert not wrong, (situation, wrong, draft.body)


def test_two_neighbours_do_not_get_the_same_letter():
    for code in EVERY:
        bodies = [draft_of(PROGRAMME, sent(k), wide(), Circumstances(), Language(code)).body for k in range(40)]
        assert all(a != b for a, b in itertools.pairwise(bodies)), code
        assert draft_of(PROGRAMME, sent(3), wide(), Circumstances(), Language(code)).body == bodies[3]


def test_a_draft_never_mixes_languages(monkeypatch):
    """Where one sentence lacks, all of it is in the next language, and the draft says what lacks."""
    lacking = ("The Moon was full, or nearly so.",)
    monkeypatch.setattr(Language, "missing", lambda self, said: lacking if self.code == "de" else ())
    draft = draft_of(PROGRAMME, sent(), wide(), Circumstances(), Language("de"), Language("bg"))
    assert (draft.language, draft.untranslated) == ("bg", lacking)
    assert "Guten Tag" not in draft.body
    assert "Здравейте" in draft.body
    alone = draft_of(PROGRAMME, sent(), wide(), Circumstances(), Language("de"))
    assert (alone.language, alone.untranslated) == ("en", lacking)


# --- catalogues -------------------------------------------------------------------------------------------------------


@cache
def sentences():
    """All that the builder finds in the replies."""
    return tuple(template(REPLIES))


@cache
def catalogue(code: str):
    with ((FOLDER if code in LANGUAGES else REPLIES_FOLDER) / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code)


@pytest.mark.parametrize("code", [code for code in EVERY if code not in LANGUAGES])
def test_a_catalogue_of_the_replies_holds_their_sentences_and_is_no_language_of_the_programme(code):
    held = {m.id for m in catalogue(code) if m.id and m.context is None}
    assert held == {m.id for m in sentences() if m.id}
    assert not Language(code).missing(Message(m if isinstance(m, str) else m[0]) for m in held)


@pytest.mark.parametrize("code", [code for code in EVERY if code != "en"])
def test_translations_fill_the_places_of_their_templates(code):
    for m in catalogue(code):
        if not m.id or m.context is not None:
            continue
        ids = (m.id,) if isinstance(m.id, str) else m.id
        strings = (m.string,) if isinstance(m.string, str) else m.string
        wanted = {place for one in ids for place in places_of(one)}
        for text in strings:
            assert text, (code, m.id)
            assert set(places_of(text)) <= wanted, (code, m.id)
            assert isinstance(m.id, tuple) or set(places_of(text)) == wanted, (code, m.id)


@pytest.mark.parametrize("code", EVERY)
@pytest.mark.parametrize("count", [1, 2, 5, 11, 21, 100, 103])
def test_plural_forms_are_those_of_the_language(code, count):
    """The form taken is that of the count's category in the CLDR: two counts of one category share their wording."""
    rule, language = Locale.parse(code).plural_form, Language(code)
    for m in sentences():
        if not isinstance(m.id, tuple) or set(places_of(m.id[1])) != {"count"}:
            continue
        said = language.write(say_many(*m.id, count))
        for other in (1, 2, 3, 5, 11, 21):
            alike = language.write(say_many(*m.id, other)).replace(str(other), "#") == said.replace(str(count), "#")
            assert alike or rule(other) != rule(count), (code, m.id, count, other)
        assert str(count) in said or rule(count) in ("one", "two"), (code, said)


def test_feature_names_stand_without_an_article_of_theirs():
    """The IAU's names are Latin and international; what stands before {name} does not bend to them."""
    elided = re.compile(r"\b(de|du|d['’]|le|la|l['’]|el|al|der|die|das|dem|den|do|da) \{names?\}", re.IGNORECASE)
    for code in EVERY:
        for m in catalogue(code) if code != "en" else ():
            for text in (m.string,) if isinstance(m.string, str) else m.string or ():
                if m.id and m.context is None and any(place.startswith(REPLIES) for place, _ in m.locations):
                    assert not elided.search(text), (code, text)


# --- truth ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("day", range(1, 30))
def test_what_is_said_of_the_light_is_true(day):
    """Rising or setting by the Sun's height an hour later; waxing or waning by the lit share six hours later."""
    when = FIRST + timedelta(days=day)
    now, then, later = (
        aspect_at(when, None),
        aspect_at(when + timedelta(hours=1), None),
        aspect_at(when + timedelta(hours=6), None),
    )
    for seed in range(6):
        a = sky(when, seed)
        marks = {m.feature.name: m for m in a.features}
        for said in about_picture(a, GOOD, None, seed):
            words = in_english(said)
            names = [p.text for _, v in said.values for p in (getattr(v, "parts", None) or (v,)) if isinstance(p, Name)]
            for name in names:
                mark = marks[name]
                assert mark.seen >= 0.7, words
                if "crater" in words:
                    assert mark.feature.kind == "crater", words
                height = mark.sun_altitude_deg
                f = mark.feature
                rises = (
                    float(sun_altitude_deg([f.lat_deg], [f.lon_deg], then.sub_solar_lat_deg, then.sub_solar_lon_deg)[0])
                    > height
                )
                if re.search(r"morning|rising|breaking", words):
                    assert rises, words
                    assert height <= 12, words
                if re.search(r"evening|setting|last light", words):
                    assert not rises, words
                    assert height <= 12, words
                if "hardly a shadow" in words:
                    assert height >= 60, words
                if "edge of the light" in words or "The line between" in words:
                    assert height <= 6, words
            lit = now.illuminated_fraction
            if "Moon was" in words:
                grows = later.illuminated_fraction > lit
                assert "full" in words if lit >= 0.97 else ("waxing" in words or "young" in words) is grows, (
                    words,
                    lit,
                )
                if "half lit" in words:
                    assert ("more than half" in words) is (lit > 0.55), (words, lit)
                    assert lit >= 0.45, words
                if "crescent" in words:
                    assert lit < 0.45, words
                    assert ("slender" in words) is (lit < 0.12), words


def test_the_edge_of_the_light_is_named_from_north_to_south():
    for day in range(3, 12):
        a = sky(FIRST + timedelta(days=day))
        latitude = {m.feature.name: m.feature.lat_deg for m in a.features}
        for said in about_picture(a, None, None, 0):
            if "between" in said.template:
                found = [latitude[p.text] for p in said.value("names").parts]
                assert found == sorted(found, reverse=True)


@pytest.mark.parametrize(("a", "near_enough"), [(near(), True), (wide(), False)])
def test_a_close_up_is_a_moon_larger_than_the_frame_not_one_cut_by_chance(a, near_enough):
    told = [in_english(said) for said in about_picture(a, replace(GOOD, framed_share=0.3), None, 0)]
    assert ("It takes patience and care to come so close." in told) is near_enough


def test_a_phase_is_told_as_well_where_no_date_stands_before_it():
    for day in range(1, 30):
        assert not re.search(r"\bthen\b", " ".join(map(in_english, about_picture(SKIES[day - 1], GOOD, None, 0))))


def test_a_child_is_not_thanked_for_a_consent_that_is_not_its_to_give():
    child = sent(suggestions=(read("consent", "given"), read("minor"))).submission.arrival
    assert letter_is(child, ()) == "words"
    with_guardian = replace(child, suggestions=(*child.suggestions, read("guardian")))
    assert letter_is(with_guardian, ()) == "given"


def test_nobody_is_thanked_for_a_picture_in_a_mail_that_would_not_open():
    picture = sent()
    picture = replace(picture, enclosure=replace(picture.enclosure, media_type="message/rfc822"))
    body = draft_of(PROGRAMME, picture, None, Circumstances(earlier=0), Language()).body
    assert f"Thank you for writing to {PROGRAMME}." in body
    assert "picture" not in body.partition("With warm")[0].replace("next picture", "")


def test_of_an_unsure_placement_nothing_is_named_and_no_date_said():
    unsure = replace(wide(), sure=False)
    body = draft_of(PROGRAMME, sent(), unsure, Circumstances(taken=TakenOn(date(2026, 3, 25), 7)), Language()).body
    assert "Copernicus" not in body
    assert "2026" not in body
    assert "lit" not in body


@pytest.mark.parametrize(("name", "a", "quality", "equipment"), ADVICE)
def test_one_piece_of_advice_in_words(name, a, quality, equipment):
    for voice in Voice:
        said = advice_for(a, quality, equipment, voice)
        words = " ".join(in_english(m) for m in said)
        assert len(said) <= 2
        assert not re.search(r"%|pixel|px|\bkm\b|\bbuy\b", words)
        if name != "clock":
            assert not re.search(r"\d", words)
        if equipment in ("small telescope", "larger telescope"):
            assert "zoom" not in words
            assert "binoculars" not in words
        if name in ("none", "close-up"):
            assert said == ()


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.1, "brightest places"), (0.3, "A good part"), (0.5, "About half"), (0.54, "About half"), (0.7, "Most of")],
)
def test_how_much_is_white_is_said_in_words(share, words):
    assert words in advice_for(wide(), replace(GOOD, burnt_share=share), None)[0].template


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (2, "about 2 hours fast"),
        (-11, "about 11 hours slow"),
        (24, "about a day fast"),
        (-48, "about 2 days slow"),
        (264, "about 11 days fast"),
        (2400, "another date"),
    ],
)
def test_a_wrong_clock_is_told_by_what_it_is_off(hours, words):
    assert words in in_english(advice_for(clock_off(hours), GOOD, None)[0])


# --- who writes, and what for -----------------------------------------------------------------------------------------


def body(picture: SentPicture, **circumstances) -> str:
    return draft_of(PROGRAMME, picture, wide(), Circumstances(**circumstances), Language()).body


def test_a_child_is_greeted_by_its_first_name_and_a_parent_as_one():
    assert voice_for(sent().submission.arrival, True) is Voice.CHILD
    assert body(sent(), minor=True).startswith("Hello Ilse,")
    by_parent = sent(1, (read("guardian"),))
    assert voice_for(by_parent.submission.arrival, True) is Voice.GUARDIAN
    assert body(by_parent, minor=True).startswith("Dear Ilse Kern,")
    assert "young photographer" in body(by_parent, minor=True)
    of_clara = sent(1, (read("guardian"), read("credit", "Clara Kern")))
    assert body(of_clara, minor=True).startswith("Dear Ilse Kern,")
    assert "our best regards to Clara." in body(of_clara, minor=True)
    assert body(sent(1, (read("credit", "Clara Kern"),)), minor=True).startswith("Hello Clara,")
    assert body(sent(1, (read("credit", "Mrs Kern"),)), minor=True).startswith("Hello Mrs Kern,")
    assert voice_for(by_parent.submission.arrival, False) is Voice.ADULT


def test_a_first_picture_is_welcomed_and_a_regular_thanked_as_one():
    assert "warm welcome" in body(sent(), earlier=0)
    assert "sent us the Moon before" in body(sent(), earlier=1)
    assert "five times before" in body(sent(), earlier=5)
    assert "21 times before" in body(sent(), earlier=21)
    unknown = body(sent(), earlier=None)
    assert "before" not in unknown
    assert "first picture" not in unknown


def test_a_story_is_thanked_for_where_there_is_one():
    assert "story" in body(sent(1, (read("story", "We waited for two hours."),)))
    assert "story" not in body(sent())


def test_whoever_took_back_is_not_thanked_for_the_picture():
    draft = draft_of(PROGRAMME, sent(), wide(), Circumstances(refused=True, earlier=3), Language())
    assert "will not be shown" in draft.body
    assert draft.picture_id is None
    for word in ("your picture", "Copernicus", "next"):
        assert word not in draft.body


def test_a_letter_without_a_picture_is_answered_as_what_it_is():
    arrival = sent().submission.arrival
    own, quoted = LetterPart("own", "Which star was that?"), LetterPart("quoted", "> May we show it?")
    assert letter_is(arrival, (own,)) == "question"
    assert letter_is(arrival, (LetterPart("own", "ما هذا النجم؟"),)) == "question"
    assert letter_is(arrival, (quoted, LetterPart("own", "Lovely."))) == "words"
    assert letter_is(replace(arrival, suggestions=(read("consent", "given"),)), (quoted,)) == "given"
    assert letter_is(replace(arrival, suggestions=(read("consent", "refused"),)), (own,)) == "refused"
    assert letter_is(replace(arrival, suggestions=(read("withdrawal"), read("consent", "given"))), ()) == "refused"
    for what, _ in LETTERS:
        for code in EVERY:
            written = letter_draft(PROGRAMME, arrival, what, Language(code))
            assert written.picture_id is None
            assert "JPEG" not in written.body, (what, code)
    assert "with interest" not in letter_draft(PROGRAMME, arrival, "refused", Language()).body


def test_every_sentence_of_the_catalogue_stands_in_a_draft_of_the_matrix(monkeypatch):
    """So that what is asked of all drafts is asked of all sentences."""
    written, write = set(), Language.write

    def keep(self: Language, said: Message) -> str:
        parts = [v for _, v in said.values]
        written.update(
            v.word if isinstance(v, Term) else v.template for v in (*parts, said) if isinstance(v, Term | Message)
        )
        return write(self, said)

    monkeypatch.setattr(Language, "write", keep)
    for _ in drafts("en"):
        pass
    for message in sentences():
        if message.id and any(place.endswith(DRAFTING) for place, _ in message.locations):
            assert {message.id} & written or {message.id[0]} & written, message.id
