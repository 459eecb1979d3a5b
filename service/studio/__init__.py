"""What the programme makes of its pictures: the store is asked, the rules decide, children draw."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from moondesk.drawing.theme import Theme
from moondesk.service.jobs.frame_files import Run
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.evenings import Calendar, load_calendar
from moondesk.service.settings.config import Config
from moondesk.service.settings.themes import read_theme
from moondesk.service.store.feature_names import language_of
from moondesk.service.store.media import Media
from moondesk.service.store.storage import Storage


@dataclass(frozen=True)
class Studio:
    """The store, the settings as they stand, and how a function of the core is run in a child: `WarmPool.run`, for the
    command line `at_once`."""

    storage: Storage
    config: Config
    run: Run = at_once

    @cached_property
    def calendar(self) -> Calendar:
        return load_calendar(self.config)

    @cached_property
    def media(self) -> Media:
        return Media(self.config.data_dir)

    @cached_property
    def theme(self) -> Theme:
        """How frames look. Raises BadInputError for a theme file that cannot be read."""
        return read_theme(self.config.air.theme, self.config.data_dir)

    @cached_property
    def language(self) -> Language:
        """What goes out is written in."""
        return language_of(self.storage, self.config.programme.language)

    @cached_property
    def air_language(self) -> Language:
        """Frames are written in."""
        return language_of(self.storage, self.config.air.language or self.config.programme.language)
