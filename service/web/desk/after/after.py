"""After the show: GET /after/N; whether the edition is on air, between which times it was, and what of it is confirmed."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from flask import Blueprint, Response, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.exports.after_show_files import remaining_file, remains_of, what_stood
from moondesk.service.programme.as_run import Run
from moondesk.service.programme.editions import next_to_air
from moondesk.service.programme.rundown import length_words
from moondesk.service.settings.config import Programme
from moondesk.service.store import as_run, episodes, replies
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.studio.after_show import AfterShow, AiredPicture, after_show, confirm
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, render, storage
from moondesk.service.web.making import studio
from moondesk.service.web.public.form import NoTimeError, local_time

after = Blueprint("after", __name__)

NUMBER = "<int(max=9007199254740991):number>"
#: What was done, as the address of the page after it says.
DONE = {
    "on": "The edition is on air: what is shown from now on counts.",
    "off": "The edition is off air.",
    "times": "The times were changed.",
    "confirmed": "Noted. The senders' receipts say that their pictures were on air.",
}
VIEWS = {
    "as_sent": "as sent",
    "upright": "upright",
    "named": "with names",
    "close_up": "close-up",
    "relit": "in another light",
    "against": "beside another evening",
}
#: How far the reply to a sender is; None: nothing was written yet.
THANKS: Mapping[replies.State | None, str] = {
    None: "to be thanked",
    "draft": "to be thanked: a draft is saved",
    "approved": "thanks approved",
    "sending": "thanks on the way",
    "sent": "has had a reply",
    "failed": "the reply did not arrive",
    "unknown": "whether the reply arrived is not known",
}
#: Files that remain, with what each is for.
FILES = (
    ("chapters.txt", "Chapters, for a video’s description"),
    ("chapters.vtt", "Chapters, for a player"),
    ("subtitles.srt", "Subtitles (SRT)"),
    ("subtitles.vtt", "Subtitles (WebVTT)"),
    ("credits.txt", "Credits: everyone whose picture was on air, as each wishes to be named"),
    ("spelling.csv", "Spelling list for who writes captions"),
    ("as-run.csv", "What was on air, as a table"),
)


@dataclass(frozen=True, kw_only=True)
class RunView:
    """A line of the log in words. at: by the programme's clock."""

    at: str
    seconds: str
    what: str
    how: str
    credit: str


@dataclass(frozen=True, kw_only=True)
class PictureView:
    """told: how long it stood, or that it did not; doubt: what to look at before it is confirmed; thanks: how far the
    reply to its sender is."""

    item_id: int
    picture_id: int
    image: str
    sender: str
    credit: str
    told: str
    doubt: str
    thanks: str
    to_confirm: bool
    confirmed: bool


@dataclass(frozen=True, kw_only=True)
class AfterPage:
    """unsaid: there is a text that nobody has confirmed as spoken. begin, end: of the time on air, as the form has them, by the programme's clock; planned: nobody noted them, they
    are the edition's own."""

    programme: Programme
    token: str
    number: int
    editions: tuple[int, ...]
    is_on: bool
    planned: bool
    begin: str
    end: str
    zone: str
    length: str
    runs: tuple[RunView, ...]
    rehearsed: int
    pictures: tuple[PictureView, ...]
    to_confirm: int
    unsaid: bool
    files: tuple[tuple[str, str], ...]
    done: str
    notice: str


@after.get("/after")
def following() -> AnyResponse:
    """The page of the edition that was on air last, else of the next."""
    editions, now = list_editions(storage()), sessions.now()
    aired = [e for e in editions if e.plan.air_utc and e.plan.air_utc <= now]
    edition = max(aired, key=lambda e: e.plan.number) if aired else next_to_air(editions, config().next_edition, now)
    if edition is None:
        return redirect(url_for("editions.listed"), 303)
    return redirect(url_for("after.page", number=edition.plan.number), 303)


@after.get(f"/after/{NUMBER}")
def page(number: int) -> str:
    return _page(number)


@after.post(f"/after/{NUMBER}/on-air")
def switch(number: int) -> AnyResponse:
    """Say that the edition is on air from now, or (with `off`) off it."""
    edition, now = read_edition(storage(), number), sessions.now()
    if request.form.get("off"):
        as_run.go_off_air(storage(), edition.id, now)
        return _back(number, "off")
    as_run.go_on_air(storage(), edition.id, sessions.actor().name, now)
    return _back(number, "on")


@after.post(f"/after/{NUMBER}/times")
def set_times(number: int) -> AnyResponse:
    """Put the times right between which it was on air."""
    edition = read_edition(storage(), number)
    begin, end = (_typed_time(request.form.get(name, "")[:40]) for name in ("begin", "end"))
    try:
        as_run.set_on_air_time(storage(), edition.id, begin, end, sessions.actor().name)
    except ValueError:
        raise BadInputError("It ends before it begins: nothing was changed.", "Look at both times.") from None
    return _back(number, "times")


@after.post(f"/after/{NUMBER}/confirm")
def confirm_seen(number: int) -> AnyResponse:
    """Note the ticked pictures as on air, each from when the log has it."""
    edition, now = read_edition(storage(), number), sessions.now()
    ticked = {int(k) for k in request.form.getlist("item") if k.isascii() and k.isdigit() and len(k) < 17}
    show = after_show(studio(), edition, now)
    if not confirm(studio(), show, ticked, sessions.actor().name, now):
        raise BadInputError(
            "Nothing was noted.", "Tick the pictures that were on air; load the page again if it is old."
        )
    return _back(number, "confirmed")


@after.get(f"/after/{NUMBER}/files/<name>")
def file(number: int, name: str) -> Response:
    """One of the files that remain."""
    data = remaining_file(studio(), read_edition(storage(), number), name, sessions.now())
    if data is None:
        raise NotStoredError("There is no such file.", "Go back to the edition's page.")
    kind = name.rpartition(".")[2]
    return Response(
        data,
        mimetype={"vtt": "text/vtt", "srt": "application/x-subrip", "csv": "text/csv"}.get(kind, "text/plain"),
        headers={"Content-Disposition": f'attachment; filename="{number}-{name}"'},
    )


@after.get(f"/after/{NUMBER}/everything.zip")
def everything(number: int) -> Response:
    """All that remains, with the evening's page, as one archive."""
    made = remains_of(studio(), read_edition(storage(), number), sessions.now())
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in made.files.items():
            packed = zipfile.ZIP_STORED if name.endswith(".jpg") else zipfile.ZIP_DEFLATED
            archive.writestr(zipfile.ZipInfo(f"edition-{number}/{name}"), data, packed)
    return Response(
        out.getvalue(),
        mimetype="application/zip",
        headers={"Content-Disposition": f'attachment; filename="edition-{number}.zip"'},
    )


@after.app_template_global()
def is_on_air(number: int) -> bool:
    """Whether somebody has said that an edition is on air, for the switch on the windows that drive it."""
    times = as_run.on_air_times(storage(), read_edition(storage(), number).id)
    return any(time.end_utc is None for time in times)


def _back(number: int, done: str) -> AnyResponse:
    return redirect(url_for("after.page", number=number, done=done), 303)


def _typed_time(text: str) -> datetime:
    try:
        when, doubt = local_time(text, config().programme.zone)
    except NoTimeError as error:
        raise BadInputError("The times were not changed.", str(error)) from None
    if when is None:
        raise BadInputError("The times were not changed.", str(doubt) or "Write both times.")
    return when


def _page(number: int) -> str:
    edition, now = read_edition(storage(), number), sessions.now()
    show = after_show(studio(), edition, now)
    written = episodes.episode(storage(), edition.id)
    names, zone = _names(show), ZoneInfo(config().programme.zone)
    begin, end = (show.times[0].begin_utc, show.times[-1].end_utc) if show.times else (None, None)
    return render(
        "after.html",
        AfterPage(
            programme=config().programme,
            token=sessions.form_token(),
            number=number,
            editions=tuple(sorted((e.plan.number for e in list_editions(storage())), reverse=True)),
            is_on=show.is_on,
            planned=not show.noted,
            begin=f"{begin.astimezone(zone):%Y-%m-%dT%H:%M:%S}" if begin else "",
            end=f"{end.astimezone(zone):%Y-%m-%dT%H:%M:%S}" if end else "",
            zone=config().programme.zone,
            length=length_words(round(sum(run.seconds for run in show.runs))),
            runs=tuple(_run(run, names, zone) for run in show.runs),
            rehearsed=show.rehearsed,
            pictures=tuple(_picture(p, p in show.to_confirm) for p in show.pictures),
            to_confirm=len(show.to_confirm),
            unsaid=bool(show.times and written.items and written.spoken_utc is None),
            files=FILES if written.items else tuple(f for f in FILES if "subtitles" not in f[0]),
            done=DONE.get(request.args.get("done", ""), ""),
            notice="",
        ),
    )


def _names(show: AfterShow) -> dict[int, str]:
    """Senders by item, of what may be shown."""
    return {p.item.id: p.sender for p in show.pictures if not p.stops}


def _run(run: Run, names: dict[int, str], zone: ZoneInfo) -> RunView:
    layers = [title for kind, title in run.step.layers if kind != "spotlight" and title != run.step.feature]
    view = VIEWS.get(run.step.view, run.step.view)
    return RunView(
        at=f"{run.begin_utc.astimezone(zone):%H:%M:%S}",
        seconds=f"{run.seconds:.0f} s",
        what=what_stood(run, names),
        how=", ".join(filter(None, (" ".join((view, run.step.feature)).strip(), *layers))),
        credit=run.step.credit if run.step.item_id in names else "",
    )


def _picture(picture: AiredPicture, to_confirm: bool) -> PictureView:
    shown, summary = picture.shown, picture.listed.summary
    reply = replies.reply_of(storage(), picture.listed.picture.submission.id)
    told = f"{shown.seconds:.0f} s on air" if shown else "not on air by the log"
    doubt = " ".join(picture.stops)
    if shown and not shown.counts:
        doubt = doubt or "Too short to have been seen: it counts as not on air."
    elif shown and shown.credit and shown.credit_seconds < 3:
        doubt = doubt or "Its credit was hardly to be seen."
    elif shown and not shown.credit:
        doubt = doubt or "No name was shown with it."
    return PictureView(
        item_id=picture.item.id,
        picture_id=picture.listed.picture.id,
        image=summary.derived_key if summary and not picture.stops else "",
        sender="Taken back" if picture.stops else picture.sender,
        credit="" if picture.stops else (shown.credit if shown and shown.credit else picture.credit),
        told=told,
        doubt=doubt,
        thanks="" if picture.stops else THANKS[reply.state if reply else None],
        to_confirm=to_confirm,
        confirmed=picture.was_on_air,
    )
