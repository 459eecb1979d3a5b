"""Documents and wrappings in which people send pictures: opened for their pictures alone, in the reading child.

Office documents (their folder of pictures), PDF, winmail.dat and saved mails (.msg). What a hostile one does to its
parser costs that file alone, with a sentence. Words in them are not read: see `mail._holds_words`.
"""

from __future__ import annotations

import logging

from moondesk.files.formats import open_picture
from moondesk.files.formats.not_pictures import NotPicture
from moondesk.records import NotFound
from moondesk.sentences import sentence
from moondesk.service.intake import tnef
from moondesk.service.intake.archives import ArchiveMember, is_archive, is_office, office_pictures
from moondesk.service.intake.outlook_msg import SIGNATURE as SAVED_MAIL
from moondesk.service.intake.outlook_msg import SavedMail, read_saved_mail
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.texts import clean_text

log = logging.getLogger(__name__)
PDF = b"%PDF-"
Members = tuple[ArchiveMember, ...] | NotFound


def open_container(name: str, data: bytes, limits: IntakeLimits) -> Members | None:
    """The pictures of a container, each with a name; NotFound: it cannot be opened; None: it is no container, or holds
    no picture."""
    if not is_container(data):
        return None
    why = sentence("container_damaged", name=clean_text(name, 120))
    try:
        found = _contents(data, limits)
    except MemoryError:
        return NotFound(
            "container", sentence("container_large", name=clean_text(name, 120)), sentence("send_picture_itself")
        )
    except Exception as error:  # parsers of others: whatever they raise costs this file
        log.info("opening %s: %s", name[:80], type(error).__name__)
        return NotFound("container", why, sentence("send_picture_itself"))
    if isinstance(found, NotFound) or found is None:
        return found
    files, left_out = found
    pictures = [content for content in files if not isinstance(open_picture(content), NotPicture)]
    short = clean_text(name, 90) or "the document"
    members = [ArchiveMember(f"picture {k} of {short}", content) for k, content in enumerate(pictures, 1)]
    if left_out:
        refusal = (sentence("container_left_out", count=left_out), sentence("send_picture_itself"))
        members.append(ArchiveMember(short, None, refusal))
    return tuple(members) if members else None


def saved_mail(data: bytes, limits: IntakeLimits) -> SavedMail | None:
    """What a saved mail says; None where it is none, or cannot be read."""
    try:
        return read_saved_mail(data, limits)
    except Exception as error:  # as above
        log.info("opening a saved mail: %s", type(error).__name__)
        return None


def is_container(data: bytes) -> bool:
    return data[:5] == PDF or data[:8] == SAVED_MAIL or tnef.is_wrapped(data) or is_office(data)


def _contents(data: bytes, limits: IntakeLimits) -> tuple[list[bytes], int] | NotFound | None:
    """The files in it that may be pictures, and how many were left out."""
    if is_archive(data):
        members = office_pictures(data, limits)
        if isinstance(members, NotFound):
            return members
        return [m.data for m in members if m.data is not None], sum(m.data is None for m in members)
    if data[:5] == PDF:
        from moondesk.service.intake.pdf_pictures import pictures_of_pdf  # takes a while to load: see reading.PRELOAD

        if (taken := pictures_of_pdf(data, limits)) is None:
            return NotFound("container", sentence("locked"), sentence("send_picture_itself"))
        return taken if taken[0] else ([], 0)
    if tnef.is_wrapped(data):
        wrapped = tnef.unwrap(data)
        kept = [content for _, content in wrapped.files[: limits.archive_files]]
        return kept, len(wrapped.files) - len(kept) + (not wrapped.whole)
    mail = read_saved_mail(data, limits)
    return None if mail is None else ([content for _, content in mail.files], mail.left_out)
