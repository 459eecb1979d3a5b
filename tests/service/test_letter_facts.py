"""What is read in a letter stands beside its picture, with the words it came from; a person says right or wrong."""

from __future__ import annotations

import re

import desk_people
import pytest
from letters_desk import NOW, application, mail, picture_of, taken, with_terms

from moondesk.service.programme.letter.stretches import find_words, stretches_of
from moondesk.service.programme.permission import permission_of
from moondesk.service.store.erasures import erase
from moondesk.service.store.letter_facts import LetterFact, decide_fact, facts_of, letters_with
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.web.desk.picture.accepting import accept, place_of, time_of
from moondesk.service.web.desk.picture.letter_facts_page import links_in, marked_parts

LETTER = (
    "Good evening,\n\nhere is the Moon, taken with my 6 inch Dobsonian.\nPlease credit me as Ilse K. "
    "You may show it on air.\n\nIlse"
)


def client_of(config):
    client = application(config).test_client()
    desk_people.log_in(client, config.data_dir, desk_people.make_account(config.data_dir), NOW)
    return client


def fact(field, value, words="", **more) -> LetterFact:
    return LetterFact(id=1, submission_id=1, field=field, value=value, words=words, source="mail", **more)


def test_words_are_found_however_the_lines_are_broken():
    text = "I used\nmy 6 inch  Dobsonian. You may show it."
    ((start, end),) = find_words(text, "my 6 inch Dobsonian.")
    assert text[start:end] == "my 6 inch  Dobsonian."
    assert len(find_words(text, "You may show it. I used my 6 inch Dobsonian.")) == 2
    assert find_words(text, "not there") == ()


def test_stretches_are_the_whole_text():
    text = "My son took it. You may show it."
    found = stretches_of(text, [fact("minor", "yes", "My son took it."), fact("consent", "suggested", text)])
    assert "".join(s.text for s in found) == text
    assert [s.fields for s in found] == [("minor", "consent"), ("consent",)]
    assert stretches_of("", ()) == ()


def test_what_a_time_and_a_place_say():
    at, sigma = time_of("2026-11-24T21:30+02:00 ±15 min")
    assert (at.isoformat(), sigma) == ("2026-11-24T19:30:00+00:00", 15.0)
    assert time_of("2026-11-24T21:30 ±15 min") is None  # by which clock?
    assert time_of("yesterday") is None
    assert place_of("Ruse, BG (43.86, 25.95)") == {"name": "Ruse, BG", "latitude_deg": 43.86, "longitude_deg": 25.95}
    assert place_of("Springfield") is None


@pytest.fixture
def desk(config, storage):
    config = with_terms(config)
    (number,) = taken(storage, config, mail("ilse@x.org", LETTER, "Moon", 90))
    return config, number, picture_of(storage, number)


def listed(storage, picture):
    (one,) = list_by_id(storage, [picture])
    return one


def post(client, picture, found, action):
    page = client.get(f"/pictures/{picture}").text
    token = re.search(r'name="token" value="([^"]+)"', page).group(1)
    return client.post(f"/pictures/{picture}/facts/{found.id}", data={"token": token, "action": action})


def of_field(storage, number, field):
    return next(f for f in facts_of(storage, number) if f.field == field)


def test_an_accepted_yes_is_a_consent_and_an_accepted_name_the_credit(desk, storage):
    config, number, picture = desk
    client = client_of(config)
    assert permission_of(listed(storage, picture), config.entry_terms).reasons == ("suggested",)
    assert post(client, picture, of_field(storage, number, "consent"), "right").status_code == 303
    assert permission_of(listed(storage, picture), config.entry_terms).given
    assert post(client, picture, of_field(storage, number, "credit"), "right").status_code == 303
    assert read_picture(storage, picture).submission.arrival.credit_line == "Ilse K."
    said = of_field(storage, number, "consent")
    assert (said.decided, bool(said.decided_by)) == ("accepted", True)


def test_what_is_called_wrong_counts_no_more_and_may_be_taken_back(desk, storage):
    config, number, picture = desk
    client = client_of(config)
    post(client, picture, of_field(storage, number, "equipment_kind"), "wrong")
    fields = {s.field for s in read_picture(storage, picture).submission.arrival.suggestions}
    assert "equipment_kind" not in fields
    assert "Called wrong by" in client.get(f"/pictures/{picture}").text
    post(client, picture, of_field(storage, number, "equipment_kind"), "open")
    assert "equipment_kind" in {s.field for s in read_picture(storage, picture).submission.arrival.suggestions}


def test_a_yes_called_wrong_is_none_and_never_frees(desk, storage):
    config, number, picture = desk
    client = client_of(config)
    post(client, picture, of_field(storage, number, "consent"), "wrong")
    may = permission_of(listed(storage, picture), "")
    assert may.reasons == ("none",)


def test_unclear_words_become_what_a_person_reads_in_them(config, storage):
    config = with_terms(config)
    (number,) = taken(storage, config, mail("bo@x.org", "You may show it, but only after my holiday.", "Moon", 91))
    picture = picture_of(storage, number)
    client = client_of(config)
    found = of_field(storage, number, "consent")
    assert found.value == "unclear"
    post(client, picture, found, "no")
    assert permission_of(listed(storage, picture), config.entry_terms).reasons == ("refused",)


def test_the_guardians_word_goes_with_an_accepted_yes(config, storage):
    (number,) = taken(storage, config, mail("mia@x.org", LETTER, "Moon", 92))
    arrival = read_picture(storage, picture_of(storage, number)).submission.arrival
    assert accept(fact("consent", "suggested", "Yes."), arrival, "Ada").consent.guardian is False
    assert accept(fact("consent", "unclear", "Perhaps."), arrival, "Ada").consent is None


def test_the_letter_stands_beside_the_picture_with_its_words_marked(desk, storage):
    config, _, picture = desk
    page = client_of(config).get(f"/pictures/{picture}").text
    assert re.search(r'<mark class="read-consent"[^>]*>You may show it on air\.</mark>', page)
    assert re.search(r'<mark class="read-kit"[^>]*>here is the Moon, taken with my 6 inch Dobsonian\.</mark>', page)
    assert "Name to say" in page
    assert "Ilse K." in page


def test_a_story_is_kept_and_stands_in_the_rundown_and_the_notes(desk, storage):
    config, _, picture = desk
    client = client_of(config)
    page = client.get(f"/pictures/{picture}").text
    token = re.search(r'name="token" value="([^"]+)"', page).group(1)
    story = "First light of a telescope built with her grandfather"
    assert client.post(f"/pictures/{picture}/story", data={"token": token, "story": story}).status_code == 303
    assert read_picture(storage, picture).submission.arrival.story == story
    assert story in client.get(f"/pictures/{picture}/notes").text
    assert client.post(f"/pictures/{picture}/story", data={"token": token, "story": "x" * 500}).status_code == 400


def test_letters_are_found_by_any_part_of_their_words_in_any_script(config, storage):
    (one, two) = taken(
        storage,
        config,
        mail("ann@x.org", "The Moon over Grandfather's barn.", "Moon", 93),
        mail("yui@x.org", "昨夜の月です。祖父の望遠鏡で撮りました。 Кучето ни лаеше.", "月", 94),
    )
    assert letters_with(storage, "grandf barn", 9) == (one,)
    assert letters_with(storage, "望遠鏡", 9) == (two,)
    assert letters_with(storage, "祖父", 9) == (two,)
    assert letters_with(storage, "куче ЛАЕ", 9) == (two,), "in whatever case"
    assert letters_with(storage, '"barn', 9) == ()
    assert letters_with(storage, "100%", 9) == letters_with(storage, "", 9) == ()
    page = client_of(config).get("/letters?find=barn").text
    assert "<mark>barn</mark>" in page
    erase(storage, [one], NOW)
    assert letters_with(storage, "barn", 9) == ()


def test_nobody_decides_without_a_name(desk, storage):
    _, number, _ = desk
    with pytest.raises(ValueError, match="names who"):
        decide_fact(storage, of_field(storage, number, "consent"), "accepted", " ", NOW)


def test_links_are_shown_and_quoted_words_are_not_marked(desk, storage):
    from moondesk.service.store.records import LetterPart

    parts = (LetterPart("own", "Album: https://example.org/a, (https://example.org/b)."), LetterPart("quoted", "Yes."))
    assert links_in(parts) == ("https://example.org/a", "https://example.org/b")
    marked = marked_parts(parts, (fact("consent", "suggested", "Yes."),))
    assert marked[1].stretches == (("Yes.", "", ""),)


def test_a_time_of_the_letter_goes_into_the_placing_until_somebody_calls_it_wrong(storage, config):
    words = "Good evening,\n\nI took the Moon last night at half past nine.\n\nIlse"
    (number,) = taken(storage, config, mail("ilse@x.org", words, "Moon", 93))
    picture = picture_of(storage, number)
    client = client_of(config)
    known = read_picture(storage, picture).submission.arrival.known()
    assert known.letter is not None
    assert known.letter.source == "letter"
    assert known.taken_utc is None
    with storage.writing():
        storage.execute("delete from jobs")
    post(client, picture, of_field(storage, number, "taken"), "wrong")
    assert read_picture(storage, picture).submission.arrival.known().letter is None
    assert storage.read("select picture_id, again from jobs") == [{"picture_id": picture, "again": 1}]
