"""May a picture go on air: the rules in their order, see `moondesk.service.programme.permission`; one place decides, and
every page, file and answer says the same."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from pathlib import Path

import fakes
import pytest
from letters_desk import NOW, TERMS, application, mail, pick, picture_of, taken, taken_file, with_terms

from moondesk.records import NotFound
from moondesk.service.exports.open_data import export_pictures, rows_of_edition
from moondesk.service.programme import consent as consent_rules
from moondesk.service.programme import permission as permission_rules
from moondesk.service.programme.frame_request import FrameOptions
from moondesk.service.programme.listing import submission_object
from moondesk.service.programme.permission import permission, permission_of, reasons_not_to_air, standing_consent
from moondesk.service.programme.sorting import sort_picture
from moondesk.service.store import rundowns, versions
from moondesk.service.store.editions import list_editions
from moondesk.service.store.messages import message
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Arrival, ConsentRecord, Pair, Suggestion
from moondesk.service.store.submissions import add_consent, each_submission
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import frame_of
from moondesk.service.studio.nights import by_evening, night_of
from moondesk.service.studio.plan import make_plan
from moondesk.service.web.desk.onair import onair
from tests.service.consent_mails import FOREIGN

YES = Suggestion("consent", "suggested", "You may show it.", "mail")
CHILD = Suggestion("minor", "yes", "My son took it.", "mail")
ARRIVAL = Arrival(
    key="mail:1",
    source="mail",
    origin="m.eml",
    enclosures=(),
    message_id="<1@x>",
    suggestions=(YES,),
    words_read="understood",
)
PHONE = ConsentRecord(state="given", kind="phone", evidence="Yes, do.", noted_by="Ilse")


def test_the_newest_decision_counts():
    no = ConsentRecord(
        state="refused", kind="mail", evidence="Please do not, after all.", message_id="<2@x>", noted_by="Ilse"
    )
    assert not standing_consent(ARRIVAL, [PHONE, no]).agreed
    assert standing_consent(ARRIVAL, [PHONE, no, PHONE]).agreed
    assert standing_consent(ARRIVAL, [PHONE, no]).evidence == "Please do not, after all."


def test_a_record_of_one_picture_is_for_that_picture():
    records = [
        PHONE,
        ConsentRecord(state="refused", kind="phone", evidence="Not the second.", noted_by="Ilse", picture_id=2),
    ]
    assert [standing_consent(ARRIVAL, records, k).agreed for k in (1, 2, None)] == [True, False, True]


def test_a_question_that_went_out_is_no_decision():
    asked = ConsentRecord(state="asked", kind="mail", evidence="May we show it?", noted_by="Ilse")
    bare = replace(ARRIVAL, suggestions=())
    assert standing_consent(bare, [asked]).state == "asked"
    assert standing_consent(ARRIVAL, [asked]).state == "suggested"  # the answer may be there already: a person reads it
    assert standing_consent(bare, [PHONE, asked]).agreed


def test_the_table_beats_the_mail():
    told = replace(ARRIVAL, consent="no")
    assert (standing_consent(told, ()).state, standing_consent(told, ()).evidence) == ("refused", "no")
    assert standing_consent(replace(ARRIVAL, consent="yes, by phone"), ()).agreed


def test_a_suggestion_never_counts_by_itself():
    said = standing_consent(ARRIVAL, ())
    assert (said.state, said.evidence, said.message_id, said.agreed) == (
        "suggested",
        "You may show it.",
        "<1@x>",
        False,
    )
    confirmed = standing_consent(
        ARRIVAL, [ConsentRecord(state="given", kind="mail", evidence=YES.words, message_id="<1@x>", noted_by="Ilse")]
    )
    assert (confirmed.state, confirmed.kind, confirmed.noted_by, confirmed.message_id, confirmed.agreed) == (
        "given",
        "mail",
        "Ilse",
        "<1@x>",
        True,
    )


def test_entry_terms_count_only_where_the_programme_says_so_and_nothing_else_was_said():
    bare = replace(ARRIVAL, suggestions=())
    assert standing_consent(bare, ()).state == "none"
    assert standing_consent(bare, (), None, "Terms of 2026").agreed
    assert standing_consent(bare, (), None, "Terms of 2026").kind == "terms"
    assert not standing_consent(replace(bare, suggestions=(CHILD,)), (), None, "Terms").agreed
    doubt = replace(bare, suggestions=(replace(YES, value="refused", words="Please do not show it."),))
    assert standing_consent(doubt, (), None, "Terms").state == "refused"


def test_a_child_needs_a_guardian():
    of_child = replace(ARRIVAL, suggestions=(CHILD,))
    assert not standing_consent(of_child, [PHONE]).agreed
    assert standing_consent(of_child, [replace(PHONE, guardian=True)]).agreed
    assert standing_consent(of_child, [replace(PHONE, minor=False)]).agreed  # somebody asked: it was no child
    assert not standing_consent(
        ARRIVAL, [PHONE, ConsentRecord(state="asked", kind="phone", noted_by="Bo", minor=True)]
    ).agreed
    assert not standing_consent(of_child, [replace(PHONE, guardian=True), PHONE]).agreed


def test_the_same_picture_as_a_refused_one_waits(storage, config):
    config = with_terms(config)
    ids = taken(
        storage,
        config,
        mail("refuser@x.org", "Please do not show it.", shade=60),
        mail("copying@x.org", "Good evening, here is my Moon.", shade=90),
    )
    theirs, mine = (picture_of(storage, k) for k in ids)

    def reasons():
        (listed,) = list_by_id(storage, [mine])
        return permission_of(listed, TERMS).reasons

    assert reasons() == ()
    versions.settle(storage, mine, [pair(mine, theirs)])
    assert reasons() == ("twin",)
    (asked,) = versions.pairs_of(storage, mine)
    versions.decide(storage, asked.id, "same", "Ada", NOW)
    assert reasons() == ("twin",)
    versions.decide(storage, asked.id, "different", "Ada", NOW)
    assert reasons() == ()
    versions.decide(storage, asked.id, None, "Ada", NOW)
    assert reasons() == ("twin",)
    agreed = ConsentRecord(state="given", kind="phone", evidence="Yes, he may.", noted_by="Ada")
    add_consent(storage, ids[0], agreed, NOW)  # whose picture it is has changed his mind
    assert reasons() == ()


def test_what_cannot_be_opened_cannot_be_shown():
    may = permission(replace(ARRIVAL, consents=(PHONE,)), None, "", "It is no picture.")
    assert may.reasons == ("unusable",)
    assert may.stops == ("Cannot go on air: it cannot be read. It is no picture.",)


ROOT = Path(__file__).resolve().parents[2]
#: What came from whom, and why it may not go on air by itself; none: it may.
KINDS = {
    "ordinary@x.org": ("Good evening, here is the Moon from my garden.", ()),
    "wordless@x.org": ("", ()),
    "bulgar@x.org": ("Здравейте, не показвайте снимката.", ("refused",)),
    "refuser@x.org": ("Please do not show it.", ("refused",)),
    "agreeing@x.org": ("You may show it.", ("suggested",)),
    "parent@x.org": ("My daughter took this picture.", ("minor",)),
    "asked@x.org": ("Here is my Moon.", ("asked",)),
    "noted@x.org": ("Bitte zeigen Sie das Bild gerne.", ()),
    "held@x.org": ("Good evening, here is the Moon from my roof.", ("letter",)),
    "late@x.org": ("Ihr dürft das Foto zeigen.", ("suggested", "letter")),
    "older@x.org": ("Here is my Moon.", ("unclear",)),
    "copying@x.org": ("Good evening, here is the Moon from my balcony.", ("twin",)),
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
        versions.settle(
            storage, pictures["copying@x.org"], [pair(pictures["copying@x.org"], pictures["refuser@x.org"])]
        )
        pictures["file"] = storage.read(
            "select p.id from pictures p join submissions s on s.id = p.submission_id where s.source = 'folder'"
        )[0]["id"]
        items = {kind: pick(storage, picture) for kind, picture in pictures.items()}
        yield storage, config, pictures, items


def pair(picture_id: int, other_id: int) -> Pair:
    return Pair(
        picture_id=picture_id,
        other_id=other_id,
        kind="ask",
        better_id=other_id,
        message=message("same_file_of_other", who="Refuser"),
    )


@pytest.mark.parametrize("kind", KINDS)
def test_the_reasons(desk, kind):
    storage, _, pictures, _ = desk
    (listed,) = list_by_id(storage, [pictures[kind]])
    assert permission_of(listed, TERMS).reasons == KINDS[kind][1]


class _BegunError(Exception):
    """A frame would be drawn now."""


def is_begun(storage, config, item_id, listed):
    def run(*_):
        raise _BegunError

    item = rundowns.rundown(storage, list_editions(storage)[0].id).item(item_id)
    try:
        made = frame_of(Studio(storage, config, run), item, listed, FrameOptions())
    except _BegunError:
        return True
    assert isinstance(made, NotFound)
    return False


def outlets(desk):
    """For each outlet the kinds that may go on air by it."""
    storage, config, pictures, items = desk
    studio, edition = Studio(storage, config), list_editions(storage)[0]
    listed = {kind: list_by_id(storage, [k])[0] for kind, k in pictures.items()}
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
    plan = make_plan(studio, edition, "hd", -1.0)  # no frame is drawn
    byname = {listed[kind].picture.submission.arrival.sender_name: kind for kind in listed}
    yield "plan", set(KINDS) - {byname[sender] for sender, _ in plan.left_out}  # the others are being made
    yield "frame", {kind for kind, p in listed.items() if is_begun(storage, config, items[kind], p)}
    found = rows_of_edition(studio, edition.id)
    yield "export", {kinds[k] for k in found.ids}
    yield "exported", {kinds[k] for k in pictures.values() if list(export_pictures(studio, [k]))}
    (evening,) = by_evening(studio)
    yield "night", {kinds[p.picture.id] for p in night_of(studio, evening).pictures}
    yield (
        "list",
        {
            byname[line["sender_name"]]
            for line in (submission_object(s, TERMS) for s in each_submission(storage))
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
    assert not any(
        reasons_not_to_air(listed[kind], config.entry_terms) for kind, (_, reasons) in KINDS.items() if not reasons
    )


def test_every_outlet_says_the_same(desk):
    may = {kind for kind, (_, reasons) in KINDS.items() if not reasons}
    told = dict(outlets(desk))
    assert len(told) == 14
    assert {outlet: found ^ may for outlet, found in told.items() if found != may} == {}


def test_the_pages_say_why_in_plain_words(desk, monkeypatch):
    monkeypatch.setattr(onair, "make_plan", lambda *asked: make_plan(*asked[:3], -1.0))  # no frame is drawn
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


@pytest.mark.parametrize("rules", [permission_rules, consent_rules], ids=lambda module: module.__name__)
def test_the_rules_name_what_proves_them(rules):
    named = set(re.findall(r"test_\w+", rules.__doc__))
    tests = Path(__file__).parent
    texts = {path.stem: path.read_text(encoding="utf-8") for path in tests.glob("test_*.py")}
    proofs = {name for text in texts.values() for name in re.findall(r"^def (test_\w+)", text, re.MULTILINE)}
    assert len(named) > 10
    assert named - proofs - set(texts) == set()


def test_nobody_else_decides():
    """What counts as agreed is asked in one module only, so that no page can come to another answer."""
    wrong = []
    for path in sorted((ROOT / "service").rglob("*.py")):
        if path == ROOT / "service/programme/permission.py":
            continue
        nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
        home = "moondesk.service.programme.permission"
        imported = any(
            isinstance(n, ast.ImportFrom) and n.module == home and "standing_consent" in {a.name for a in n.names}
            for n in nodes
        )
        asked = any(isinstance(n, ast.Attribute) and n.attr == "agreed" for n in nodes)
        if imported or (asked and "public" not in path.parts):
            wrong.append(path.relative_to(ROOT).as_posix())
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
    assert inbox.count("Unclear: read the letter first.") >= 5  # of languages without a list
    assert len(chosen) >= 20
    rundown = client.get("/rundown/12").text
    assert rundown.count('class="entry stopped"') == len(chosen)
    assert {i["may_go_on_air"] for i in client.get("/api/editions/12/rundown").json["items"]} == {False}
    for picture in pictures:
        consent = client.get(f"/api/pictures/{picture}").json["consent"]
        assert consent["state"] in ("unclear", "refused", "suggested")
        assert consent["may_be_shown"] is False
    assert rows_of_edition(Studio(storage, config), list_editions(storage)[0].id).ids == ()
