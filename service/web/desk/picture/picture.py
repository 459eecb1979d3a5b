"""One picture's page, its files and what its scripts ask for. Only derived pictures leave through it, no original."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict, replace
from typing import Any, Literal

from flask import Response, jsonify, request

from moondesk.records import NotFound
from moondesk.service.errors import DeskError, NotStoredError
from moondesk.service.exports.share_card import card_of
from moondesk.service.jobs.missing_pictures import at_hand
from moondesk.service.jobs.turned_layouts import FINER, VIEWS, lay_out
from moondesk.service.programme.editions import next_to_air, not_aired
from moondesk.service.programme.evenings import older_words
from moondesk.service.programme.permission import permission_of
from moondesk.service.programme.ranking import rate
from moondesk.service.programme.sorting import sort_picture
from moondesk.service.programme.words import hour_words
from moondesk.service.store import rundowns
from moondesk.service.store.aired import appearances
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.decisions import decisions_of
from moondesk.service.store.editions import list_editions
from moondesk.service.store.letter_facts import facts_of
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id, neighbours_of, read_picture
from moondesk.service.store.questions import questions_of
from moondesk.service.store.records import SentPicture, StoredAnnotation
from moondesk.service.store.submissions import submission
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, config, render, storage
from moondesk.service.web.desk import placing_status
from moondesk.service.web.desk.inbox.questions_page import ask_form, question_rows, usable_pictures
from moondesk.service.web.desk.picture import picture_data
from moondesk.service.web.desk.picture.layers import OverlayMarkup, overlay_markup
from moondesk.service.web.desk.picture.letter_facts_page import letter_view
from moondesk.service.web.desk.picture.pairs import pairs_shown
from moondesk.service.web.desk.picture.picture_page import HeldValue, picture_page
from moondesk.service.web.desk.views import PICTURE_ID, desk
from moondesk.service.web.making import KEPT_SECONDS, derived_picture, letter_text, roles_at_hand, studio, workshop


@desk.get(f"/pictures/{PICTURE_ID}")
def picture(picture_id: int) -> str:
    found = read_picture(storage(), picture_id)
    stored = read_annotation(storage(), picture_id)
    media = Media(config().data_dir)
    available: tuple[str, ...] = ()
    overlay: OverlayMarkup | None = None
    sha = found.enclosure.sha256
    if stored and sha:
        drawn = None
        with suppress(DeskError):  # the page does without what cannot be drawn
            run = workshop().run
            at_hand(media, run, sha, stored.derived_key, stored.annotation)
            drawn = at_hand(media, run, sha, stored.derived_key, stored.annotation, "overlay")
        available = roles_at_hand(media, sha, stored)
        overlay = overlay_markup(drawn.read_text(encoding="utf-8")) if drawn and "photo" in available else None
    editions = list_editions(storage())
    edition = next(e for e in editions if e.id == found.submission.edition_id)
    following = next_to_air(editions, config().next_edition, sessions.now())
    planned = following if following and edition not in not_aired(editions, sessions.now()) else edition
    (listed,) = list_by_id(storage(), [picture_id])
    held = HeldValue(
        picture=found,
        stored=stored,
        edition_number=edition.plan.number,
        neighbours=neighbours_of(storage(), picture_id),
        decisions=decisions_of(storage(), picture_id),
        may=permission_of(listed, config().entry_terms),
        available=available,
        overlay=overlay,
    )
    arrival = found.submission.arrival
    text = letter_text(found.submission.id)
    page = picture_page(held, config().programme, calendar(), sessions.form_token())
    ranking = rate([listed], appearances(storage(), before=edition.plan.number), config().weights)
    usable = sort_picture(listed, config().entry_terms).group in ("ready", "look")
    return render(
        "picture.html",
        replace(
            page,
            letter=letter_view(arrival, text, facts_of(storage(), found.submission.id), config().programme.zone),
            pairs=pairs_shown(storage(), config().programme.zone, picture_id),
            rated=ranking.of.get(picture_id),
            picks_for=planned.plan.number,
            picked=picture_id in rundowns.picked_ids(storage(), planned.id) if usable else None,
            older=older_words(listed),
            questions=question_rows(
                questions_of(storage(), [found.submission.id]), config().programme.zone, sessions.now()
            ),
            ask=None
            if found.enclosure.refused
            else ask_form(
                config(),
                picture_id,
                found.submission.arrival,
                usable_pictures(submission(storage(), found.submission.id)),
            ),
            standing=told if (told := placing_status.standing([picture_id])).waits and stored is None else None,
        ),
    )


@desk.get(f"/pictures/{PICTURE_ID}/<role>")
def derived(picture_id: int, role: str) -> Response:
    return derived_picture(picture_id, role.partition(".")[0])


@desk.get(f"/pictures/{PICTURE_ID}/features.json")
def features(picture_id: int) -> Response:
    """What lies where in the picture and how well it is seen, for hovering, tapping and searching."""
    return jsonify(picture_data.features_json(_find_annotation(picture_id)[1].annotation))


@desk.get(f"/pictures/{PICTURE_ID}/surface.json")
def surface(picture_id: int) -> Response:
    """The pose, for measuring on the Moon."""
    workshop().warm()  # whoever looks at a picture may correct it next, and is not to wait for the core then
    return jsonify(picture_data.surface_json(_find_annotation(picture_id)[1].annotation))


@desk.get(f"/pictures/{PICTURE_ID}/views/<view>.json")
def view(picture_id: int, view: str) -> Response:
    """Another view of the picture: where its pixels lie, and the overlay for it."""
    _, stored = _find_annotation(picture_id)
    text = {f"{size:g}": size for size in FINER}.get(request.args.get("text", "1"))
    if view not in VIEWS or text is None:
        raise NotStoredError("There is no such view of this picture.", "Go back to its page.")
    laid = workshop().run(lay_out, stored.annotation, view, config().programme.place, text)
    if isinstance(laid, NotFound):
        return jsonify(notice=f"{laid.reason} {laid.advice}".strip())
    told: dict[str, Any] = {k: v for k, v in asdict(laid).items() if k in ("matrix", "box", "font_px")}
    overlay = overlay_markup(laid.svg)
    if laid.utc is not None and laid.altitude_deg is not None:
        at = hour_words(laid.utc, config().programme.zone)
        told["words"] = (
            f"As the eye sees it from the programme's place at {at}, the Moon {laid.altitude_deg:.0f}° "
            "high; the top of the picture points to the zenith."
        )
    return jsonify(**told, markup=overlay.markup if overlay else "")


@desk.get("/names.json")
def names() -> Response:
    """Names that may be set on a picture by hand."""
    response = jsonify(picture_data.well_known())
    response.headers["Cache-Control"] = f"private, max-age={KEPT_SECONDS}"
    return response


@desk.get(f"/pictures/{PICTURE_ID}/card-<any('feed', 'story'):shape>.png")
def card(picture_id: int, shape: Literal["feed", "story"]) -> Response:
    """The sender's own picture as a card, while it may be shown."""
    made = card_of(studio(), picture_id, shape)
    if isinstance(made, NotFound):
        raise NotStoredError(made.reason, made.advice)
    how = "inline" if request.args.get("v") else "attachment"  # with a reply it is looked at
    name = f"card-{picture_id}-{shape}.png"
    return Response(
        made,
        mimetype="image/png",
        headers={"Content-Disposition": f'{how}; filename="{name}"', "Cache-Control": "private, no-store"},
    )


def _find_annotation(picture_id: int) -> tuple[SentPicture, StoredAnnotation]:
    found, stored = read_picture(storage(), picture_id), read_annotation(storage(), picture_id)
    if stored is None:
        raise NotStoredError("This picture has not been placed yet.", "Look again in a moment.")
    return found, stored
