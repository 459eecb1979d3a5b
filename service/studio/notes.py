"""The notes to speak from of a stored picture, and as the presenter reads them in the programme's language."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Mapping

from moondesk.notes.records import Notes
from moondesk.records import NotFound
from moondesk.service.jobs.shadow_heights import heights_of
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.air_plan import AirNote
from moondesk.service.programme.picture_notes import blur_km, notes_around
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.studio import Studio
from moondesk.shadows.heights import ShadowHeight


def notes_for(studio: Studio, picture_id: int, edition: int | None = None, measure: bool = True) -> Notes | NotFound:
    """The notes to speak from for a picture; NotFound where it cannot be said what it shows.

    edition: number of the one it is shown in (None: the one it came in for); what has newly come into the light is
    counted from the last evening of the edition before. measure: measure shadows that were not measured yet (a second
    or two); else only heights that are known are told. Raises NotStoredError for a picture that there is none of.
    """
    picture, stored = read_picture(studio.storage, picture_id), read_annotation(studio.storage, picture_id)
    if stored is None:
        return NotFound("notes", "This picture has not been placed yet.", "Look again in a moment.")
    editions, sha = list_editions(studio.storage), picture.enclosure.sha256
    number = edition
    if number is None:
        number = next(e.plan.number for e in editions if e.id == picture.submission.edition_id)
    heights: Mapping[str, ShadowHeight] = {}
    if sha is not None:
        run = studio.run if measure else None
        heights = heights_of(studio.media, sha, stored.derived_key, stored.annotation, blur_km(stored), run)
    return notes_around(stored.annotation, number, editions, studio.calendar, heights)


#: Notes, and what of them is not translated.
Written = tuple[tuple[AirNote, ...], tuple[str, ...]]
#: Notes that were written already: the page on air asks every few seconds. The oldest are forgotten first.
_written: OrderedDict[Hashable, Written] = OrderedDict()
_KEPT = 300


def write_notes(studio: Studio, listed: ListedPicture, edition: Edition) -> Written:
    """What the presenter reads of a picture, in the programme's language, and the templates that nobody has
    translated. The Moon as a whole has no head, a feature its name with how it is spoken."""
    key = (
        str(studio.config.data_dir),
        listed.picture.id,
        listed.summary and listed.summary.derived_key,
        edition.plan.number,
        repr(studio.config.programme),
        repr(sorted(studio.language.names.items())),
        len(list_editions(studio.storage)),
    )
    if key not in _written:
        notes = notes_for(studio, listed.picture.id, edition.plan.number, measure=False)
        _written[key] = _write(notes, studio.language)
        while len(_written) > _KEPT:
            _written.popitem(last=False)
    return _written[key]


def _write(notes: Notes | NotFound, language: Language) -> Written:
    if isinstance(notes, NotFound):
        return (AirNote("", "", (f"{notes.reason} {notes.advice}".strip(),)),), ()
    whole = AirNote("", "", tuple(language.write(said) for said in notes.about()))
    features = tuple(
        AirNote(_head(name, language), language.name(name), tuple(language.write(said) for said in notes.about(name)))
        for name in notes.features
    )
    return (whole, *features), language.missing(note.said for note in notes.notes)


def _head(name: str, language: Language) -> str:
    spoken = language.said(name)
    return f"{language.name(name)}, say: {spoken}" if spoken else language.name(name)
