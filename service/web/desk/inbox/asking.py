"""Asking a sender by a link: what the desk keeps, the link, and the line for a mail."""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.service.errors import BadInputError
from moondesk.service.languages import REPLY_LANGUAGES
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.questions import consent_asked, question_words
from moondesk.service.replies.question_line import question_line
from moondesk.service.store import questions
from moondesk.service.store.records import QuestionKind, SentPicture
from moondesk.service.store.submissions import submission
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, storage
from moondesk.service.web.desk.inbox.questions_page import KINDS, NO_ADDRESS, language_told, usable_pictures


@dataclass(frozen=True)
class Asked:
    """A question just made. url: its link, which cannot be shown again; line: the sentence for a mail."""

    id: int
    url: str
    line: str


def kind_of(name: str) -> QuestionKind:
    """Raises BadInputError."""
    for kind in KINDS:
        if kind == name:
            return kind
    raise BadInputError("There is no such question.", "Go back and choose one of those that are offered.")


def ask_by_link(picture: SentPicture, kind: QuestionKind, language: str, whole: bool) -> Asked:
    """whole: about all pictures of the submission. language: "" leaves it to the reader's browser. Raises DeskError."""
    here = config()
    if not here.public.address:
        raise BadInputError(*NO_ADDRESS)
    of = submission(storage(), picture.submission.id)
    count = usable_pictures(of) if whole else 1
    about = None if kind == "name" or (whole and kind != "taken") else picture.id
    language = language if language in REPLY_LANGUAGES else ""
    said = Language(language or language_told(picture.submission.arrival, here.programme.language))
    words = said.write(question_words(kind, here.programme.name, count))
    question_id, token = questions.ask(
        storage(),
        picture.submission.id,
        about,
        kind,
        language,
        sessions.actor().name,
        sessions.now(),
        here.public.question_days,
        consent_asked(kind, words, sessions.actor().name, about),
    )
    return asked_again(question_id, token, kind, said)


def asked_again(question_id: int, token: str, kind: QuestionKind, language: Language) -> Asked:
    """The link and the line of a question whose token is at hand."""
    url = f"{config().public.address}/q/{token}"
    return Asked(question_id, url, language.write(question_line(kind, url)))
