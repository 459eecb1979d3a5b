"""Brings the message catalogues up to date with the sentences in the code: python -m tests.builders.build_messages

Templates are found by Babel's extractor where `say`, `say_many` and `Term` are called with literal words; words that
come from tables (kinds of features, occupations, nations) are added from these. Translations that stand are kept; what
is gone from the code is dropped; what is new stands empty and is listed, so that a translator sees what to do. The
catalogues in `data/replies` hold the sentences of the replies and of frames alone; one that is named becomes a whole one.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_file
from babel.messages.pofile import read_po, write_po

from moondesk.drawing.broadcast import WORDS
from moondesk.ideas.of_light import PHASE
from moondesk.moon.catalogue import all_features
from moondesk.notes.messages import Message
from moondesk.notes.words import words_of_notes
from moondesk.script.stops import called, called_first
from moondesk.script.wordings import sentences
from moondesk.service.languages import ENGLISH, FOLDER, LANGUAGES, REPLIES_FOLDER, REPLY_LANGUAGES, own_name
from moondesk.service.languages.catalogue import whole

ROOT = Path(__file__).resolve().parents[2]
#: In the head of each catalogue instead of the time of the run, which would change the file each time.
BEGUN = datetime(2026, 11, 26, tzinfo=UTC)
#: Where the sentences of the replies and the words of frames stand.
REPLIES = (
    "annotate/drawing/broadcast.py",
    "service/programme/frame_request.py",
    "service/replies/",
    "service/programme/questions.py",
    "service/web/public/question_form.py",
    "service/web/public/questions.py",
    *(f"service/web/templates/public_{name}.html" for name in ("base", "gone", "question", "tongues")),
)
KEYWORDS = {"say": None, "say_many": (1, 2), "Term": None}


def found() -> Iterator[tuple[str | tuple[str, str], str]]:
    """(message, file) of every sentence and word that may go out."""
    for room in ("annotate", "service"):
        for path in sorted((ROOT / room).rglob("*.py")):
            if "moondesk.notes.messages import" not in path.read_text(encoding="utf-8"):
                continue  # others have a `say` of their own
            for _, message, _, _ in extract_from_file("python", path, keywords=KEYWORDS):
                yield (message if isinstance(message, str) else tuple(message)), path.relative_to(ROOT).as_posix()
    for path in sorted((ROOT / "service/web/templates").glob("public_*.html")):
        for _, message, _, _ in extract_from_file("jinja2.ext:babel_extract", path, keywords={"t": None}):
            yield str(message), path.relative_to(ROOT).as_posix()
    for kind in sorted({f.kind for f in all_features()}):
        yield kind, "kinds"
    yield from words_of_tables()
    for sentence in sentences():
        yield sentence, "annotate/script/data"


def words_of_tables() -> Iterator[tuple[str, str]]:
    """Words that stand in tables of the code's data."""
    for word in words_of_notes():
        yield word, "annotate/notes/words.py"
    for word in WORDS.values():
        yield word, "annotate/drawing/broadcast.py"
    for word in PHASE.values():
        yield word, "annotate/ideas/of_light.py"
    for feature in all_features():
        for part in (called(feature), called_first(feature)):
            if isinstance(part, Message):
                yield part.template, "annotate/script/stops.py"


def template(of: str | tuple[str, ...] = "") -> Catalog:
    """All messages, without translations; of: those in files below this folder alone."""
    catalogue = Catalog(project="moondesk", creation_date=BEGUN)
    for message, file in found():
        if file.startswith(of):
            catalogue.add(message, locations=[(file, 0)])
    return catalogue


def main() -> int:
    whole_of, of_replies, missing = template(), template(REPLIES), 0
    for code in sorted({*REPLY_LANGUAGES, *sys.argv[1:]}):
        if code == ENGLISH:
            continue
        partial = code not in LANGUAGES and code not in sys.argv[1:]
        path = (REPLIES_FOLDER if partial else FOLDER) / f"{code}.po"
        wanted = of_replies if partial else whole_of
        begun = next((p for p in (path, REPLIES_FOLDER / path.name) if p.exists()), None)
        if begun is not None:
            with begun.open("rb") as file:
                catalogue = read_po(file, locale=code)
        else:
            catalogue = Catalog(locale=code, project="moondesk", creation_date=BEGUN)
        names = [m for m in catalogue if m.context in ("feature", "feature alone")]
        catalogue.update(wanted, no_fuzzy_matching=True)
        for name in names:
            catalogue.add(name.id, name.string, context=name.context)
        catalogue.obsolete.clear()
        catalogue.fuzzy = False
        catalogue.revision_date = catalogue.creation_date  # no clock: a run that changes nothing writes the same bytes
        catalogue.header_comment = (
            f"# {own_name(code)}: {'frames and replies' if partial else 'notes, frames and replies'}."
        )
        with path.open("wb") as file:
            write_po(file, catalogue, width=120, include_lineno=False, ignore_obsolete=True)
        if begun not in (None, path):
            begun.unlink()
        todo = [m.id for m in catalogue if m.id and m.context is None and not whole(m.string)]
        missing += len(todo)
        print(f"{code}: {len(catalogue)} messages, {len(todo)} without a translation")
        for message in todo:
            print(f"  {message}")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
