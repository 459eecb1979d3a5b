"""May a picture go on air: one place decides, and every page, file and answer says the same."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import fakes
import pytest
from letters_desk import NOW, TERMS, application, mail, pick, picture_of, taken, taken_file, with_terms

from moondesk.records import NotFound
from moondesk.service.exports.air_planning import made_plan
from moondesk.service.exports.evening_pictures import by_evening, night_of
from moondesk.service.exports.open_data import exported, found_for
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.programme.frame_request import Asked, frame_of
from moondesk.service.programme.listing import listed_line
from moondesk.service.programme.permission import permission_of, stops_of
from moondesk.service.programme.sorting import sort_picture
from moondesk.service.store import rundowns
from moondesk.service.store.consents import add_consent
from moondesk.service.store.records import ConsentRecord
from moondesk.service.web.desk.onair import onair
from tests.service.consent_mails import FOREIGN

#: What came from whom, and why it may not go on air by itself; none: it may.
KINDS = {
    "ordinary@x.org": ("Good evening, here is the Moon from my garden.", ()),
    "wordless@x.org": ("", ()),
    "bulgar@x.org": ("Здравейте, не показвайте снимката.", ("unclear",)),
    "refuser@x.org": ("Please do not show it.", ("refused",)),
    "agreeing@x.org": ("You may show it.", ("suggested",)),
    "parent@x.org": ("My daughter took this picture.", ("minor",)),
    "asked@x.org": ("Here is my Moon.", ("asked",)),
    "noted@x.org": ("Bitte zeigen Sie das Bild gerne.", ()),
    "held@x.org": ("Good evening, here is the Moon from my roof.", ("letter",)),
    "late@x.org": ("Ihr dürft das Foto zeigen.", ("unclear", "letter")),
    "older@x.org": ("Here is my Moon.", ("unclear",)),
    "file": ("", ()),
}


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """All kinds in one edition, all in its rundown: storage, configuration, and picture and item by kind."""
    from moondesk.service.settings.config import Config, Programme
    from moondesk.service.store.storage import Storage

    base = tmp_path_factory.mktemp("desk")
    config = with_terms(Config(data_dir=base / "data", programme=Programme("The Evening Sky", "Europe/Vienna")))
    with Storage(config.data_dir) as storage:
        senders = [sender for sender in KINDS if "@" in sender]
        ids = taken(storage, config, *(mail(s, KINDS[s][0], shade=40 + 9 * k) for k, s in enumerate(senders)))
        of = dict(zip(senders, ids, strict=True))
        (base / "loose.png").write_bytes(fakes.png(300, 300, shade=22))
        (base / "submissions.csv").write_text("file,name\nloose.png,File\n")
        taken_file(storage, config, base / "loose.png")
        add_consent(
            storage,
            of["asked@x.org"],
            ConsentRecord(state="asked", kind="mail", evidence="May we?", noted_by="Ada"),
            NOW,
        )
        add_consent(
            storage, of["noted@x.org"], ConsentRecord(state="given", kind="phone", evidence="Yes.", noted_by="Ada"), NOW
        )
        storage.execute("update submissions set words_read = '' where id = ?", [of["older@x.org"]])
        storage.execute("update submissions set sender_name = 'File' where source = 'folder'")
        taken(
            storage,
            config,
            mail("held@x.org", "One more thing about my picture."),
            mail("Late@X.org", "Noch etwas zu meinem Foto."),
        )
        pictures = {sender: picture_of(storage, number) for sender, number in of.items()}
        pictures["file"] = storage.read(
            "select p.id from pictures p join submissions s on s.id = p.submission_id where s.source = 'folder'"
        )[0]["id"]
        items = {kind: pick(storage, picture) for kind, picture in pictures.items()}
        yield storage, config, pictures, items


@pytest.mark.parametrize("kind", KINDS)
def test_the_reasons(desk, kind):
    storage, _, pictures, _ = desk
    (listed,) = storage.listed_by([pictures[kind]])
    assert permission_of(listed, TERMS).reasons == KINDS[kind][1]


class _BegunError(Exception):
    """A frame would be drawn now."""


def is_begun(storage, config, item_id, listed):
    def run(*_):
        raise _BegunError

    item = rundowns.rundown(storage, storage.editions()[0].id).item(item_id)
    try:
        made = frame_of(storage, config, load_calendar(config), run, item, listed, Asked())
    except _BegunError:
        return True
    assert isinstance(made, NotFound)
    return False


def outlets(desk):
    """For each outlet the kinds that may go on air by it."""
    storage, config, pictures, items = desk
    calendar, edition = load_calendar(config), storage.editions()[0]
    listed = {kind: storage.listed_by([k])[0] for kind, k in pictures.items()}
    client = application(config).test_client()
    kinds = {k: kind for kind, k in pictures.items()}
    inbox = client.get("/").text
    ready = inbox.split('id="ready"')[1].split("</section>")[0]
    yield "inbox", {kinds[int(k)] for k in re.findall(r'data-picture="(\d+)"', ready)}
    yield "groups", {kind for kind, p in listed.items() if sort_picture(p, TERMS).group == "ready"}
    pages = {kind: client.get(f"/pictures/{k}").text for kind, k in pictures.items()}
    yield "picture's page", {kind for kind, page in pages.items() if 'class="stop"' not in page}
    yield (
        "picture's facts",
        {kind for kind, page in pages.items() if re.search(r"<dd>Given", page) and "Cannot go on air" not in page},
    )
    rundown = client.get("/rundown/12").text
    entries = re.findall(r'<li class="entry([^"]*)" id="item-(\d+)"', rundown)
    assert len(entries) == len(KINDS)
    stopped = {int(number) for classes, number in entries if "stopped" in classes}
    yield "rundown", {kind for kind, number in items.items() if number not in stopped}
    plan = made_plan(storage, config, calendar, edition, at_once, "hd", -1.0)  # no frame is drawn
    byname = {listed[kind].picture.submission.arrival.sender_name: kind for kind in listed}
    yield "plan", set(KINDS) - {byname[sender] for sender, _ in plan.left_out}  # the others are being made
    yield "frame", {kind for kind, p in listed.items() if is_begun(storage, config, items[kind], p)}
    found = found_for(storage, config, edition.id)
    yield "export", {kinds[k] for k in found.ids}
    yield "exported", {kinds[k] for k in pictures.values() if list(exported(storage, config, calendar, [k]))}
    (evening,) = by_evening(storage, calendar)
    yield "night", {kinds[p.picture.id] for p in night_of(storage, config, calendar, evening).pictures}
    yield (
        "list",
        {
            byname[line["sender_name"]]
            for line in (listed_line(s, TERMS) for s in storage.submissions())
            if line["pictures"] and line["may_go_on_air"]
        },
    )
    yield (
        "api: picture",
        {kind for kind, k in pictures.items() if client.get(f"/api/pictures/{k}").json["consent"]["may_be_shown"]},
    )
    yield (
        "api: rundown",
        {
            kind
            for item in client.get("/api/editions/12/rundown").json["items"]
            for kind in [kinds[item["picture_id"]]]
            if item["may_go_on_air"]
        },
    )
    yield (
        "api: submissions",
        {
            byname[s["sender_name"]]
            for s in client.get("/api/editions/12/submissions?limit=100").json["submissions"]
            if s["pictures"] and s["may_go_on_air"]
        },
    )
    assert not any(stops_of(listed[kind], config) for kind, (_, reasons) in KINDS.items() if not reasons)


def test_every_outlet_says_the_same(desk):
    may = {kind for kind, (_, reasons) in KINDS.items() if not reasons}
    told = dict(outlets(desk))
    assert len(told) == 14
    assert {outlet: found ^ may for outlet, found in told.items() if found != may} == {}


def test_the_pages_say_why_in_plain_words(desk, monkeypatch):
    monkeypatch.setattr(onair, "made_plan", lambda *asked: made_plan(*asked[:6], -1.0))  # no frame is drawn
    _, config, pictures, _ = desk
    client = application(config).test_client()
    rundown = client.get("/rundown/12").text
    for words in (
        "read the letter first",
        "a letter from its sender waits to be read",
        "does not want it shown",
        "no guardian has agreed",
        "has not answered yet",
        "nobody has read and confirmed",
    ):
        assert words in rundown, words
    assert rundown.count("Read the letter<") == 2
    assert "Unclear: read the letter first" in client.get("/").text
    page = client.get(f"/pictures/{pictures['held@x.org']}").text
    assert "a letter from its sender waits to be read" in page
    assert "Read the letter that holds it" in page
    presenter = client.get("/air/12/presenter").text
    assert "a letter from its sender waits to be read" in presenter
    assert "a letter from its sender waits to be read" in client.get("/air/12/sheet").text


def test_nobody_else_decides():
    """What counts as agreed is asked in one module only, so that no page can come to another answer."""
    wrong = []
    for path in sorted(Path("service").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if "standing" not in text and "agreed" not in text:
            continue
        tree = ast.parse(text)
        names = {
            a.name
            for n in ast.walk(tree)
            if isinstance(n, ast.ImportFrom) and n.module == "moondesk.service.programme.suggestions"
            for a in n.names
        }
        asked = "public" not in path.parts and any(
            isinstance(n, ast.Attribute) and n.attr == "agreed" for n in ast.walk(tree)
        )
        if path.as_posix() != "service/permission.py" and ("standing" in names or asked):
            wrong.append(path.as_posix())
    assert wrong == []


def test_one_mail_of_every_language_from_the_mailbox_to_the_pages(config, storage):
    """The whole way in: bytes of a mail, the store, inbox, rundown, picture's page, API and export."""
    config = with_terms(config)
    chosen = {m.language: m for m in reversed(FOREIGN) if m.kind != "consent"}
    ids = taken(
        storage, config, *(mail(f"v{k}@x.org", m.body, m.subject, 40 + 3 * k) for k, m in enumerate(chosen.values()))
    )
    pictures = [picture_of(storage, number) for number in ids]
    for picture in pictures:
        pick(storage, picture)
    client = application(config).test_client()
    inbox = client.get("/").text
    assert 'id="ready"' not in inbox
    assert inbox.count("Unclear: read the letter first.") == len(chosen) >= 20
    rundown = client.get("/rundown/12").text
    assert rundown.count("read the letter first.</p>") == rundown.count('class="entry stopped"') == len(chosen)
    assert {i["may_go_on_air"] for i in client.get("/api/editions/12/rundown").json["items"]} == {False}
    for picture in pictures:
        consent = client.get(f"/api/pictures/{picture}").json["consent"]
        assert (consent["state"], consent["may_be_shown"]) == ("unclear", False)
    page = client.get(f"/pictures/{pictures[0]}").text
    assert "Unclear: read the letter first" in page
    assert found_for(storage, config, storage.editions()[0].id).ids == ()
