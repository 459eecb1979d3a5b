"""Closed sets are enumerations, and plain text wherever they leave the program."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from dataclasses import dataclass
from typing import get_args

import fakes
import jinja2
import pytest

from moondesk.codec import annotation_from_json, annotation_to_json
from moondesk.records import ClockVerdict, EveningVerdict, Status
from moondesk.service.jobs.plain_values import NotPlainError, plain_of, read_plain
from moondesk.service.programme import permission, sorting
from moondesk.service.programme.words import clock_words, dated_words, evening_tone, status_words, tone_of
from moondesk.service.store import replies
from moondesk.service.web.desk.inbox import reply


@dataclass(frozen=True)
class Answer:
    status: Status
    others: dict[str, Status]


def test_a_member_is_the_text_of_its_value_everywhere():
    status = Status.NOT_MOON
    assert json.dumps({"status": status}) == '{"status": "not_moon"}'
    assert (f"{status}", str(status), "%s" % status) == ("not_moon",) * 3  # noqa: UP031
    assert list(sqlite3.connect(":memory:").execute("select ?, ? = 'not_moon'", [status, status])) == [("not_moon", 1)]
    assert (
        jinja2.Template("{{ s }} {{ s == 'not_moon' }} {{ {'not_moon': 1}[s] }}").render(s=status) == "not_moon True 1"
    )
    csv.writer(text := io.StringIO()).writerow([status])
    assert text.getvalue() == "not_moon\r\n"


@pytest.mark.parametrize("status", Status)
def test_annotations_come_back_with_their_members(status):
    told = annotation_from_json(annotation_to_json(fakes.bare(status)))
    assert (told.status, told.clock.verdict, told.dated.verdict) == (status, "no_clock", "unknown")
    members = (type(told.status), type(told.clock.verdict), type(told.dated.verdict))
    assert members == (Status, ClockVerdict, EveningVerdict)


def test_children_answer_with_members_and_with_nothing_else():
    text, blobs = plain_of(Answer(Status.ECLIPSE, {"a": Status.UNPLACED}))
    assert json.loads(text) == ["Answer", "eclipse", {"a": "unplaced"}]
    told = read_plain(Answer, text, blobs)
    assert type(told.status) is type(told.others["a"]) is Status
    for wrong in ('["Answer","sunny",{}]', '["Answer",1,{}]', '["Answer",["eclipse"],{}]'):
        with pytest.raises(NotPlainError):
            read_plain(Answer, wrong.encode(), [])


@pytest.mark.parametrize("sure", [True, False])
@pytest.mark.parametrize("status", Status)
def test_every_status_has_its_words_and_facts(status, sure):
    assert status_words(status, sure)
    assert tone_of(status, sure) == (("sure" if sure else "unsure") if status is Status.ANNOTATED else "unplaced")
    facts = status.facts
    assert facts.is_named <= facts.shows_disc <= facts.usable <= facts.opens


@pytest.mark.parametrize("verdict", [*EveningVerdict, None])
def test_every_verdict_on_the_evening_has_its_words(verdict):
    assert bool(dated_words(verdict, "told", "Ann")) is (verdict is not None)
    assert evening_tone(verdict, "told") in ("unsure", "unplaced"), "what a person told is never sure"


def test_every_verdict_on_the_clock_has_its_words():
    assert len({clock_words(verdict) for verdict in ClockVerdict}) == len(ClockVerdict)


@pytest.mark.parametrize(
    ("members", "words"),
    [
        (permission.Reason, permission.WORDS),
        (permission.Reason, sorting.CONCERNS),
        (sorting.Group, dict(sorting.GROUPS)),
        (replies.State, reply.STATE_WORDS),
    ],
    ids=["why not on air", "what to look at", "groups", "replies"],
)
def test_every_member_has_its_words(members, words):
    assert set(words) == set(get_args(members))
    assert all(words.values())
