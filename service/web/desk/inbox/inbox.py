"""The inbox's routes: the first page of the desk, and how the work stands."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Literal

from flask import Response, jsonify, request

from moondesk.service.programme.editions import edition_view, next_to_air
from moondesk.service.programme.ranking import rate
from moondesk.service.programme.sorting import GROUPS, sort_picture
from moondesk.service.store import inbox as finding
from moondesk.service.store import letters, rundowns, turned_away
from moondesk.service.store.aired import appearances
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.inbox import PictureFilter
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Edition
from moondesk.service.web.access.sessions import form_token, now
from moondesk.service.web.current import calendar, config, render, storage
from moondesk.service.web.desk import placing_status
from moondesk.service.web.desk.inbox.inbox_page import (
    MOST,
    PER_PAGE,
    InboxCard,
    InboxPage,
    InboxQuery,
    PlacingProgress,
    choices_of,
    groups_of,
    item_of,
    narrow,
    words_for_turned_away,
)
from moondesk.service.web.desk.inbox.letters import cards_of
from moondesk.service.web.desk.views import desk

#: Letters shown above the pictures.
LETTERS = 12


@desk.get("/")
def index() -> str:
    editions = list_editions(storage())
    asked = read_query(request.args)
    edition = edition_asked(asked, editions)
    number = edition.plan.number if edition else None
    asked = replace(asked, left=asked.left and edition is not None)
    wanted = PictureFilter(
        edition_id=edition.id if edition else None,
        words=asked.words,
        or_feature=feature_named(asked.words),
        feature=asked.feature,
        place=asked.place,
        first_time=asked.first_time,
        left_before=number if asked.left else None,
    )
    ids = finding.find(storage(), wanted, MOST + 1)
    items = items_of(ids[:MOST], number, asked.rest)
    fit = narrow(items, asked)
    pages = max(1, -(-len(fit) // PER_PAGE))
    asked = replace(asked, page=min(asked.page, pages))
    note = f"Only the last {MOST:,} that came in are looked through; narrow it further." if len(ids) > MOST else ""
    edition_id = edition.id if edition and not asked.left else None
    unread = letters.unread(storage(), LETTERS) if asked.page == 1 else ()
    planned = edition or (next_to_air(editions, config().next_edition, now()) if editions else None)
    page = InboxPage(
        programme=config().programme,
        edition=edition_view(edition, calendar()) if edition else None,
        editions=(*((str(e.plan.number), f"Edition {e.plan.number}") for e in editions[:200]), ("all", "All editions")),
        asked=asked,
        choices=choices_of(
            asked, items, finding.features_to_choose(storage(), edition_id), finding.places(storage(), edition_id)
        ),
        tally=tuple((g, title, n) for g, title in GROUPS if (n := sum(i.sorted.group == g for i in fit))),
        groups=groups_of(fit, asked, calendar()),
        note=note,
        progress=_progress(),
        pages=pages,
        anything=bool(editions),
        picks_for=planned.plan.number if planned else None,
        picked=rundowns.picked_ids(storage(), planned.id) if planned else frozenset(),
        token=form_token(),
        letters=cards_of(unread),
        more_letters=letters.count_unread(storage()) - len(unread) if unread else 0,
        left=_time_left_words(number),
        turned_away=words_for_turned_away(turned_away.since(storage(), now() - timedelta(days=1))),
    )
    return render("inbox.html", page)


@desk.get("/progress")
def progress() -> Response:
    """How the placing stands, for the page's script."""
    told = _progress()
    return jsonify(words=told.words, latest=told.latest)


def _time_left_words(number: int | None) -> str:
    count = finding.count_left(storage(), number, MOST + 1) if number is not None else 0
    return f"{MOST:,}+" if count > MOST else str(count or "")


def feature_named(words: str) -> str:
    """A feature's name as the catalogue writes it; "" where the words are none."""
    from moondesk.moon.catalogue import named

    found = named(words) if words else None
    return found.name if found else ""


def read_query(args: object) -> InboxQuery:
    """What an address asks for; what cannot be read of it is not asked."""
    get = args.get  # type: ignore[attr-defined]
    order: Literal["rank", "time"] = "time" if get("order") == "time" else "rank"
    text = {name: str(get(name) or "").strip()[:100] for name in ("edition", "q", "shows", "with", "place")}
    return InboxQuery(
        edition=text["edition"],
        words=text["q"],
        day=_whole(get("day")),
        feature=text["shows"],
        equipment=text["with"],
        place=text["place"],
        first_time=get("first") == "1",
        rest=_whole(get("rest")) or 0,
        order=order,
        page=max(_whole(get("page")) or 1, 1),
        left=get("left") == "1",
    )


def edition_asked(asked: InboxQuery, editions: tuple[Edition, ...]) -> Edition | None:
    """The edition that is asked for; None: all of them, or there are none. Raises NotStoredError."""
    number = _whole(asked.edition)
    if number is not None:
        return read_edition(storage(), number)
    if asked.edition == "all" or not editions:
        return None
    return next_to_air(editions, config().next_edition, now())


def items_of(ids: tuple[int, ...], before: int | None, rest: int) -> list[InboxCard]:
    """Pictures by their ids, sorted into groups and rated; see `rate`."""
    listed = list_by_id(storage(), ids)
    new = finding.newcomers(storage(), ids)
    ranking, terms, days = (
        rate(listed, appearances(storage(), before=before), config().weights, rest),
        config().entry_terms,
        calendar(),
    )
    return [
        item_of(
            sort_picture(p, terms, r.concerns if (r := ranking.of.get(p.picture.id)) else ()),
            days,
            p.picture.id in new,
            p.picture.id in ranking.rested,
            ranking.of.get(p.picture.id),
        )
        for p in listed
    ]


def _progress() -> PlacingProgress:
    return PlacingProgress(*placing_status.words())


def _whole(text: object) -> int | None:
    return int(text) if isinstance(text, str) and text.isascii() and text.isdigit() and len(text) < 10 else None
