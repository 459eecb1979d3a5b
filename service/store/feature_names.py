"""How the programme writes and speaks the names of features, by language: a local form, a spoken form, or both."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from moondesk.service.languages.catalogue import Language, LocalName
from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage


def names(storage: Storage, language: str) -> Mapping[str, LocalName]:
    """Saved forms by the IAU's name."""
    rows = storage.read("select feature, local, spoken from feature_names where language = ?", [language])
    return {row["feature"]: LocalName(row["local"], row["spoken"]) for row in rows}


def language_of(storage: Storage, code: str) -> Language:
    """A language with the names as the programme's presenter saved them."""
    return Language(code, names(storage, code))


def keep_names(storage: Storage, language: str, forms: Mapping[str, LocalName], now: datetime, who: str) -> int:
    """Keep forms of names; empty ones are forgotten. How many changed. All or nothing."""
    changed = 0
    with storage.writing():
        before = names(storage, language)
        for feature, form in forms.items():
            if before.get(feature, LocalName()) == form:
                continue
            if form == LocalName():
                storage.execute("delete from feature_names where language = ? and feature = ?", [language, feature])
            else:
                storage.execute(
                    "insert or replace into feature_names values (?, ?, ?, ?, ?, ?)",
                    [language, feature, form.local, form.spoken, who, time_text(now)],
                )
            changed += 1
    return changed
