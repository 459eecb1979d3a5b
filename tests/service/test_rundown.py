"""The rundown's page and its forms: what counts, what cannot go on air and how it gets there, two people at once."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import fakes
import pytest
from fakes import add_edition

from moondesk.service.intake.intake import Intake
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.programme.rundown import length_words, seconds_of, time_of
from moondesk.service.store import rundowns
from moondesk.service.store.annotations import add_annotation, read_annotation
from moondesk.service.store.forget import forget
from moondesk.service.store.pictures import list_pictures, read_picture
from moondesk.service.store.records import EditionPlan
from moondesk.service.store.submissions import submission
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
MAIL = """From: Cy Tann <cy@example.org>
Subject: Moon
Message-ID: <m1@example.org>
MIME-Version: 1.0
Content-Type: multipart/mixed; boundary=x

--x
Content-Type: text/plain

{words}
--x
Content-Type: image/png
Content-Disposition: attachment; filename=moon.png
Content-Transfer-Encoding: base64

{data}
--x--
"""
TABLE = """file,name,credit,place,consent
ilse.png,Ilse Quendel,Ilse from Vienna,Vienna,yes by form
bo.png,Bo Ring,,Graz,
nobody.png,,,,yes by phone
"""


def mail(words: str, shade: int) -> bytes:
    import base64

    data = base64.encodebytes(fakes.png(shade=shade)).decode()
    return MAIL.format(words=words, data=data).replace("\n", "\r\n").encode()


@pytest.fixture
def edition(storage):
    return add_edition(storage, EditionPlan(number=12))


@pytest.fixture
def ids(tmp_path, storage, media, config, edition):
    """Picture ids by who sent them: with consent, without, without a name, a child's, one who refuses."""
    folder = tmp_path / "in"
    folder.mkdir()
    for name, data in (("ilse", fakes.png(shade=90)), ("bo", fakes.png(fakes.UNSURE)), ("nobody", fakes.png(shade=60))):
        (folder / f"{name}.png").write_bytes(data)
    (folder / "submissions.csv").write_text(TABLE)
    (folder / "child.eml").write_bytes(
        mail("My daughter, aged 9, took this. You may show it. Please do not mention my name.", 33)
    )
    (folder / "not.eml").write_bytes(
        mail("You must not show this one on air.", 34)
        .replace(b"Cy Tann", b"Gus")
        .replace(b"m1@", b"m2@")
        .replace(b"cy@", b"gus@")
    )
    (folder / "page.jpg").write_bytes(b"<html><body>not a picture</body></html>")
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    found = {}
    for listed in list_pictures(storage, edition.id):
        arrival = listed.picture.submission.arrival
        name = {"Cy Tann": "child", "Gus": "refuses", "Ilse Quendel": "ilse", "Bo Ring": "bo"}.get(arrival.sender_name)
        found[name or ("page" if listed.picture.enclosure.refused else "nobody")] = listed.picture.id
    assert len(found) == 6
    return found


class Desk:
    """A client that fills the page's own forms."""

    def __init__(self, config, now=NOW):
        self.client = create_app(config, lambda: now).test_client()

    def page(self, number=12):
        answer = self.client.get(f"/rundown/{number}")
        assert answer.status_code == 200
        return answer.get_data(as_text=True)

    def version(self):
        return re.search(r'name="version" value="(\d+)"', self.page())[1]

    def token(self):
        return re.search(r'name="token" value="([^"]+)"', self.page())[1]

    def post(self, path, follow=True, headers=None, **form):
        form = {"token": self.token(), "version": self.version(), **form}
        return self.client.post(f"/rundown/12{path}", data=form, follow_redirects=follow, headers=headers)

    def pick(self, picture_id):
        answer = self.post("/add", headers={"Accept": "application/json"}, picture_id=picture_id)
        assert answer.status_code in (200, 201), answer.get_data(as_text=True)
        return answer.json

    def edit(self, item, **form):
        form = {"length": "1:00", "credit": "", "default": "", "pronunciation": "", "note": "", **form}
        return self.post(f"/items/{item}/edit", **form)


@pytest.fixture
def desk(config, ids):
    return Desk(config)


def entry(page, item):
    """What the page shows of one item."""
    return page.split(f'id="item-{item}"')[1].split('<li class="entry')[0].split("</ol>")[0]


@pytest.mark.parametrize(
    ("text", "seconds"), [("1:30", 90), ("1.5", 90), ("1,5", 90), ("2", 120), (" 0:05 ", 5), ("60:00", 3600)]
)
def test_lengths_as_they_are_typed(text, seconds):
    assert seconds_of(text) == seconds
    assert seconds_of(length_words(seconds)) == seconds


@pytest.mark.parametrize("text", ["", "0", "0:00", "60:01", "1:60", "-1", "1:3", "one", "\u0661", "1e3", "9" * 30])
def test_what_is_no_length_is_told(text):
    with pytest.raises(ValueError, match=r"1:30|between 0:01 and 60:00"):
        seconds_of(text)
    if not text:
        assert time_of(text) is None


def test_an_empty_rundown_says_what_to_do_and_the_next_edition_is_found(desk):
    page = desk.page()
    assert "Nothing is picked yet" in page
    answer = desk.client.get("/rundown")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/rundown/12")
    assert desk.client.get("/rundown/77").status_code == 404


def test_a_pick_answers_a_script_and_a_form(desk, ids):
    told = desk.pick(ids["ilse"])
    assert told["notice"] == "Ilse Quendel stands at place 1. Credit: Ilse from Vienna."
    assert (told["place"], told["how"], told["stops"], told["address"]) == (1, "added", [], "/rundown/12#item-1")
    again = desk.pick(ids["ilse"])
    assert again["notice"].startswith("Ilse Quendel stood already at place 1.")
    without = desk.pick(ids["bo"])
    assert without["notice"] == (
        "Bo Ring stands at place 2. Credit: Bo Ring. Cannot go on air: nobody has said that it may be shown."
    )
    page = desk.post("/add", picture_id=ids["nobody"]).get_data(as_text=True)
    assert "Sender not named stands in the rundown." in page
    refused = desk.post("/add", headers={"Accept": "application/json"}, picture_id=ids["page"])
    assert refused.status_code == 400
    assert "cannot be picked: The file is a web page" in refused.json["notice"]
    assert desk.post("/add", picture_id=ids["page"]).status_code == 400
    for wrong in ("", "x", "9" * 40, "-1"):
        assert desk.post("/add", picture_id=wrong).status_code == 400
    assert desk.post("/add", picture_id=999).status_code == 404


def test_only_what_can_go_on_air_is_counted(desk, ids):
    for name in ("bo", "ilse", "nobody"):
        desk.pick(ids[name])
    desk.edit(2, length="1:30", credit="Ilse from Vienna", default="Ilse from Vienna")
    page = desk.post("/time", time="2:00").get_data(as_text=True)
    assert "<b>2:30</b> of 2:00 minutes, 2 pictures ready" in page
    assert "0:30 too long" in page
    assert "1 more (1:00) cannot go on air yet and is not counted" in page
    starts = re.findall(r'class="starts">(?:<span class="hidden">begins at </span>)?([^<]+)<', page)
    assert starts == ["not counted", "0:00", "1:30"]
    assert "of 2:00" not in desk.post("/time", time="").get_data(as_text=True)
    answer = desk.post("/time", time="soon")
    assert answer.status_code == 422
    assert 'value="soon"' in answer.get_data(as_text=True)


def test_without_consent_it_cannot_go_on_air_and_says_how_to_get_it(desk, ids, storage):
    item = desk.pick(ids["bo"])["item"]
    shown = entry(desk.page(), item)
    assert "Cannot go on air: nobody has said that it may be shown." in shown
    assert "No address is known" in shown
    assert "May we show it in The Evening Sky?" in shown
    answer = desk.post("/aired", item=item)
    assert answer.status_code == 409
    assert "Bo Ring was not noted as on air, nor anything else. Cannot go on air" in answer.get_data(as_text=True)

    shown = entry(desk.post(f"/items/{item}/consent", way="phone", answer="asked").get_data(as_text=True), item)
    assert "the sender was asked and has not answered yet" in shown
    assert "Noted by desk, 26 March 2026, 19:00 (18:00 UTC)" in shown
    answer = desk.post(f"/items/{item}/consent", way="phone", answer="given", words="")
    assert answer.status_code == 422
    answer = desk.post(f"/items/{item}/consent", way="phone", answer="given", words="I must think about it, not yet")
    assert answer.status_code == 422
    assert "no clear yes" in entry(answer.get_data(as_text=True), item)
    assert "I must think about it, not yet</textarea>" in answer.get_data(as_text=True)
    shown = entry(
        desk.post(f"/items/{item}/consent", way="phone", answer="given", words="Yes, gladly").get_data(as_text=True),
        item,
    )
    assert "Cannot go on air" not in shown
    assert "Consent by phone: “Yes, gladly”. Noted by desk" in shown
    records = submission(storage, read_picture(storage, ids["bo"]).submission.id).consents
    assert [(r.state, r.kind, r.noted_by, r.noted_utc, r.picture_id) for r in records] == [
        ("asked", "phone", "desk", NOW, ids["bo"]),
        ("given", "phone", "desk", NOW, ids["bo"]),
    ]
    answer = desk.post(f"/items/{item}/consent", way="mail", answer="refused", words="No")
    shown = entry(answer.get_data(as_text=True), item)
    assert "the sender does not want it shown" in shown
    for way, said in (("smoke", "given"), ("phone", "maybe"), ("", "")):
        assert desk.post(f"/items/{item}/consent", way=way, answer=said, words="Yes").status_code == 422


def test_a_child_needs_a_guardian_and_who_asks_not_to_be_named_is_not(desk, ids, storage):
    told = desk.pick(ids["child"])
    item = told["item"]
    assert "No name is shown." in told["notice"]
    shown = entry(desk.page(), item)
    assert "the mail seems to allow it, but nobody has read and confirmed that" in shown
    assert "<b>cy@example.org</b>" in shown
    assert 'href="mailto:cy@example.org?subject=Re%3A%20Moon&amp;body=Dear%20Cy%20Tann' in shown
    assert ">You may show it.</textarea>" in shown  # the mail's own words, to be confirmed
    form = {"way": "mail", "answer": "given", "words": "You may show it.", "message_id": "<m1@example.org>"}
    shown = entry(desk.post(f"/items/{item}/consent", **form).get_data(as_text=True), item)
    assert "a child seems to have taken it, and no guardian has agreed" in shown
    shown = entry(desk.post(f"/items/{item}/consent", guardian="yes", whole="yes", **form).get_data(as_text=True), item)
    assert "Cannot go on air" not in shown
    assert "by a guardian" in shown
    last = submission(storage, read_picture(storage, ids["child"]).submission.id).consents[-1]
    assert (last.message_id, last.guardian, last.picture_id) == ("<m1@example.org>", True, None)

    assert "the sender asks not to be named: “Please do not mention my name.”" in shown
    assert "No name is shown" in shown
    answer = desk.edit(item, credit="Photo: Cy T.")
    assert answer.status_code == 422
    assert "asks not to be named, and this line names them" in answer.get_data(as_text=True)
    assert "Photo: Cy T." in answer.get_data(as_text=True)
    shown = entry(desk.edit(item, credit="a viewer from Tannheim").get_data(as_text=True), item)
    assert '<span class="credit">a viewer from Tannheim</span>' in shown


def test_who_refuses_is_not_shown(desk, ids):
    told = desk.pick(ids["refuses"])
    assert told["stops"] == ["Cannot go on air: the sender does not want it shown."]


def test_the_credit_stands_exactly_as_it_will_be_shown(desk, ids, storage, edition):
    ilse, nobody = desk.pick(ids["ilse"])["item"], desk.pick(ids["nobody"])["item"]
    page = desk.page()
    assert '<span class="credit">Ilse from Vienna</span>' in entry(page, ilse)
    assert "Missing: ask the sender how to be named" in entry(page, nobody)
    own = {"default": "Ilse from Vienna"}
    desk.edit(ilse, credit="Ilse from Vienna", **own)
    assert rundowns.rundown(storage, edition.id).item(ilse).credit_line is None  # it follows the sender's
    page = desk.edit(ilse, credit="Ilse <Q> & “co”  ", **own).get_data(as_text=True)
    assert '<span class="credit">Ilse &lt;Q&gt; &amp; “co”</span>' in entry(page, ilse)
    page = desk.edit(ilse, credit="Ilse", unnamed="yes", **own).get_data(as_text=True)
    assert "No name is shown" in entry(page, ilse)
    desk.edit(ilse, credit="", **own)
    assert rundowns.rundown(storage, edition.id).item(ilse).credit_line is None
    answer = desk.edit(ilse, credit="x" * 121, length="soon", **own)
    assert answer.status_code == 422
    shown = entry(answer.get_data(as_text=True), ilse)
    assert "Please keep it to 120 characters; it has 121." in shown
    assert "“soon” is no length." in shown
    assert "x" * 121 in shown


def test_what_is_unsure_and_what_came_twice_is_said(desk, ids):
    item = desk.pick(ids["bo"])["item"]
    assert "Not sure: Two turns fit nearly as well." in entry(desk.page(), item)


def test_two_people_at_once(config, ids, storage, edition):
    ada, bea = Desk(config), Desk(config)
    first, second = ada.pick(ids["ilse"])["item"], ada.pick(ids["nobody"])["item"]
    seen = bea.version()
    ada.edit(first, length="2:00", default="x", note="from Ada")
    answer = bea.edit(first, length="3:00", default="x", note="", pronunciation="IL-zuh", version=seen)
    assert answer.status_code == 409
    page = answer.get_data(as_text=True)
    assert "desk has changed the same meanwhile; nothing was changed." in page
    shown = entry(page, first)
    assert "desk put 2:00 here; you wanted 3:00." in shown
    assert 'value="3:00"' in shown
    assert 'value="IL-zuh"' in shown
    assert "from Ada</textarea>" in shown  # untouched by Bea: saving again keeps it
    assert rundowns.rundown(storage, edition.id).item(first).seconds == 120
    # Saving what the page now holds puts Bea's in its place and nothing else.
    assert bea.edit(first, length="3:00", default="x", note="from Ada", pronunciation="IL-zuh").status_code == 200
    item = rundowns.rundown(storage, edition.id).item(first)
    assert (item.seconds, item.note, item.pronunciation) == (180, "from Ada", "IL-zuh")

    # What does not touch the same goes together, whatever version it was made from.
    assert ada.post(f"/items/{second}/move", after=0, version=seen).status_code == 200
    late = bea.post("/add", picture_id=ids["bo"], version=seen)
    assert late.status_code == 200
    assert [i.id for i in rundowns.rundown(storage, edition.id).items] == [second, first, 3]
    answer = bea.post(f"/items/{second}/move", after=3, version=seen)
    assert answer.status_code == 409
    assert "has moved the same picture to place 1 meanwhile; you wanted place 3." in answer.get_data(as_text=True)
    ada.post(f"/items/{first}/out")
    answer = bea.edit(first, note="typed at length", version=seen)
    assert answer.status_code == 409
    assert "has taken this picture out meanwhile" in answer.get_data(as_text=True)


def test_taken_out_put_back_and_the_order(desk, ids, storage, edition):
    items = [desk.pick(ids[name])["item"] for name in ("ilse", "bo", "nobody")]
    page = desk.post(f"/items/{items[1]}/out").get_data(as_text=True)
    assert "Bo Ring was taken out. It can be put back below." in page
    assert f'action="/rundown/12/items/{items[1]}/back"' in page
    up = re.search(r'name="after" value="(\d+)"', entry(page, items[2]).split('data-way="up"')[1])[1]
    desk.post(f"/items/{items[2]}/move", after=up)
    page = desk.post(f"/items/{items[1]}/back").get_data(as_text=True)
    assert "Bo Ring is back in its place." in page
    assert re.findall(r'id="item-(\d+)"', page) == [str(items[k]) for k in (2, 0, 1)]
    assert "desk moved Sender not named, 26 March 2026, 19:00 (18:00 UTC)" in page
    for path in ("/items/77/out", "/items/77/edit", "/items/77/consent", "/items/77/move", "/items/77/back"):
        assert desk.post(path, after=0, length="1:00").status_code == 404, path
    assert desk.post(f"/items/{items[0]}/out", version="x").status_code == 400


def test_on_air_is_noted_for_one_for_all_and_taken_back(desk, ids, storage, edition):
    items = [desk.pick(ids[name])["item"] for name in ("ilse", "bo", "nobody")]
    page = desk.page()
    assert "Note that all 2 were on air" in page
    page = desk.post("/aired", item=[items[0], items[2]]).get_data(as_text=True)
    assert page.count("Was on air, 26 March 2026") == 2
    page = desk.post("/aired", item=items[0], **{"not": "1"}).get_data(as_text=True)
    assert page.count("Was on air, 26 March 2026") == 1
    assert desk.post("/aired", item=[items[0], items[1]]).status_code == 409  # all or nothing
    assert rundowns.rundown(storage, edition.id).item(items[0]).aired_utc is None
    assert desk.post("/aired", item="x").status_code == 404


def test_nothing_was_on_air_before_its_time(desk, ids, storage, edition):
    item = desk.pick(ids["ilse"])["item"]
    storage.execute("update editions set air_utc = ?", [(NOW + timedelta(hours=1)).isoformat()])
    storage._db.commit()
    answer = desk.post("/aired", item=item)
    assert answer.status_code == 409
    assert "not on air yet" in answer.get_data(as_text=True)
    storage.execute("update editions set air_utc = ?", [(NOW - timedelta(minutes=7)).isoformat()])
    storage._db.commit()
    desk.post("/aired", item=item)
    assert rundowns.rundown(storage, edition.id).item(item).aired_utc == NOW - timedelta(minutes=7)


def test_what_a_sender_takes_back_leaves_the_page_without_a_name(desk, ids, storage, media):
    desk.pick(ids["ilse"])
    item = desk.pick(ids["child"])["item"]
    mark = desk.client.get("/rundown/12/mark").json["mark"]
    forget(storage, media, "cy@example.org", NOW)
    page = desk.page()
    assert "One picture was withdrawn by its sender and is gone." in page
    assert "Cy Tann" not in page
    assert desk.client.get("/rundown/12/mark").json["mark"] != mark
    answer = desk.edit(item, note="late")
    assert answer.status_code == 404
    assert "not in the rundown any more" in answer.get_data(as_text=True)


def test_the_mark_changes_with_consent_and_placing_and_not_by_itself(desk, ids, storage):
    item = desk.pick(ids["bo"])["item"]

    def mark():
        return desk.client.get("/rundown/12/mark").json["mark"]

    marks = [mark()]
    assert mark() == marks[0]
    desk.post(f"/items/{item}/consent", way="phone", answer="asked")
    marks.append(mark())
    stored = read_annotation(storage, ids["bo"])
    add_annotation(storage, replace(stored, engine_version="fake 2"), [])
    marks.append(mark())
    assert len(set(marks)) == 3


def test_what_has_just_come_in_is_offered_until_it_is_picked(desk, ids, storage, edition, media, config):
    def offered():
        return re.findall(r'class="newer"[^>]*>([^<]+)<', desk.page())

    # The newest three that are placed; not what cannot be used.
    names = {
        "Ilse Quendel": "ilse",
        "Bo Ring": "bo",
        "Sender not named": "nobody",
        "Cy Tann": "child",
        "Gus": "refuses",
    }
    newest = [ids[names[name]] for name in offered()]
    assert newest == sorted((k for name, k in ids.items() if name != "page"), reverse=True)[:3]
    mark = desk.client.get("/rundown/12/mark").json["mark"]
    item = desk.pick(newest[0])["item"]
    assert newest[0] not in rundowns.just_in(storage, edition.id)
    desk.post(f"/items/{item}/out")
    assert newest[0] not in rundowns.just_in(storage, edition.id)  # somebody decided about it
    assert len(offered()) == 3
    assert desk.client.get("/rundown/12/mark").json["mark"] != mark
    other = add_edition(storage, EditionPlan(number=13))
    assert rundowns.just_in(storage, other.id) == ()


def test_every_change_wants_the_form_token(desk, ids):
    item = desk.pick(ids["ilse"])["item"]
    for path in (
        "/add",
        f"/items/{item}/edit",
        f"/items/{item}/move",
        f"/items/{item}/out",
        f"/items/{item}/back",
        f"/items/{item}/better",
        f"/items/{item}/consent",
        "/aired",
        "/time",
    ):
        answer = desk.post(path, token="forged", picture_id=ids["bo"], after=0, length="7:07", item=item)
        assert answer.status_code == 400, path
    page = desk.page()
    assert page.count('<li class="entry') == 1
    assert "7:07" not in page
