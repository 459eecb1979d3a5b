"""The prompter: GET /air/N/prompter, the episode's text as it is read from a screen or a phone, and what its marks put on
air. It drives the page on air through the same state as the presenter's window."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, jsonify, request, url_for

from moondesk.script.marks import Spoken, count_words, read_text, write_cue
from moondesk.script.records import Cue
from moondesk.service.errors import BadInputError
from moondesk.service.programme.credit import credit_words
from moondesk.service.programme.episode_steps import CueStep
from moondesk.service.programme.spoken_text import measured_rate, seconds_of
from moondesk.service.settings.config import Programme
from moondesk.service.store.editions import read_edition
from moondesk.service.store.episode_items import EpisodeItem
from moondesk.service.store.rundowns import rundown
from moondesk.service.studio.episode_texts import EpisodeDesk
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, render, storage
from moondesk.service.web.desk.episode.episode_page import title_of
from moondesk.service.web.desk.onair.onair import recent_plan
from moondesk.service.web.making import studio

prompter = Blueprint("prompter", __name__)

NUMBER = "<int(max=9007199254740991):number>"
#: How old the plan may be by which marks are steps, seconds: the windows fetch their own.
PLAN_S = 8.0
#: Stretches between two steps that are looked at for a speaker's pace.
MOST_STRETCHES = 2_000


@dataclass(frozen=True, kw_only=True)
class PrompterPage:
    """text, plan, state, socket, pace, keep: addresses."""

    programme: Programme
    edition: int
    text: str
    plan: str
    state: str
    socket: str
    pace: str
    keep: str
    token: str
    zone: str


@prompter.get(f"/air/{NUMBER}/prompter")
def page(number: int) -> str:
    number = read_edition(storage(), number).plan.number
    return render(
        "prompter.html",
        PrompterPage(
            programme=config().programme,
            edition=number,
            text=url_for("prompter.text", number=number),
            plan=url_for("air.plan", number=number),
            state=url_for("air.state", number=number),
            socket=url_for("control.by_log_in", number=number),
            pace=url_for("prompter.pace", number=number),
            keep=url_for("episode.set_rate", number=number),
            token=sessions.form_token(),
            zone=config().programme.zone,
        ),
    )


@prompter.get(f"/air/{NUMBER}/prompter/text.json")
def text(number: int) -> Response:
    """What may be spoken now, with the state of the page on air that each mark means."""
    desk = EpisodeDesk(studio(), read_edition(storage(), number))
    plan = recent_plan(desk.edition, PLAN_S)
    steps = desk.steps(plan, desk.spoken)
    told = {
        "rate": desk.rate,
        "given": rundown(storage(), desk.edition.id).seconds,
        "items": [_item(item, steps[item.id], desk.rate) for item in desk.spoken],
        "spoken": _spoken_names(desk),
    }
    mark = hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:16]
    return jsonify({**told, "mark": mark})


@prompter.post(f"/air/{NUMBER}/prompter/pace")
def pace(number: int) -> Response:
    """The rate of what was spoken: [[words, seconds], ...] in; null where that is too little to tell."""
    read_edition(storage(), number)
    sent = request.get_json(silent=True)
    if not isinstance(sent, list) or len(sent) > MOST_STRETCHES or not all(_is_stretch(one) for one in sent):
        raise BadInputError("A pace is told by stretches of words and seconds.", "Load the page again.")
    return jsonify(rate=measured_rate([(int(words), float(seconds)) for words, seconds in sent]))


def _is_stretch(told: Any) -> bool:
    return isinstance(told, list) and len(told) == 2 and all(type(n) in (int, float) and 0 <= n < 100_000 for n in told)


def _item(item: EpisodeItem, steps: tuple[CueStep, ...], rate: int) -> dict[str, Any]:
    parts: list[dict[str, Any]] = []
    marks = iter(steps)
    for part in read_text(item.text):
        if isinstance(part, Cue):
            step = next(marks)
            state = None if step.stand is None else step.stand.as_json()
            parts.append(
                {"cue": write_cue(part)[1:-1], "state": state, "why": step.why.reason if step.why is not None else ""}
            )
        elif isinstance(part, Spoken):
            parts.append({"say": part.text, "paragraph": part.paragraph, "sentence": part.sentence})
        else:
            parts.append({"note": part.text})
    seconds = seconds_of(count_words(item.text), item.seconds, rate)
    return {"id": item.id, "title": title_of(item), "seconds": seconds, "parts": parts}


def _spoken_names(desk: EpisodeDesk) -> dict[str, str]:
    """How names in the text are said: senders' as the rundown has it, features' as the presenter saved it, or by rule."""
    every, language = " ".join(item.text for item in desk.spoken), desk.studio.language
    found: dict[str, str] = {}
    for iau in desk.features:
        how = language.said(iau)
        if how:
            found |= {name: how for name in desk.titles(iau) if name in every}
    for item in rundown(desk.studio.storage, desk.edition.id).items:
        listed = desk.listed.get(item.id)
        if item.pronunciation and listed is not None:
            name = credit_words(item, listed)[0]
            if name and name in every:
                found[name] = item.pronunciation
    return found
