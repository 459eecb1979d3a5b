"""What a letter takes back at the desk: it goes from everywhere, its sender is told, and nothing brings it back."""

from __future__ import annotations

import json
import re
from datetime import timedelta

import pytest
from letters_desk import NOW, application, mail, pick, picture_of, taken, with_terms
from test_forget import traces

from moondesk.service.exports import open_data
from moondesk.service.jobs.housekeeping import run_housekeeping_once
from moondesk.service.languages import REPLY_LANGUAGES
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.permission import permission_of
from moondesk.service.replies.letter_draft import letter_draft
from moondesk.service.store import audit, letters, questions, replies, withdrawals
from moondesk.service.store.air import AirState, keep_state
from moondesk.service.store.backup import backup
from moondesk.service.store.editions import list_editions
from moondesk.service.store.erasures import erase
from moondesk.service.store.media import MADE, MEMBERS
from moondesk.service.store.pictures import list_by_id, list_pictures, read_picture
from moondesk.service.store.restoring import restore
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import submission
from moondesk.service.studio import Studio
from moondesk.service.studio.plan import make_plan

HELLO = "Good evening, here is the Moon from my garden."
PLEASE = "Please delete my picture, I have changed my mind."


@pytest.fixture
def desk(config, storage):
    """Two pictures of Ann's and one of Bo's in the rundown, and a letter of Ann's; the client and ids by name."""
    config = with_terms(config)
    first, second, bo = taken(
        storage,
        config,
        mail("ann@x.org", HELLO, "Moon", 90),
        mail("ann@x.org", f"{HELLO} Another.", "Moon again", 140),
        mail("bo@x.org", HELLO, "Moon", 200),
    )
    for number in (first, second, bo):
        pick(storage, picture_of(storage, number))
    (letter,) = taken(storage, config, mail("ann@x.org", PLEASE, "My pictures"))
    client = application(config).test_client()
    client.config = config
    return client, {"first": first, "second": second, "bo": bo, "letter": letter}


def token(client, path):
    return re.search(r'name="token" value="([^"]+)"', client.get(path).text).group(1)


def send(client, path, **fields):
    page = path.rpartition("/")[0] if path.endswith("/erase") else path
    return client.post(path, data={"token": token(client, page), **fields})


def mark_aired(storage, picture):
    item = storage.read("select id, edition_id from rundown_items where picture_id = ?", [picture])[0]
    with storage.writing() as execute:
        execute("update rundown_items set aired_utc = ? where id = ?", [NOW.isoformat(), item["id"]])
        execute("update pictures set aired_utc = ? where id = ?", [NOW.isoformat(), picture])
        execute(
            "insert into aired (edition_id, item_id, picture_id, aired_utc, credit, frame) values (?, ?, ?, ?, 'Ann', '')",
            [item["edition_id"], item["id"], picture, NOW.isoformat()],
        )
    return item


def test_erase_reaches_everything_and_a_backup_does_not_bring_it_back(desk, config, storage, media, tmp_path):
    client, ids = desk
    letter, config = ids["letter"], client.config
    pictures = [picture_of(storage, ids[name]) for name in ("first", "second")]
    shas = [read_picture(storage, p).enclosure.sha256 for p in pictures]
    item = mark_aired(storage, pictures[0])
    keep_state(storage, item["edition_id"], AirState(5, {"item": item["id"]}), 5)
    replies.keep(storage, ids["first"], "ann@x.org", "Re: Moon", "Dear Ann", pictures[0], 0, "Ada", NOW)
    _, link = questions.ask(storage, ids["second"], pictures[1], "consent", "", "Ada", NOW, 21)
    made = media.root / "derived" / MADE / "night-0123456789abcdef"
    made.mkdir(parents=True)
    (made / MEMBERS).write_text(
        json.dumps([*shas, read_picture(storage, picture_of(storage, ids["bo"])).enclosure.sha256])
    )
    backup(config.data_dir, tmp_path / "old", NOW)
    assert all(media.has(sha) and (media.root / "derived" / sha[:2] / sha).exists() for sha in shas)

    page = client.get(f"/letters/{letter}").text
    assert page.count('name="submission"') == 2 == page.count("checked")
    asked = client.get(
        f"/letters/{letter}/erase?submission={ids['first']}&submission={ids['second']}&submission={ids['bo']}"
    )
    for words in (
        "2 submissions with 2 pictures",
        "rundown of edition 12",
        "1 picture that was on air",
        "1 reply",
        "1 question",
        "composite",
        "old",
    ):
        assert words in asked.text, words
    assert len(list_pictures(storage, 1)) == 3, "asking erases nothing"
    answer = send(client, f"/letters/{letter}/erase", submission=[ids["first"], ids["second"], ids["bo"]])
    assert answer.status_code == 303

    assert [p.picture.submission.id for p in list_pictures(storage, 1)] == [ids["bo"]], "Bo's was not hers to erase"
    rundown = client.get("/rundown/12").text
    assert "2 pictures were withdrawn by their senders and are gone." in rundown
    assert "ann" not in rundown.replace("channel", "").lower()
    studio = Studio(storage, config)
    assert all(i.sender == "Bo" for i in make_plan(studio, list_editions(storage)[0], "hd").items)
    assert client.get(f"/air/12/items/{item['id']}/photo.png").status_code == 404
    for path in ("/archive", "/history", f"/pictures/{pictures[0]}"):
        assert "Ann" not in client.get(path).text, path
    assert storage.read("select credit, frame, picture_id from aired") == [
        {"credit": "", "frame": "", "picture_id": None}
    ]
    assert open_data.rows_of_edition(studio, None).ids == (picture_of(storage, ids["bo"]),)
    assert not made.exists()
    assert not any(media.has(sha) or (media.root / "derived" / sha[:2] / sha).exists() for sha in shas)
    assert questions.question_of_token(storage, link, NOW) is None
    assert replies.reply_of(storage, ids["first"]) is None
    for table in ("annotations", "decisions", "consents", "suggestions", "questions", "sketches", "shown"):
        column = "picture_id" if table in ("annotations", "decisions", "sketches", "shown") else "submission_id"
        gone = pictures if column == "picture_id" else [ids["first"], ids["second"]]
        assert not storage.read(f"select 1 from {table} where {column} in (?, ?)", gone), table

    report = restore(tmp_path / "old", tmp_path / "back", now=NOW + timedelta(days=1))
    assert report.erased == 2
    with Storage(tmp_path / "back", read_only=True) as back:
        assert [p.picture.submission.id for p in list_pictures(back, 1)] == [ids["bo"]]


def test_the_sender_is_told_and_then_the_letter_goes_too(desk, storage, media, tmp_path):
    client, ids = desk
    letter = ids["letter"]
    send(client, f"/letters/{letter}/erase", submission=[ids["first"], ids["second"]])
    found = letters.letter(storage, letter)
    assert (found.outcome, found.read_utc, found.holds) == ("erased", NOW, False)
    page = client.get(f"/letters/{letter}").text
    assert "Erased by desk" in page
    assert f"/letters/{letter}/reply" in page
    assert "Does it take" not in page
    draft = client.get(f"/letters/{letter}/reply").text
    assert "As you wished, your pictures are erased here" in draft
    assert "ann@x.org" in draft
    fields = {"to": "ann@x.org", "subject": "Re: My pictures", "body": "Dear Ann, they are erased.", "version": "1"}
    assert send(client, f"/letters/{letter}/reply", **fields, action="approve").status_code == 303
    assert f"/letters/{letter}/reply" in client.get("/replies").text
    assert client.get(f"/letters/{letter}/reply.eml").mimetype == "message/rfc822"
    run_housekeeping_once(storage.data_dir, print, lambda: NOW + timedelta(days=1))
    assert letters.letter(storage, letter)
    data = {"token": token(client, f"/letters/{letter}/reply"), "version": "3"}
    assert client.post(f"/letters/{letter}/reply/arrived", data=data).status_code == 303
    assert replies.reply_of(storage, letter).state == "sent"
    backup(storage.data_dir, tmp_path / "old", NOW)
    run_housekeeping_once(storage.data_dir, print, lambda: NOW + timedelta(days=1))
    assert not letters.unread(storage, 9)
    assert not letters.read_letters(storage, 9)
    assert replies.reply_of(storage, letter) is None
    assert traces(storage.data_dir, "ann@x.org", "changed my mind") == []
    assert restore(tmp_path / "old", tmp_path / "back", now=NOW + timedelta(days=2)).erased == 1


def test_without_an_answer_the_letter_goes_after_its_days(desk, storage, media):
    client, ids = desk
    send(client, f"/letters/{ids['letter']}/erase", submission=[ids["first"]])
    assert [p.picture.submission.id for p in list_pictures(storage, 1)] != []
    assert withdrawals.erase_answered(storage, media, NOW + timedelta(days=13)) == 0
    assert withdrawals.erase_answered(storage, media, NOW + timedelta(days=14)) == 1
    assert not storage.read("select 1 from letters")
    codes = [line.message.code for line in audit.lines(storage, 3)]
    assert codes == ["sender_forgotten", "letter_erased", "sender_forgotten"]


def test_only_what_is_ticked_goes_and_the_rest_is_released(desk, storage):
    client, ids = desk
    send(client, f"/letters/{ids['letter']}/erase", submission=[ids["second"]])
    left = picture_of(storage, ids["first"])
    assert not permission_of(list_by_id(storage, [left])[0], client.config.entry_terms).held_by
    assert not storage.read("select 1 from submissions where id = ?", [ids["second"]])


def test_not_meant_so_releases_and_is_noted(desk, storage):
    client, ids = desk
    picture = picture_of(storage, ids["first"])

    def held():
        return permission_of(list_by_id(storage, [picture])[0], client.config.entry_terms).held_by

    assert held() == (ids["letter"],)
    assert "Not meant so" in client.get(f"/letters/{ids['letter']}").text
    send(client, f"/letters/{ids['letter']}", action="not_meant")
    assert held() == ()
    assert "Not meant so, noted by desk, 26 March 2026" in client.get(f"/letters/{ids['letter']}").text
    assert audit.lines(storage, 1)[0].message.code == "letter_not_meant"
    send(client, f"/letters/{ids['letter']}", action="again")
    assert held() == (ids["letter"],)


def test_the_letters_own_pictures_are_shown_no_more(config, storage, media):
    config = with_terms(config)
    (first,) = taken(storage, config, mail("ann@x.org", HELLO, "Moon", 90))
    (second,) = taken(storage, config, mail("ann@x.org", f"{PLEASE} Here is a better one.", "Moon", 140))
    if not storage.read("select 1 from letters"):
        with storage.writing() as execute:
            execute("insert into letters (submission_id, kind) values (?, 'letter')", [second])
            execute("insert into letter_holds values ('a:ann@x.org', ?)", [second])
    client = application(config).test_client()
    assert withdrawals.taken_back(storage, second) == (first,)
    send(client, f"/letters/{second}/erase", submission=[first, second])
    (listed,) = list_pictures(storage, 1)
    assert listed.picture.submission.id == second
    assert permission_of(listed, config.entry_terms).reasons == ("refused",)
    withdrawals.erase_answered(storage, media, NOW + timedelta(days=14))
    assert not list_pictures(storage, 1)


def test_an_erased_letter_takes_no_more_steps(desk, storage):
    client, ids = desk
    page = token(client, f"/letters/{ids['letter']}")
    send(client, f"/letters/{ids['letter']}/erase", submission=[ids["first"]])
    client.post(f"/letters/{ids['letter']}", data={"token": page, "action": "again"})
    assert letters.letter(storage, ids["letter"]).outcome == "erased"
    assert client.post("/letters/999/erase", data={"token": page}).status_code == 404
    assert client.get(f"/letters/{ids['bo']}/erase").status_code == 404


@pytest.mark.parametrize("code", REPLY_LANGUAGES)
def test_the_answer_can_be_written_in_each_language(storage, desk, code):
    _, ids = desk
    arrival = submission(storage, ids["letter"]).submission.arrival
    draft = letter_draft("The Evening Sky", arrival, "erased", Language(code))
    assert (draft.language, draft.untranslated) == (code, ())


def test_a_crash_after_the_rows_went_is_made_good(desk, storage, media):
    client, ids = desk
    sha = read_picture(storage, picture_of(storage, ids["first"])).enclosure.sha256
    erase(storage, [ids["first"]], NOW)  # and then nothing more
    assert media.has(sha)
    assert letters.letter(storage, ids["letter"]).holds
    answer = send(client, f"/letters/{ids['letter']}/erase", submission=[ids["first"]])
    assert answer.status_code == 303
    assert not media.has(sha)
    assert letters.letter(storage, ids["letter"]).outcome == "erased"
