"""Mails that programs write: told from a person's, and which of ours could not be delivered (RFC 3462, 3464, 3834). Pure.

A form's mail is written by a program for a person, who is named in Reply-To: it counts as the person's unless it says
that it answers by itself.
"""

from __future__ import annotations

import email.message
import re
from collections.abc import Callable, Iterable

from moondesk.service.store.records import Bounce
from moondesk.service.texts import clean_text

WHY_CHARACTERS = 300
MOST_IDS = 20

Head = Callable[[email.message.Message, str], str]
_OWN_REPLY = re.compile(r"(?:^|\n)\s*Message-ID:\s*(<[^<>\s]{3,300}>)", re.IGNORECASE)
_DAEMON = re.compile(r"(?:mailer-daemon|mail-daemon|postmaster|mdaemon)(?:@|$)", re.IGNORECASE)
#: Subjects of notices of absence, where another head says that a program wrote them.
_AWAY = re.compile(
    r"^\W*(?:out of (?:the )?office|automatic reply|auto(?:matic|mated)?[ -]?(?:reply|response)|abwesenheits\w*|automatische antwort"
    r"|réponse automatique|respuesta automática|resposta automática|автоматичен отговор|स्वचालित उत्तर|स्वयंचलित उत्तर|自動応答|自動返信"
    r"|رد تلقائي|الرد التلقائي)",
    re.IGNORECASE,
)


def is_machine(message: email.message.Message, head: Head, address: str, subject: str, form: bool) -> bool:
    """head: reads a header. address: of the From line. form: a service passed on what the person in Reply-To wrote."""
    auto = head(message, "Auto-Submitted").partition(";")[0].strip().lower()
    if message.get_content_type() == "multipart/report" or head(message, "X-Failed-Recipients"):
        return True
    if auto.startswith("auto-replied") or head(message, "X-Autoreply") or head(message, "X-Autorespond"):
        return True
    if head(message, "Precedence").strip().lower() in ("auto_reply", "auto-reply"):
        return True
    if _AWAY.match(subject) and (head(message, "X-Auto-Response-Suppress") or head(message, "X-Auto-Reply")):
        return True
    if head(message, "Delivered-To").strip().lower().startswith("autoresponder"):
        return True
    if _DAEMON.match(address):
        return True
    return not form and (
        auto not in ("", "no")
        or head(message, "Precedence").strip().lower() in ("bulk", "junk")
        or head(message, "Return-Path").strip() == "<>"
    )


def bounce_of(
    message: email.message.Message,
    parts: Iterable[email.message.Message],
    head: Head,
    answers: tuple[str, ...],
    text: str,
) -> Bounce | None:
    """Of a program's mail: None where it says of no mail that it could not be delivered. parts: all of it, as deep as
    they are opened; answers: the ids that it answers."""
    failed = head(message, "X-Failed-Recipients")
    ids: list[str] = []
    why = ""
    for part in parts:
        kind = part.get_content_type()
        if part.get("Action") is not None:  # a recipient's block of message/delivery-status
            if head(part, "Action").strip().lower() == "failed":
                said = head(part, "Diagnostic-Code").partition(";")[2] or head(part, "Status")
                who = (
                    head(part, "Final-Recipient").partition(";")[2]
                    or head(part, "Original-Recipient").partition(";")[2]
                )
                failed = failed or who or "somebody"
                why = why or f"{who.strip()}: {said.strip()}".strip(": ")
        elif kind == "text/rfc822-headers":
            payload = part.get_payload()
            ids += _OWN_REPLY.findall(payload[:20_000]) if isinstance(payload, str) else []
        elif part is not message and head(part, "Message-ID"):
            ids += re.findall(r"<[^<>\s]{3,300}>", head(part, "Message-ID"))
    if not failed:
        return None
    ids += [*_OWN_REPLY.findall(text[:50_000]), *answers]
    known = tuple(dict.fromkeys(ids))[:MOST_IDS]
    return Bounce(known, clean_text(why or failed, WHY_CHARACTERS)) if known else None
