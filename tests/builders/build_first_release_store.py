"""Makes tests/reference/first_release_store.zip and .json: a data folder as the first release wrote it.

    git worktree add --detach ../first-release 18e9a30
    cd ../first-release && PYTHONPATH=. python PATH/OF/THIS/FILE --out PATH/OF/tests/reference

It runs with that release's code, so that what it imports is named as it was then. Programme, town and people are
invented, and so are all secrets; the pictures are rendered small. The .json holds every row of every table (long ones
by their hash) and what the release's own functions said of it all.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import socket
import sqlite3
import tempfile
import zipfile
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, datetime, timedelta
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from pathlib import Path
from typing import Any

from annotate.sky.ephemeris import aspect_at
from argon2 import PasswordHasher
from PIL import Image
from service.arrivals.forms import Form, SentFile, take_form
from service.arrivals.intake import Intake, open_edition
from service.config import load_config
from service.desk.planning.rundown_page import stops_of
from service.evenings import load_calendar
from service.work.correcting import Desk, correct, undo
from service.work.engine import engine_version, load_engine
from service.work.media import Media
from service.work.pools import InProcess
from service.work.waiting import place_waiting
from service.work.workshop import Workshop

from annotate.records import Place
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.submissions import each_submission
from service.languages.catalogue import LocalName
from service.store import (
    accounts,
    air,
    aired,
    audit,
    consents,
    decisions,
    editions,
    erasures,
    forget,
    frame_choices,
    logins,
    mailboxes,
    names,
    queue,
    receipts,
    replies,
    rundowns,
    settings,
    versions,
)
from service.store.decided import Change
from service.store.records import ConsentRecord, EditionPlan, Pair
from service.store.storage import DATABASE_NAME, Storage
from tests.scenes import north_on_screen, render, sky_north_held_upright
from tests.scenes.spec import FileTags, SceneSpec

NAME = "first_release_store"
NOW = datetime(2026, 10, 24, 18, 0, tzinfo=UTC)
HOME = Place(37.80, -8.72, 40.0)
SETTINGS = """\
# Settings for a data folder of the first release; programme and town are invented.
[programme]
name = "Lantern Hour"
zone = "Europe/Lisbon"
latitude = 37.8
longitude = -8.72
height_m = 40

[edition]
number = 411
kind = "recorded"
recording_utc = 2026-10-25T15:00:00Z
air_utc = 2026-10-25T20:00:00Z
evenings = [2026-10-23, 2026-10-24]

[consent]
entry_terms = "Terms of the Lantern Hour, 2026"
"""
TABLE = """\
file,received_utc,taken_utc,latitude,longitude,place,name,credit,equipment,consent
harbour.jpg,2026-10-22T22:10:00+00:00,,37.8,-8.72,"Averim, above the harbour",Íris Quental,"Íris Quental, Averim","80 mm refractor, 25 mm eyepiece","Yes, by form"
harbour-again.jpg,2026-10-22T22:30:00+00:00,,37.8,-8.72,Averim,Íris Quental,"Íris Quental, Averim",,yes
quay.jpg,2026-10-23T21:40:00+00:00,2026-10-23T20:55:00+00:00,37.74,-8.66,Vale do Tordo,Benedek Szőke,Szőke Benedek,"114 mm reflector, phone",no
"""
STUDIO = "Lantern Hour <moon@lanternhour.example>"
PASSWORD = "four moons over the pier"
RECEIPT, WITHDRAWN = "receipt-of-the-lighthouse", "receipt-taken-back"


def picture(
    when: datetime, seed: int, tilt: float = 0.0, mirrored: bool = False, px: tuple[int, int] = (480, 360)
) -> bytes:
    aspect = aspect_at(when, HOME)
    north = north_on_screen(aspect, sky_north_held_upright(aspect, tilt), mirrored)
    width, height = px
    return render(
        SceneSpec(
            when,
            HOME,
            width * 0.52,
            height * 0.48,
            height * 0.38,
            north,
            mirrored,
            width,
            height,
            seed=seed,
            tags=FileTags(quality=88, zone_hours=1.0),
        )
    ).data


def mail(sender: str, subject: str, text: str, when: datetime, number: int, data: bytes | None) -> bytes:
    message = EmailMessage(policy=SMTP)
    message["From"], message["To"], message["Subject"] = sender, STUDIO, subject
    message["Date"] = format_datetime(when)
    message["Message-ID"] = f"<first.{number}@averim.example>"
    message.set_content(text, cte="quoted-printable")
    if data is not None:
        message.add_attachment(data, maintype="image", subtype="jpeg", filename=f"moon-{number}.jpg")
        message.set_boundary(f"=_first-{number}")
    return message.as_bytes()


def smaller(data: bytes) -> bytes:
    with Image.open(io.BytesIO(data)) as opened:
        out = io.BytesIO()
        opened.resize((360, 270), Image.Resampling.LANCZOS).save(out, "JPEG", quality=80)
    return out.getvalue()


def arrivals(at: Path) -> None:
    """The folder and the mails as they came."""
    day = datetime(2026, 10, 22, 21, 0, tzinfo=UTC)
    at.mkdir()
    (at / "harbour.jpg").write_bytes(picture(day, 1))
    (at / "harbour-again.jpg").write_bytes(smaller((at / "harbour.jpg").read_bytes()))
    (at / "quay.jpg").write_bytes(picture(day + timedelta(days=1), 2, tilt=180))
    (at / "page.jpg").write_bytes(b"<html><body>not a picture</body></html>")
    (at / "submissions.csv").write_text(TABLE, encoding="utf-8")
    mails = (
        (
            "Clara Vell <clara@averim.example>",
            "The Moon from the pier",
            "Good evening,\n\nyou may show it on the programme, with my name: Clara Vell, Averim.\n"
            "70 mm refractor, 20 mm eyepiece.\n",
            picture(day + timedelta(minutes=20), 3),
        ),
        (
            "Tomás Arvela <tomas@averim.example>",
            "My daughter's first Moon",
            "Hello! My daughter Lia, who is 9, took this through our 130 mm reflector. Please show it.\n\nTomás\n",
            picture(day + timedelta(days=1, minutes=30), 4, mirrored=True),
        ),
        (
            "Þóra Vindal <thora@averim.example>",
            "Only for you",
            "Please do not show it on the air.\n\nÞóra\n",
            picture(day - timedelta(days=2), 5),
        ),
        (
            "Clara Vell <clara@averim.example>",
            "Re: The Moon from the pier",
            "Dear all, I have thought again: please do not show my picture after all.\n\nClara\n",
            None,
        ),
    )
    for number, (sender, subject, text, data) in enumerate(mails, 1):
        when = day + timedelta(hours=number)
        (at / f"{number}.eml").write_bytes(mail(sender, subject, text, when, number, data))


def fill(data_dir: Path, folder: Path) -> dict[str, str]:
    """Everything that a store of that release can hold; the secrets that were given out."""
    data_dir.mkdir()
    (data_dir / "moondesk.toml").write_text(SETTINGS, encoding="utf-8")
    config = load_config(data_dir, workers=0)
    media, day_of = Media(data_dir), load_calendar(config).day_of_plan
    with Storage(data_dir) as storage:
        edition = open_edition(storage, config, NOW, day_of)
        coming = EditionPlan(412, "live", None, datetime(2026, 11, 2, 20, tzinfo=UTC), (date(2026, 11, 2),))
        editions.add_edition(storage, replace(coming, day_number=day_of(coming)), NOW, "Ada Brook")
        before = read_edition(storage, 412)
        editions.change_edition(
            storage, before, replace(before.plan, evenings=(date(2026, 11, 2), date(2026, 11, 3))), NOW, "Ada Brook"
        )
        secrets = people(storage)
        settings.keep_settings(
            storage,
            {"privacy.mail_days": 30, "weights.focus": 4.5, "days.first_number": 1, "edition.next": 411},
            NOW,
            "Ada Brook",
        )
        names.keep_names(storage, "en", {"Plato": LocalName("Plato's bowl", "PLAY-toe")}, NOW, "Ada Brook")
        names.keep_names(storage, "bg", {"Tycho": LocalName("Тихо", "")}, NOW, "Ada Brook")
        for uid in (7, 8):
            mailboxes.note(storage, "moon@lanternhour.example/INBOX", 1_700_000_001, uid)

        old = Intake(storage, media, edition, config, lambda: NOW - timedelta(days=40))
        list(old.take_path(folder / "3.eml"))
        erasures.erase_mails(storage, erasures.old_mails(storage, NOW - timedelta(days=30)), NOW)
        forget.erase_files(storage, media)
        intake = Intake(storage, media, edition, config, lambda: NOW)
        list(intake.take_path(folder))
        forms(intake)
        taken = list(place_waiting(storage, media, config, load_engine, engine_version(), lambda: NOW, InProcess()))
        print(
            "\n".join(
                f"{p.id} {p.enclosure.given_name}: {s.annotation.status}, sure {s.annotation.sure}, "
                f"{s.annotation.reason}"
                for p, s in taken
            )
        )
        by_name = {p.enclosure.given_name: p for p, _ in taken}
        work(storage, media, data_dir, edition.id, {name: p.id for name, p in by_name.items()}, config.zones)
        noted(storage, by_name)
        late = Intake(storage, media, read_edition(storage, 412), config, lambda: NOW)
        take_form(
            late,
            Form(
                "desk",
                "f4",
                "Ümit Șerban",
                channel="Chat of the town",
                link="https://averim.example/9",
                consent=ConsentRecord("given", "phone", "Yes, show it.", noted_by="Ada Brook"),
            ),
            [SentFile("late.jpg", io.BytesIO(picture(NOW - timedelta(hours=22), 9, px=(320, 240))))],
        )
        for _ in range(queue.FAILURES):  # the one that came last is put aside
            (lease,) = queue.lease(storage, engine_version(), "gone", 1, NOW, 60)
            queue.fail(storage, "gone", lease.picture.id, engine_version(), "The picture took 120 s.")
        queue.ask_again(storage, [by_name["moon-2.jpg"].id])
    return secrets


def people(storage: Storage) -> dict[str, str]:
    weak = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(PASSWORD)
    ada = accounts.add_account(storage, "Ada Brook", "presenter", weak, NOW, "the command line")
    bo = accounts.add_account(storage, "Bo Lindø", "helper", weak, NOW, "Ada Brook")
    gone = accounts.add_account(storage, "Cai Merrow", "helper", weak, NOW, "Ada Brook")
    accounts.set_open(storage, gone.id, False, NOW, "Ada Brook")
    secrets = {
        "password": PASSWORD,
        "session": logins.open_session(storage, ada.id, NOW),
        "token": logins.add_token(storage, bo.id, "the lamp in the studio", "helper", NOW, "Ada Brook"),
        "revoked": logins.add_token(storage, ada.id, "an old script", "presenter", NOW, "Ada Brook"),
        "link": air.make_link(storage, "streaming", "Ada Brook", NOW),
    }
    air.make_link(storage, "last year's", "Ada Brook", NOW)
    logins.revoke_token(storage, logins.tokens_of(storage, ada.id)[0].id, ada.id, NOW, "Ada Brook")
    air.revoke_link(storage, air.links(storage)[1].id, "Ada Brook", NOW)
    return {**secrets, "receipt": RECEIPT, "withdrawn": WITHDRAWN}


def forms(intake: Intake) -> None:
    """One form that stays, one that is taken back, and one of somebody who is forgotten."""
    day = datetime(2026, 10, 21, 20, 30, tzinfo=UTC)
    said = ConsentRecord("given", "form", "You may show my picture (form 1)", noted_by="the sender")
    child = replace(said, guardian=True, minor=True)
    for number, name, receipt, consent in (
        ("f1", "Marit Sjöwall", RECEIPT, child),
        ("f2", "Inês Fârrow", WITHDRAWN, said),
        ("f3", "Oda Ekvåg", "", said),
    ):
        sent = SentFile(
            f"form-{number}.jpg",
            io.BytesIO(picture(day + timedelta(minutes=int(number[1])), 10 + int(number[1]), px=(400, 300))),
        )
        form = Form(
            "form",
            number,
            name,
            address=f"{number}@averim.example",
            place_name="Costa Marnel",
            taken_utc=day if number == "f1" else None,
            equipment="15x70 binoculars",
            consent=consent,
            remarks=("The clock of the phone was an hour off.",) if number == "f1" else (),
        )
        assert take_form(intake, form, [sent], (lambda key, r=receipt: r) if receipt else None).outcome == "taken"


def work(
    storage: Storage, media: Media, data_dir: Path, edition_id: int, ids: Mapping[str, int], zones: tuple[str, ...]
) -> None:
    """What was done at the desk: pictures corrected and compared, a rundown, an evening on air, two erasures."""
    desk = Desk(storage, media, Workshop(load_engine, 60.0, data_dir / "derived", InProcess()), zones)

    def decide(name: str, *changes: Change) -> None:
        correct(desk, ids[name], changes, "Ada Brook", decisions.revision(storage, ids[name]), NOW)

    decide("moon-2.jpg", Change("hand", {"mirrored": True}), Change("credit_line", {"text": "Lia and Tomás, Averim"}))
    decide("harbour.jpg", Change("equipment", {"text": "80 mm refractor on a fence post"}))
    decide(
        "quay.jpg",
        Change("time", {"utc": "2026-10-23T21:00:00+00:00"}),
        Change("place", {"name": "Vale do Tordo", "latitude_deg": 37.75, "longitude_deg": -8.65}),
    )
    decide("moon-1.jpg", Change("circle", {"x": 250.0, "y": 172.0, "radius": 137.0}))
    last = decisions.decisions_of(storage, ids["moon-1.jpg"])[-1]
    undo(desk, ids["moon-1.jpg"], last.id, "Bo Lindø", decisions.revision(storage, ids["moon-1.jpg"]), NOW)

    versions.settle(
        storage,
        ids["moon-2.jpg"],
        [
            Pair(
                ids["moon-2.jpg"],
                ids["quay.jpg"],
                "ask",
                ids["quay.jpg"],
                "The same evening, and nearly the same light.",
                0.21,
            )
        ],
    )
    (resized,) = versions.pairs_of(storage, ids["harbour-again.jpg"])
    versions.decide(storage, resized.id, "same", "Bo Lindø", NOW)
    (asked,) = versions.pairs_of(storage, ids["moon-2.jpg"])
    versions.decide(storage, asked.id, "different", "Ada Brook", NOW)

    picked = {
        name: rundowns.add(storage, edition_id, ids[name], "Ada Brook", NOW).item_id
        for name in ("moon-1.jpg", "harbour.jpg", "form-f1.jpg", "moon-2.jpg", "form-f3.jpg", "quay.jpg")
    }

    def seen() -> int:
        return rundowns.rundown(storage, edition_id).version

    rundowns.edit(
        storage,
        edition_id,
        picked["harbour.jpg"],
        {"seconds": 95, "credit_line": "Íris Quental", "pronunciation": "EE-reesh", "note": "Begin with it."},
        seen(),
        "Bo Lindø",
        NOW,
    )
    rundowns.edit(
        storage, edition_id, picked["form-f1.jpg"], {"credit_line": "", "note": "A child's."}, seen(), "Ada Brook", NOW
    )
    rundowns.move(storage, edition_id, picked["harbour.jpg"], 0, seen(), "Ada Brook", NOW)
    rundowns.take_out(storage, edition_id, picked["quay.jpg"], seen(), "Ada Brook", NOW)
    rundowns.set_time(storage, edition_id, 480, seen(), "Ada Brook", NOW)
    frame_choices.choose_frame(
        storage,
        picked["harbour.jpg"],
        frame_choices.FrameChoice("eye", "Mare Crisium", ("Tycho", "Plato")),
        "Ada Brook",
        NOW,
    )
    air.pin(storage, edition_id, picked["moon-2.jpg"])
    air.keep_state(storage, edition_id, air.AirState(1_792_000_000_000, {"item": picked["harbour.jpg"], "step": 2}))
    shown = {}
    for name, colour in (("harbour.jpg", "navy"), ("form-f3.jpg", "gold"), ("moon-2.jpg", "teal")):
        frame = io.BytesIO()
        Image.new("RGB", (96, 54), colour).save(frame, "PNG")
        shown[picked[name]] = aired.AsAired(f"As shown: {name}", media.put(frame.getvalue()))
    rundowns.note_aired(storage, edition_id, shown, NOW + timedelta(hours=1), "Ada Brook", NOW, shown)

    forget.forget(storage, media, "f3@averim.example", NOW)
    receipts.withdraw(storage, WITHDRAWN, NOW)
    forget.erase_files(storage, media)
    rundowns.note_aired(storage, edition_id, [picked["moon-2.jpg"]], None, "Ada Brook", NOW)  # its frame is to go


def noted(storage: Storage, by_name: Mapping[str, Any]) -> None:
    """What people said and what they are answered."""
    mine = {name: found.submission.id for name, found in by_name.items()}
    consents.add_consent(
        storage,
        mine["moon-2.jpg"],
        ConsentRecord(
            "asked", "mail", "May we show Lia's picture?", "<ask.1@lanternhour.example>", "Ada Brook", minor=True
        ),
        NOW,
    )
    consents.add_consent(
        storage,
        mine["moon-2.jpg"],
        ConsentRecord("given", "phone", "Yes, gladly.", "", "Ada Brook", None, by_name["moon-2.jpg"].id, True, True),
        NOW,
    )
    consents.add_consent(
        storage,
        mine["moon-1.jpg"],
        ConsentRecord("given", "mail", "You may show it on the programme.", "<first.1@averim.example>", "Ada Brook"),
        NOW,
    )
    consents.add_consent(
        storage,
        mine["moon-3.jpg"],
        ConsentRecord("refused", "mail", "Please do not show it on the air.", "<first.3@averim.example>", "Bo Lindø"),
        NOW,
    )
    for name, body in (
        ("moon-1.jpg", "Dear Clara,\n\nthank you.\n"),
        ("moon-2.jpg", "Dear Tomás,\n\nthank you.\n"),
        ("form-f1.jpg", "Dear Marit,\n\nthank you.\n"),
        ("moon-3.jpg", "Dear Þóra,\n\nof course.\n"),
    ):
        kept = replies.keep(
            storage,
            mine[name],
            by_name[name].submission.arrival.sender_address,
            "Your Moon",
            body,
            by_name[name].id,
            0,
            "Ada Brook",
            NOW,
        )
        if name != "moon-1.jpg":
            replies.approve(storage, mine[name], kept.version, f"<reply.{name}@lanternhour.example>", "Ada Brook", NOW)
    for ending, words in (("sent", "250 taken"), ("unknown", "The line broke.")):
        claimed = replies.claim(storage, NOW)
        assert claimed is not None
        replies.settle(storage, claimed, ending, words, NOW)


# --- what there was --------------------------------------------------------------------------------------------------


def plain(value: Any) -> Any:
    """A value as JSON has it."""
    if is_dataclass(value):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, bytes) or (isinstance(value, str) and len(value) > 600):
        return hashed(value)
    return value.isoformat() if isinstance(value, date) else value


def hashed(value: bytes | str) -> str:
    return "sha256:" + hashlib.sha256(value if isinstance(value, bytes) else value.encode()).hexdigest()


def rows_of(database: Path) -> dict[str, Any]:
    """Every table with its columns and rows; the rows of what pictures show by one hash."""
    connection = sqlite3.connect(database)
    tables = {}
    for (table,) in connection.execute("select name from sqlite_master where type = 'table' order by name").fetchall():
        found = connection.execute(f"select * from {table}")
        columns = [column[0] for column in found.description]
        rows = sorted(([plain(v) for v in row] for row in found), key=repr)
        tables[table] = {
            "columns": columns,
            "count": len(rows),
            "rows": hashed(json.dumps(rows)) if len(rows) > 100 else rows,
        }
    connection.close()
    return tables


def told(data_dir: Path) -> dict[str, Any]:
    """What the release's own functions say of it."""
    with Storage(data_dir) as storage:
        submissions = list(each_submission(storage))
        ids = [k for s in submissions for k in s.picture_ids]
        of = {s.submission.id: s for s in submissions}
        every = list_editions(storage)
        config = load_config(data_dir, workers=0)
        found = {
            "may_be_shown": {p.picture.id: not stops_of(p, config) for p in list_by_id(storage, ids)},
            "editions": every,
            "submissions": submissions,
            "pictures": {k: read_picture(storage, k) for k in ids},
            "pictures_as_sent": {k: read_picture(storage, k, as_sent=True) for k in ids},
            "annotations": {k: placed(storage, k) for k in ids},
            "consents": {k: consents.consents_of(storage, k) for k in of},
            "decisions": {k: decisions.decisions_of(storage, k) for k in ids},
            "corrections": {k: decisions.standing_corrections(storage, k) for k in ids},
            "pairs": {k: versions.pairs_of(storage, k) for k in ids},
            "rundowns": {e.plan.number: rundowns.rundown(storage, e.id) for e in every},
            "rundown_history": {e.plan.number: rundowns.history(storage, e.id, 99) for e in every},
            "frame_choices": {
                i.id: frame_choices.frame_choice(storage, i.id)
                for e in every
                for i in rundowns.rundown(storage, e.id).items
            },
            "spares": {e.plan.number: air.spare(storage, e.id) for e in every},
            "on_air": {e.plan.number: air.state(storage, e.id) for e in every},
            "links": air.links(storage),
            "aired": aired.lines(storage),
            "replies": replies.replies(storage),
            "accounts": accounts.accounts(storage),
            "tokens": logins.tokens_of(storage),
            "settings": settings.settings(storage),
            "names": {language: names.names(storage, language) for language in ("en", "bg")},
            "audit": audit.lines(storage, 999),
            "erasures": erasures.audit(storage),
            "receipts": {token: receipts.receipt(storage, token) for token in (RECEIPT, WITHDRAWN)},
            "quarantined": queue.quarantined(storage),
            "files_to_erase": erasures.files_to_erase(storage),
        }
        return {name: plain(value) for name, value in found.items()}


def placed(storage: Storage, picture_id: int) -> dict[str, Any] | None:
    stored = read_annotation(storage, picture_id)
    if stored is None:
        return None
    made = stored.annotation
    pose = made.pose
    return {
        "engine_version": stored.engine_version,
        "made_utc": stored.made_utc,
        "derived_key": stored.derived_key,
        "quality": stored.quality,
        "status": made.status,
        "sure": made.sure,
        "reason": made.reason,
        "pose": pose,
        "features": [f.feature.name for f in made.features][:20],
    }


def by_lines(listing: Mapping[str, Any]) -> str:
    """JSON with a line for each table and each thing that was told."""
    parts = []
    for name, value in listing.items():
        text = json.dumps(value, ensure_ascii=False)
        if isinstance(value, dict):
            inner = (f"{json.dumps(k)}: {json.dumps(v, ensure_ascii=False)}" for k, v in value.items())
            text = "{\n" + ",\n".join(inner) + "\n}"
        parts.append(f"{json.dumps(name)}: {text}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    out = parser.parse_args().out
    socket.gethostname = lambda: "desk"  # it names who places pictures
    with tempfile.TemporaryDirectory() as made:
        folder, data_dir = Path(made) / "folder", Path(made) / "data"
        arrivals(folder)
        secrets = fill(data_dir, folder)
        contents = told(data_dir)
        connection = sqlite3.connect(data_dir / DATABASE_NAME)
        connection.execute("pragma wal_checkpoint(truncate)")
        connection.close()
        listing = {
            "about": "What tests/builders/build_first_release_store.py found in the store that it had made.",
            "now": NOW.isoformat(),
            "secrets": secrets,
            "contents": contents,
            "tables": rows_of(data_dir / DATABASE_NAME),
        }
        empty = [name for name, table in listing["tables"].items() if not table["count"]]
        assert not empty, empty
        with zipfile.ZipFile(out / f"{NAME}.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed:
            for path in sorted(data_dir.rglob("*")):
                name = path.relative_to(data_dir)
                if path.is_file() and name.parts[0] != "derived" and not name.name.endswith(("-wal", "-shm")):
                    packed.writestr(zipfile.ZipInfo(name.as_posix()), path.read_bytes(), zipfile.ZIP_DEFLATED)
        text = by_lines(listing)
        (out / f"{NAME}.json").write_text(text, encoding="utf-8")
        print(
            len(listing["tables"]),
            "tables,",
            os.path.getsize(out / f"{NAME}.zip") // 1000,
            "kB and",
            len(text) // 1000,
            "kB",
        )


if __name__ == "__main__":
    main()
