"""The programme's language with the names as its presenter saved them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from moondesk.service.languages.catalogue import Language
from moondesk.service.store.feature_names import names

if TYPE_CHECKING:
    from moondesk.service.settings.config import Config
    from moondesk.service.store.storage import Storage


def language_of(storage: Storage, config: Config) -> Language:
    """What notes, frames and replies are written in."""
    code = config.programme.language
    return Language(code, names(storage, code))
