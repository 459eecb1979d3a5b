"""Sends approved replies, one after the other: claimed in the store, built from it, sent, settled."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from PIL import Image

from moondesk.records import NotFound
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.exports.share_card import card_of, plan_card
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.replies.message import From, OutgoingMail, is_address, mail_of
from moondesk.service.replies.smtp import Outcome, Security, Server, send
from moondesk.service.settings.config import SMTP_PASSWORD, Config
from moondesk.service.settings.secret_words import read_secret
from moondesk.service.store import replies
from moondesk.service.store.annotations import read_derived_key
from moondesk.service.store.media import Media
from moondesk.service.store.messages import message
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.replies import Reply, State
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import submission
from moondesk.service.studio import Studio

#: Longer side and quality of the picture that goes with a reply: legible, and small enough for every mailbox.
PICTURE_PX, QUALITY = 1600, 85
#: Which derived picture goes with a reply: north up, not mirrored, with its names.
SENT = "upright"

#: Sends one mail: server, sender, recipient, bytes.
Send = Callable[[Server, str, str, bytes], Outcome]


@dataclass(frozen=True)
class Post:
    """Where mails go and from whom."""

    server: Server
    sender: From


def post_of(config: Config) -> Post | None:
    """As moondesk.toml says under [smtp]; None where it says nothing. Raises BadInputError for what cannot be."""
    told = config.smtp
    if not told:
        return None
    sender = From(
        str(told.get("name", config.programme.name)), str(told.get("address", "")), str(told.get("reply_to", ""))
    )
    if not told.get("host") or not is_address(sender.address):
        raise BadInputError(
            "[smtp] in moondesk.toml wants host and address.",
            'Write host = "mail.example.org" and address = "moon@example.org" there.',
        )
    security = str(told.get("security", "starttls"))
    if security not in ("starttls", "tls", "plain"):
        raise BadInputError(f"[smtp] security is starttls, tls or plain, not {security!r}.", "Correct the value.")
    if security == "plain" and told.get("user"):
        raise BadInputError("[smtp] would send the password in the clear.", 'Set security = "starttls" or "tls".')
    user = str(told.get("user", ""))
    file = told.get("password_file")
    password = (
        read_secret(Path(file) if file else None, SMTP_PASSWORD, "the mail server", "[smtp] password_file", again=True)
        if user
        else ""
    )
    security_known: Security = security  # type: ignore[assignment]
    port = int(told.get("port", 465 if security == "tls" else 587))
    return Post(
        Server(
            host=str(told["host"]),
            port=port,
            security=security_known,
            user=user,
            password=password,
            ca_file=str(told.get("ca_file", "")),
        ),
        sender,
    )


def send_due(
    storage: Storage,
    config: Config,
    post: Post,
    now: Callable[[], datetime],
    queued: bool = False,
    send_one: Send = send,
) -> Iterator[tuple[Reply, State, str]]:
    """Send what is approved and due; each as (reply, its state then, a sentence). queued: what is queued alone."""
    replies.settle_abandoned(storage, now())
    while (reply := replies.claim(storage, now(), queued)) is not None:
        try:
            mail = mail_bytes(storage, config, post.sender, reply, now())
        except (ValueError, NotStoredError) as error:
            outcome = Outcome("failed", message("mail_not_made", why=error))
        else:
            outcome = send_one(post.server, post.sender.address, reply.to, mail)
        yield reply, replies.settle(storage, reply, outcome.ending, outcome.message, now()), outcome.words


def mail_bytes(storage: Storage, config: Config, sender: From, reply: Reply, when: datetime) -> bytes:
    """The reply as it goes out. Raises ValueError for an address that is none, or where the picture that its words
    promise is not drawn (placed anew since), or its card is not the one that was seen; NotStoredError."""
    answers = submission(storage, reply.submission_id).submission.arrival.message_id
    picture = labelled_picture(storage, Media(config.data_dir), reply.picture_id) if reply.picture_id else None
    if reply.picture_id and picture is None:
        raise ValueError("the labelled picture that goes with it is not drawn. Open the reply and approve it anew.")
    written = OutgoingMail(reply.to, reply.subject, reply.body, reply.message_id)
    card = seen_card(Studio(storage, config), reply.card) if reply.card else None
    return mail_of(sender, written, when, answers, picture, card=card)


def seen_card(studio: Studio, card: str) -> bytes:
    """The card of a reply, PNG. Raises ValueError where there is none any more, or another."""
    number, _, mark = card.partition(":")
    planned = plan_card(studio, int(number), "feed")
    if isinstance(planned, NotFound):
        raise ValueError(f"its card cannot be made. {planned.reason} Open the reply and approve it anew.")
    if planned.mark != mark:
        raise ValueError("its card is another by now. Open the reply, look at it, and approve it anew.")
    made = card_of(studio, int(number), "feed")
    if isinstance(made, NotFound):
        raise ValueError(f"its card cannot be made. {made.reason} Open the reply and approve it anew.")
    return made


def labelled_picture(storage: Storage, media: Media, picture_id: int) -> bytes | None:
    """The upright copy with its names, reduced, without any metadata; None where none was drawn."""
    found, key = read_picture(storage, picture_id), read_derived_key(storage, picture_id)
    sha = found.enclosure.sha256
    path = media.derived(sha, key, SENT) if sha and key else None
    return at_once(reduce, path.read_bytes()) if path else None


def reduce(engine: Engine, labelled: bytes) -> Picture:
    """Runs in a child."""
    with Image.open(io.BytesIO(labelled)) as drawn:
        plain = Image.frombytes("RGB", drawn.size, drawn.convert("RGB").tobytes())  # pixels alone
    plain.thumbnail((PICTURE_PX, PICTURE_PX), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=QUALITY, optimize=True)
    return Picture(out.getvalue())
