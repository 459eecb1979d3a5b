"""Comparing pictures: the page, and each picture in the common frame."""

from __future__ import annotations

from flask import Blueprint, Response, request, send_file

from moondesk.records import NotFound
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.jobs.comparison_pictures import find_frame, photo_in_frame
from moondesk.service.jobs.missing_pictures import redraw_missing
from moondesk.service.programme.editions import next_to_air
from moondesk.service.programme.picture_choice import comparison_worth, two_evenings
from moondesk.service.programme.ranking import rate
from moondesk.service.store import inbox as finding
from moondesk.service.store.aired import appearances
from moondesk.service.store.annotations import read_annotation, read_derived_key
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.inbox import PictureFilter
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.web.access.sessions import now
from moondesk.service.web.current import calendar, config, render, storage
from moondesk.service.web.desk.comparing.compare_page import MOST, Compared, choosing_page, common_frame, compare_page
from moondesk.service.web.desk.views import PICTURE_ID
from moondesk.service.web.making import workshop

compare = Blueprint("compare", __name__)

#: Pictures to choose from, of an edition.
LISTED = 60


@compare.get("/compare")
def page() -> str:
    """?pictures=1,2,3 (two to four, or repeated), or ?edition=N: its evening against the last; neither: choose."""
    part = "whole" if request.args.get("part") == "whole" else "shared"
    ids = _ids(",".join(request.args.getlist("pictures")))
    editions = list_editions(storage())
    asked = request.args.get("edition", "")
    if ids:
        return render("compare.html", compare_page(config().programme, calendar(), [_member_of(k) for k in ids], part))
    edition = read_edition(storage(), _number(asked)) if asked else next_to_air(editions, config().next_edition, now())
    listed = _candidates(edition, editions)
    if asked and edition:
        pair = _evening_and_last(edition, listed)
        if not isinstance(pair, NotFound):
            return render("compare.html", compare_page(config().programme, calendar(), pair, part, edition.plan.number))
        note = f"{pair.reason} {pair.advice}"
    else:
        note = ""
    number = edition.plan.number if edition and not note else None
    return render("compare.html", choosing_page(config().programme, calendar(), listed, number, note))


@compare.get(f"/compare/{PICTURE_ID}/frame.jpg")
def frame(picture_id: int) -> Response:
    """A picture in the frame that it has in common with ?with=1,2,3. v: version, served at once where it is kept."""
    sha, key = read_picture(storage(), picture_id).enclosure.sha256, read_derived_key(storage(), picture_id)
    path = None
    if sha and key:
        media = Media(config().data_dir)
        path = find_frame(media, sha, key, request.args.get("v", ""))
        if path is None:
            ids = _ids(request.args.get("with", ""))
            together = [_member_of(k) for k in ids] if picture_id in ids else []
            own = next((c.framed for c in together if c.picture.id == picture_id), None)
            common = common_frame(together, request.args.get("part", "shared"))
            if own and common:
                redraw_missing(storage(), media, workshop().run, picture_id)
                path = photo_in_frame(media, workshop().run, sha, key, own, common)
    if path is None:
        raise NotStoredError(
            "This picture is not in a common frame: it is not surely placed, or not there any more.",
            "Go back to the page that compares.",
        )
    response = send_file(path, mimetype="image/jpeg", conditional=True, max_age=3600)
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response


def _member_of(picture_id: int) -> Compared:
    return Compared(read_picture(storage(), picture_id), read_annotation(storage(), picture_id))


def _candidates(edition: Edition | None, editions: tuple[Edition, ...]) -> tuple[ListedPicture, ...]:
    """The last pictures of an edition and of the one before it."""
    if edition is None:
        return ()
    before = [e for e in editions if e.plan.number < edition.plan.number][:1]
    ids = [k for e in (edition, *before) for k in finding.find(storage(), PictureFilter(edition_id=e.id), LISTED)]
    return list_by_id(storage(), ids)


def _evening_and_last(edition: Edition, listed: tuple[ListedPicture, ...]) -> list[Compared] | NotFound:
    rated = rate(listed, appearances(storage(), before=edition.plan.number), config().weights).of

    def rank(p: ListedPicture) -> float:
        found = rated.get(p.picture.id)
        return found.total if found else p.picture.enclosure.size_bytes / 1e12  # unrated: at least the larger file

    found = two_evenings(edition, listed, calendar(), rank)
    if isinstance(found, NotFound):
        return found
    pair = []
    for some in (found.last, found.this):
        looked_at = [_member_of(p.picture.id) for p in some]
        pair.append(max(looked_at, key=lambda c: comparison_worth(c.annotation) if c.annotation else 0.0))
    return pair


def _ids(text: str) -> list[int]:
    """Ids of an address, each once; none where there is no text. Raises BadInputError."""
    if not text.strip(", "):
        return []
    parts = [p.strip() for p in text.split(",") if p.strip()]
    if not all(p.isascii() and p.isdigit() and len(p) < 16 for p in parts):
        raise BadInputError("The pictures to compare are named by their numbers.", "Choose them again.")
    ids = list(dict.fromkeys(int(p) for p in parts))
    if not 2 <= len(ids) <= MOST:
        count = "one picture is" if len(ids) == 1 else f"{len(ids)} pictures are"
        raise BadInputError(f"Two to four pictures can be compared; {count} chosen.", "Go back and choose again.")
    return ids


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise BadInputError(f"“{text[:20]}” is no edition.", "Editions have numbers.")
    return int(text)
