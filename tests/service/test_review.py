"""Drafts reviewed in a list: nothing is approved that the page did not show."""

from __future__ import annotations

import re

import pytest
from desk_people import log_in, make_account, post
from letters_desk import NOW, application, mail, picture_of, taken, with_terms

from moondesk.service.store import letters, replies
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.submissions import add_consent

REVIEW = "/replies/review?edition=12"


@pytest.fixture
def desk(config, storage):
    """Two mails with pictures, one with a letter that nobody has read, and one from a machine."""
    config = with_terms(config)
    of = taken(
        storage,
        config,
        mail("ann@x.org", "Here is the Moon. You may show it.", "Moon", 90),
        mail("bo@x.org", "Here is my Moon. You may show it.", "Moon", 120),
        mail("cy@x.org", "Here is the Moon.", "Moon", 150),
        mail("cy@x.org", "Noch ein Gruß vom Balkon."),
        mail("mo@x.org", "Away.", Auto_Submitted="auto-replied"),
    )
    client = application(config).test_client()
    log_in(client, config.data_dir, make_account(config.data_dir), NOW)
    return client, of


def marks(page: str) -> dict[int, str]:
    return {
        int(k): mark for k, mark in re.findall(r'type="checkbox" form="every" name="seen" value="(\d+):(\w+)"', page)
    }


def test_what_can_be_answered_waits_in_its_order(desk):
    client, (ann, bo, cy, letter, _) = desk
    page = client.get(REVIEW).text
    assert list(marks(page)) == [ann, bo]
    assert f"/pictures/{ann}/upright" in page or "/upright?" in page
    assert "the crater Copernicus" in page
    assert str(cy) not in marks(page)
    assert letter not in marks(page)


def test_a_letter_waits_once_it_was_read(desk, storage):
    client, (_, _, _, letter, _) = desk
    letters.set_read(storage, letter, True, "Ada", NOW)
    page = client.get(REVIEW).text
    assert letter in marks(page)
    item = page.partition(f'id="reply-{letter}"')[2].partition("</article>")[0]
    assert "No picture goes with it." in item
    assert "JPEG" not in item


def test_all_that_were_seen_are_approved_as_they_were_seen(desk, storage):
    client, (ann, bo, *_) = desk
    told = marks(client.get(REVIEW).text)
    sent = post(client, "/replies/review", REVIEW, edition="12", seen=[f"{k}:{mark}" for k, mark in told.items()])
    assert sent.status_code == 303
    assert "2 replies are approved." in client.get(sent.headers["Location"]).text
    for k in (ann, bo):
        found = replies.reply_of(storage, k)
        assert found.state == "approved"
        assert "Copernicus" in found.body
        assert found.picture_id == picture_of(storage, k)
    assert marks(client.get(REVIEW).text) == {}


def test_one_is_approved_alone_whatever_is_ticked(desk, storage):
    client, (ann, bo, *_) = desk
    told = marks(client.get(REVIEW).text)
    every = [f"{k}:{mark}" for k, mark in told.items()]
    sent = post(client, "/replies/review", REVIEW, edition="12", only=every[1], seen=every)
    assert sent.headers["Location"].endswith(f"#after-{bo}")
    assert replies.reply_of(storage, ann) is None
    assert replies.reply_of(storage, bo).state == "approved"


def test_what_is_another_draft_by_now_is_not_approved(desk, storage):
    """Somebody has noted a refusal, or has saved other words, since the page was made; or nobody was shown it at all."""
    client, (ann, bo, cy, *_) = desk
    told = marks(client.get(REVIEW).text)
    add_consent(storage, ann, ConsentRecord(state="refused", kind="phone", noted_by="Ada"), NOW)
    replies.keep(storage, bo, "bo@x.org", "Moon", "Other words.", None, 0, "Ada", NOW)
    every = [*(f"{k}:{mark}" for k, mark in told.items()), f"{cy}:0123456789abcdef", "x:y"]
    sent = post(client, "/replies/review", REVIEW, edition="12", seen=every)
    assert sent.status_code == 409
    assert "4 drafts are others by now" in sent.text
    assert "will not be shown" in sent.text  # the draft of who refused
    assert {r.state for r in replies.replies(storage)} == {"draft"}


def test_words_are_changed_in_the_list(desk, storage):
    client, (ann, *_) = desk
    address = f"/replies/review/{ann}"
    typed = {"edition": "12", "version": "0", "subject": "Re: Moon", "body": "Thank you, Ann."}
    assert post(client, address, REVIEW, **typed, action="save").headers["Location"].endswith(f"#reply-{ann}")
    assert "Thank you, Ann." in client.get(REVIEW).text
    assert post(client, address, REVIEW, **typed, action="approve").status_code == 409  # another version by now
    assert post(client, address, REVIEW, **{**typed, "version": "1", "body": " "}, action="approve").status_code == 400
    sent = post(client, address, REVIEW, **{**typed, "version": "1"}, action="approve")
    assert sent.headers["Location"].endswith(f"#after-{ann}")
    assert replies.reply_of(storage, ann).state == "approved"


def test_a_draft_is_drafted_anew_in_another_language_as_long_as_nobody_has_changed_it(desk, storage):
    client, (ann, *_) = desk
    page = f"/pictures/{picture_of(storage, ann)}/reply"
    assert "Dear Ann," in client.get(page).text
    german = client.get(f"{page}?language=de&voice=child").text
    assert "Hallo Ann!" in german
    assert 'lang="de"' in german
    body = re.search(r"<textarea[^>]*>(.*?)</textarea>", german, re.S).group(1)
    typed = {"subject": "Re: Moon", "to": "ann@x.org", "attach": "yes"}
    assert post(client, page, page, **typed, body=body.strip(), version="0", action="save").status_code == 303
    assert "Hallo Ann!" in client.get(page).text
    assert "¡Hola, Ann!" in client.get(f"{page}?language=es&voice=child").text
    assert post(client, page, page, **typed, body="My own words.", version="1", action="save").status_code == 303
    kept = client.get(f"{page}?language=es").text
    assert "My own words." in kept
    assert "Draft it anew" not in kept


def test_a_letter_is_answered_as_somebody_says_what_it_is(desk, storage):
    client, (ann, _, _, letter, _) = desk
    page = client.get(f"/letters/{letter}/reply").text
    assert "Danke für den Brief" in page  # as it was written
    assert "wird nicht gezeigt" in client.get(f"/letters/{letter}/reply?what=refused").text
    assert client.get(f"/letters/{ann}/reply").status_code in (303, 404)
    typed = {"subject": "s", "body": "b", "to": "cy@x.org", "version": "0"}
    sent = post(client, f"/letters/{letter}/reply", f"/letters/{letter}/reply", **typed, action="approve")
    assert sent.headers["Location"].endswith(f"/letters/{letter}/reply")
    found = replies.reply_of(storage, letter)
    assert (found.state, found.picture_id) == ("approved", None)
    assert client.get(f"/letters/{letter}/reply.eml").status_code == 200
    assert f'href="/letters/{letter}/reply"' in client.get("/replies").text


def test_a_language_without_sentences_is_said(desk, storage, monkeypatch):
    client, (ann, *_) = desk
    monkeypatch.setattr("moondesk.service.web.desk.inbox.reply.senders_language", lambda _: "xx")
    shown = client.get(f"/pictures/{picture_of(storage, ann)}/reply").text
    assert "another language (xx), for which there are no sentences: this is in English" in shown


def test_a_reply_is_in_the_language_that_was_read_of_the_letter(desk, config, storage):
    client, _ = desk
    (of,) = taken(storage, config, mail("eva@x.org", "Guten Abend, hier ist der Mond von heute.", "Mond", 200))
    storage.execute(
        "insert into suggestions (submission_id, field, value, words, source) values (?, 'language', 'de-AT', '', 'mail')",
        [of],
    )
    shown = client.get(REVIEW).text.partition(f'id="reply-{of}"')[2].partition("</article>")[0]
    assert "Guten Tag, Eva!" in shown
    assert 'lang="de"' in shown
