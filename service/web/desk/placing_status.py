"""How the placing stands, for the pages that tell it and those that wait for a picture."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from datetime import timedelta

from flask import current_app, jsonify, request
from werkzeug.wrappers import Response

from moondesk.service.jobs.beside_desk import Beside
from moondesk.service.jobs.engine import engine_version
from moondesk.service.programme.words import hour_words
from moondesk.service.store import inbox, queue
from moondesk.service.web.access.sessions import now
from moondesk.service.web.current import config, storage
from moondesk.service.web.desk.placing_words import Standing, progress_words, standing_of
from moondesk.service.web.desk.views import desk


def words() -> tuple[str, int]:
    """The work in words ("": nothing waits and all is well), and a number that grows with every picture placed."""
    counts = queue.counts(storage(), engine_version(), now())
    placed, latest = inbox.progress(storage(), (now() - timedelta(minutes=1)).isoformat())
    beside: Beside | None = current_app.extensions.get("moondesk.placing")
    trouble = command = ""
    if beside is None:
        command = f"moondesk work --follow --data {shlex.quote(str(config().data_dir))}"
    elif beside.trouble is not None:
        since = hour_words(beside.trouble.since_utc, config().programme.zone)
        trouble = f"Placing has stopped since {since}: {beside.trouble.sentence}"
    return progress_words(counts.waiting, counts.leased, placed, trouble, command), latest


def standing(picture_ids: Sequence[int]) -> Standing:
    """How pictures stand, for a page that waits for them."""
    return standing_of(tuple(picture_ids), queue.states(storage(), picture_ids, now()), words()[0])


@desk.get("/standing")
def of_pictures() -> Response:
    """The same for the page's script: p, as often as there are pictures."""
    asked = [int(p) for p in request.args.getlist("p")[:200] if p.isascii() and p.isdigit() and len(p) < 16]
    told = standing(asked)
    return jsonify(words=told.words, state=told.state)
