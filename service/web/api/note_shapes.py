"""A picture's notes as the API tells them: sentences in the programme's language with what each is about. Pure."""

from __future__ import annotations

from typing import Any

from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.records import Notes
from moondesk.records import NotFound
from moondesk.service.languages.catalogue import Language


def notes(picture_id: int, found: Notes | NotFound, language: Language, claim: str, checked: Checked | None,
          ) -> dict[str, Any]:  # fmt: skip
    write, told = language.write, found if isinstance(found, Notes) else Notes(())
    return {
        "picture_id": picture_id, "language": language.code,
        "problem": None if isinstance(found, Notes) else f"{found.reason} {found.advice}".strip(),
        "notes": [{"topic": n.topic, "about": n.about or None, "text": write(n.said)} for n in told.notes],
        "themes": [{"key": t.key, "title": write(t.title), "features": list(t.features),
                    "sentences": [write(s) for s in t.sentences]} for t in told.themes],
        "claim": None if checked is None else {
            "claim": claim, "verdict": checked.verdict, "text": write(checked.said),
            "tolerance": None if checked.tolerance is None else write(checked.tolerance)},
    }  # fmt: skip
