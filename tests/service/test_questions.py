"""Questions by a link: asked at the desk, answered by their senders on the audience's page, and what follows of it."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from letters_desk import NOW, application, mail, picture_of, taken

from moondesk.notes.messages import in_english
from moondesk.service.languages import REPLY_LANGUAGES, direction
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.permission import permission_of
from moondesk.service.programme.questions import SIGMA_MINUTES, choices_of, first_name
from moondesk.service.replies.question_line import question_line, with_question
from moondesk.service.settings.config import CONFIG_NAME, read_config
from moondesk.service.store import questions, replies
from moondesk.service.store.decisions import decisions_of
from moondesk.service.store.erasures import erase
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.storage import Storage
from moondesk.service.web.public import tongue
from moondesk.service.web.public.app import create_public_app

ADDRESS = "https://moon.example.org"


@pytest.fixture
def config(config):
    config.data_dir.mkdir()
    (config.data_dir / CONFIG_NAME).write_text(f'[public]\naddress = "{ADDRESS}"\n')
    return replace(config, public=read_config(config.data_dir).public)


@pytest.fixture
def sent(config, storage):
    """Ids of a submission and its picture."""
    (ann,) = taken(storage, config, mail("ann@x.org", "Here is the Moon.", "Moon", 90))
    return ann, picture_of(storage, ann)


class Clock:
    now = NOW


@pytest.fixture
def audience(config):
    """A browser that keeps no cookies, on the audience's pages; its clock."""
    clock = Clock()
    client = create_public_app(config, lambda: clock.now).test_client(use_cookies=False)
    client.clock = clock
    return client


@pytest.fixture
def desk(config):
    return application(config).test_client()


def ask(desk, picture, kind, **more):
    """The path of the link of a question that was just asked."""
    page = desk.get(f"/pictures/{picture}").text
    token = re.search(r'name="token" value="([^"]+)"', page).group(1)
    answer = desk.post(f"/pictures/{picture}/questions", data={"token": token, "kind": kind, **more})
    assert answer.status_code == 201, answer.text
    return re.search(rf'value="{ADDRESS}(/q/[^"]+)"', answer.text).group(1)


def may(storage, picture):
    return permission_of(list_by_id(storage, [picture])[0])


def listed(storage, submission):
    return questions.questions_of(storage, [submission])


def test_a_yes_by_one_click_is_a_consent_word_for_word(storage, sent, desk, audience):
    submission, picture = sent
    assert may(storage, picture).reasons
    link = ask(desk, picture, "consent")
    assert may(storage, picture).consent.state == "asked"
    page = audience.get(link).text
    assert "May we show this picture in The Evening Sky" in page
    assert f"{link}/0.jpg" in page
    assert audience.get(f"{link}/0.jpg").mimetype == "image/jpeg"
    answer = audience.post(link, data={"choice": "yes"})
    assert answer.status_code == 303
    consent = may(storage, picture).consent
    assert may(storage, picture).given
    assert (consent.state, consent.kind, consent.guardian) == ("given", "form", False)
    asked = "May we show this picture in The Evening Sky, its repeats and its recordings?"
    assert consent.evidence == f"{asked} \u2013 Yes, you may show it"
    assert consent.noted_by == "the sender, by a link"
    (question,) = listed(storage, submission)
    given = question.answer
    assert (given.asked, given.words, given.language, given.when_utc) == (asked, "Yes, you may show it", "en", NOW)
    assert "Yes, you may show it" in audience.get(link).text
    shown = desk.get(f"/pictures/{picture}").text
    assert "noted by the sender" in shown
    assert "Yes, you may show it" in desk.get("/letters").text


def test_a_no_that_comes_later_counts_at_once_and_all_is_kept(storage, sent, desk, audience):
    submission, picture = sent
    link = ask(desk, picture, "consent")
    for choice, given in (("yes", True), ("no", False), ("no", False), ("yes", True), ("child", False)):
        audience.post(link, data={"choice": choice})
        assert may(storage, picture).given is given, choice
    (question,) = listed(storage, submission)
    assert [a.choice for a in question.answers] == ["yes", "no", "yes", "child"]  # the same again is no new answer
    assert may(storage, picture).consent.state == "refused"


def test_looking_changes_nothing(storage, sent, desk, audience):
    link = ask(desk, sent[1], "consent")
    before = list(storage._db.iterdump())
    for path in (link, f"{link}?choice=yes", f"{link}?choice=yes&language=bg", f"{link}/0.jpg"):
        assert audience.get(path).status_code == audience.head(path).status_code == 200
    assert list(storage._db.iterdump()) == before


def test_guardians_are_asked_as_guardians(storage, sent, desk, audience):
    _, picture = sent
    link = ask(desk, picture, "guardian")
    assert "Are you the parent or guardian of the child who took this picture" in audience.get(link).text
    for choice in ("child", "other"):
        audience.post(link, data={"choice": choice})
        consent = may(storage, picture).consent
        assert not may(storage, picture).given
        assert consent.state == "asked"
        assert consent.minor
    audience.post(link, data={"choice": "yes"})
    assert may(storage, picture).given
    assert may(storage, picture).consent.guardian
    audience.post(link, data={"choice": "other"})  # it was no guardian who said so before
    assert may(storage, picture).consent.state == "refused"
    audience.post(link, data={"choice": "yes"})
    assert may(storage, picture).given
    audience.post(link, data={"choice": "no"})
    assert may(storage, picture).consent.state == "refused"


def test_a_yes_of_the_sender_is_no_guardians_yes(storage, sent, desk, audience):
    _, picture = sent
    ask(desk, picture, "guardian")  # the desk knows now that a child took it
    audience.post(ask(desk, picture, "consent"), data={"choice": "yes"})
    assert may(storage, picture).reasons == ("minor",)


def test_a_name_is_the_credit_from_then_on(storage, sent, desk, audience):
    _, picture = sent
    link = ask(desk, picture, "name")

    def credit():
        return credit_of(read_picture(storage, picture).submission.arrival)

    assert 'value="Ann"' in audience.get(link).text
    for choice, name, shown in (
        ("name", "Ann Lee from Cork", "Ann Lee from Cork"),
        ("first", "Ann Lee", "Ann"),
        ("unnamed", "Ann Lee", ""),
        ("name", "Ann L.", "Ann L."),
        ("unnamed", "", ""),
    ):
        audience.post(link, data={"choice": choice, "name": name})
        assert (credit().name, credit().unnamed) == (shown, choice == "unnamed")
    assert audience.post(link, data={"choice": "name", "name": "  \u200b"}).status_code == 422
    assert audience.post(link, data={"choice": "name", "name": "x" * 81}).status_code == 422
    audience.post(link, data={"choice": "name", "name": "Ann", "taker": "Finn"})
    assert "Somebody else took it." in desk.get(f"/pictures/{picture}").text
    assert len(storage.read("select 1 from suggestions where field = 'unnamed'")) == 1


def test_a_time_is_a_decision_with_its_sigma_and_the_picture_is_placed_anew(storage, sent, desk, audience):
    _, picture = sent
    link = ask(desk, picture, "taken")
    typed = {"day": "2026-03-25", "hour": "21:30", "zone": "Europe/Vienna"}
    for choice in ("minutes", "half_hour", "night"):
        audience.post(link, data={"choice": choice, **typed})
        arrival = read_picture(storage, picture).submission.arrival
        assert arrival.taken_utc == datetime(2026, 3, 25, 20, 30, tzinfo=UTC)
        assert arrival.taken_sigma_minutes == SIGMA_MINUTES[choice]
        assert arrival.taken_by == "the sender, by a link"
    assert storage.read("select again from jobs where picture_id = ?", [picture])[0]["again"] == 1
    count = len(decisions_of(storage, picture))
    audience.post(link, data={"choice": "unknown"})
    assert len(decisions_of(storage, picture)) == count
    for wrong in (
        {"day": ""},
        {"hour": ""},
        {"day": "2026-03-29", "hour": "02:30"},  # put forward over it
        {"day": "2026-04-25"},
        {"day": "1980-04-25"},
        {"day": "soon"},
        {"zone": "../../etc/passwd"},
    ):
        assert audience.post(link, data={"choice": "minutes", **typed, **wrong}).status_code == 422, wrong
    audience.clock.now = NOW.replace(month=12)
    link = ask(desk, picture, "taken")
    with Storage(storage.data_dir) as other, other.writing() as execute:
        execute("update questions set expires_utc = '2027-01-01T00:00:00+00:00'")
    audience.post(link, data={"choice": "minutes", "day": "2026-10-25", "hour": "02:30", "zone": "Europe/Vienna"})
    arrival = read_picture(storage, picture).submission.arrival  # the clock showed it twice, at 0:30 and 1:30
    assert (arrival.taken_utc, arrival.taken_sigma_minutes) == (datetime(2026, 10, 25, 1, 0, tzinfo=UTC), 30.0)


def test_all_pictures_of_a_submission_or_one(storage, config, desk, audience):
    (_ann,) = taken(storage, config, mail("ann@x.org", "Here is the Moon.", "Moon", 90))
    with storage.writing() as execute:
        execute(
            "insert into pictures (submission_id, position, given_name, size_bytes, sha256, media_type) "
            "select submission_id, 1, 'b.png', 1, sha256, media_type from pictures"
        )
    first, second = (row["id"] for row in storage.read("select id from pictures order by id"))
    audience.post(ask(desk, first, "consent", whole="yes"), data={"choice": "yes"})
    assert may(storage, first).given
    assert may(storage, second).given
    link = ask(desk, second, "consent")
    assert "this picture" in audience.get(link).text
    audience.post(link, data={"choice": "no"})
    assert may(storage, first).given
    assert not may(storage, second).given


@pytest.mark.parametrize("how", ["expired", "revoked", "erased", "unknown", "forgotten picture"])
def test_a_link_that_has_ended_tells_nothing(storage, sent, desk, audience, how):
    submission, picture = sent
    link = ask(desk, picture, "consent")
    audience.post(link, data={"choice": "no"})
    if how == "expired":
        audience.clock.now = NOW + timedelta(days=21)
    elif how == "revoked":
        (question,) = listed(storage, submission)
        token = re.search(r'name="token" value="([^"]+)"', desk.get(f"/pictures/{picture}").text).group(1)
        assert desk.post(f"/questions/{question.id}/revoke", data={"token": token}).status_code == 303
        assert "Taken back" in desk.get(f"/pictures/{picture}").text
    elif how == "unknown":
        link = "/q/" + "A" * 32
    else:
        erase(storage, [submission], NOW)
        assert not storage.read("select 1 from questions")
        assert not storage.read("select 1 from answers")
    for answer in (audience.get(link), audience.post(link, data={"choice": "yes"}), audience.get(f"{link}/0.jpg")):
        assert answer.status_code == 404
        assert "does not lead anywhere" in answer.text
        assert "Ann" not in answer.text
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.text == audience.get("/q/nobody-was-given-this").text
    if how in ("expired", "revoked"):
        assert not may(storage, picture).given


def test_after_it_was_on_air_only_a_no_is_taken(storage, sent, desk, audience):
    _, picture = sent
    links = {kind: ask(desk, picture, kind) for kind in ("consent", "name", "taken")}
    audience.post(links["consent"], data={"choice": "yes"})
    with storage.writing() as execute:
        execute("update pictures set aired_utc = ?", [NOW.isoformat()])
    for kind, choice in (("name", "unnamed"), ("taken", "unknown"), ("consent", "child")):
        assert audience.post(links[kind], data={"choice": choice}).status_code == 422
    page = audience.get(links["consent"]).text
    assert "It was on air on 26 March 2026" in page
    assert 'value="yes"' not in page
    audience.post(links["consent"], data={"choice": "no"})
    assert not may(storage, picture).given


def test_the_store_has_no_token(storage, sent, desk, config):
    link = ask(desk, sent[1], "consent")
    token = link.rpartition("/")[2]
    assert len(token) == 32  # 192 bits
    storage._db.execute("pragma wal_checkpoint(truncate)")
    for path in config.data_dir.rglob("*"):
        assert not path.is_file() or token.encode() not in path.read_bytes()
    row = storage.read("select token from questions")[0]
    assert row["token"] == hashlib.sha256(token.encode()).hexdigest()
    assert token not in desk.get(f"/pictures/{sent[1]}").text


def test_the_link_goes_into_the_reply(storage, sent, desk):
    submission, picture = sent
    page = desk.get(f"/pictures/{picture}/reply").text
    fields = {
        "token": re.search(r'name="token" value="([^"]+)"', page).group(1),
        "version": "0",
        "to": "ann@x.org",
        "subject": "Re: Moon",
        "body": "Dear Ann,\n\nthank you.\n\nThe Evening Sky",
    }
    assert (
        desk.post(f"/pictures/{picture}/reply", data={**fields, "action": "ask-name", "language": "bg"}).status_code
        == 303
    )
    body = replies.reply_of(storage, submission).body
    assert body.startswith("Dear Ann,\n\nthank you.\n\nКое име да посочим към снимката?")
    assert body.endswith("\n\nThe Evening Sky")
    assert f"{ADDRESS}/q/" in body
    answer = desk.post(f"/pictures/{picture}/reply", data={**fields, "action": "ask-name"})  # an older version
    assert answer.status_code == 409
    assert len(listed(storage, submission)) == 1
    assert (
        desk.post(f"/pictures/{picture}/reply", data={**fields, "version": "1", "action": "ask-age"}).status_code == 400
    )
    link = ask(desk, picture, "taken")
    (question, *_) = listed(storage, submission)
    data = {"token": fields["token"], "link": link.rpartition("/")[2]}
    assert desk.post(f"/questions/{question.id}/reply", data=data).status_code == 303
    assert link in replies.reply_of(storage, submission).body
    assert desk.post(f"/questions/{question.id}/reply", data={**data, "link": "x"}).status_code == 404


def test_without_an_address_the_desk_says_what_to_set(config, storage, sent):
    desk = application(replace(config, public=replace(config.public, address=""))).test_client()
    page = desk.get(f"/pictures/{sent[1]}").text
    assert "[public] address =" in page
    assert 'name="kind"' not in page
    token = re.search(r'name="token" value="([^"]+)"', page).group(1)
    answer = desk.post(f"/pictures/{sent[1]}/questions", data={"token": token, "kind": "consent"})
    assert answer.status_code == 400
    assert "[public] address" in answer.text
    assert not storage.read("select 1 from questions")


def test_the_page_speaks_the_senders_language(storage, sent, desk, audience, monkeypatch):
    _, picture = sent
    link = ask(desk, picture, "consent")
    assert '<html lang="en" dir="ltr"' in audience.get(link, headers={"Accept-Language": "xx"}).text
    for code in REPLY_LANGUAGES:
        page = audience.get(f"{link}?language={code}").text
        assert f'<html lang="{code}" dir="{direction(code)}"' in page
        assert ("May we show" in page) == (code == "en")
    page = audience.get(link, headers={"Accept-Language": "xx, bg-BG;q=0.8"}).text
    assert '<html lang="bg" dir="ltr"' in page
    assert "Да, може да я покажете" in page
    assert "Yes, you may show it" in audience.get(f"{link}?language=en", headers={"Accept-Language": "bg"}).text
    audience.post(link, data={"choice": "yes"}, query_string={"language": "bg"})
    consent = may(storage, picture).consent
    assert consent.evidence.endswith("\u2013 Да, може да я покажете")
    shown = desk.get(f"/pictures/{picture}").text
    assert "Да, може да я покажете" in shown
    assert "(Yes, you may show it)" in shown
    bulgarian = ask(desk, picture, "consent", language="bg")
    assert "Да, може да я покажете" in audience.get(bulgarian, headers={"Accept-Language": "en"}).text
    assert (direction("ar"), direction("bg")) == ("rtl", "ltr")
    monkeypatch.setattr(tongue, "direction", lambda _: "rtl")
    assert 'dir="rtl"' in audience.get(link).text


def test_guessing_is_slowed(audience, storage):
    codes = {audience.get(f"/q/{k}").status_code for k in range(70)}
    assert codes == {404, 429}
    assert audience.post("/q/1", data={"choice": "yes"}).status_code == 429


def test_an_answer_without_a_choice_is_none(storage, sent, desk, audience):
    submission, picture = sent
    link = ask(desk, picture, "consent")
    for data in ({}, {"choice": "maybe"}, {"choice": "unnamed"}, {"choice": "other"}):
        assert audience.post(link, data=data).status_code == 422
    assert not listed(storage, submission)[0].answers


def test_too_many_changes_end_in_a_no(storage, sent, desk, audience, monkeypatch):
    monkeypatch.setattr("moondesk.service.web.public.questions.MOST_ANSWERS", 3)
    link = ask(desk, sent[1], "consent")
    for choice in ("yes", "no", "yes"):
        audience.post(link, data={"choice": choice})
    assert audience.post(link, data={"choice": "child"}).status_code == 429
    assert audience.post(link, data={"choice": "no"}).status_code == 303
    assert not may(storage, sent[1]).given


def test_words():
    assert first_name("Ilse Kaltenbach") == "Ilse"
    assert first_name("  ") == ""
    for kind in ("consent", "guardian", "name", "taken"):
        line = in_english(question_line(kind, "https://x.org/q/abc"))
        assert line.endswith(" https://x.org/q/abc")
        assert with_question("One.\n\nTwo.\n\nThe end", line) == f"One.\n\nTwo.\n\n{line}\n\nThe end"
        assert len({c.name for c in choices_of(kind, 1)}) == len(choices_of(kind, 2))
    assert with_question("One.", "line") == "One.\n\nline"
    assert with_question("", "line") == "line"
