"""The programme's language: sentences of `moondesk.notes.messages` written through message catalogues (gettext)."""

from collections.abc import Mapping
from types import MappingProxyType

#: What each language is called in itself; all but English have a catalogue in `data`.
LANGUAGES: Mapping[str, str] = MappingProxyType({"en": "English", "bg": "Български"})
