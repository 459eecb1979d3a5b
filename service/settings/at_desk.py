"""What was set at the desk counts where moondesk.toml says nothing."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from moondesk.service.settings.config import Config, all_settings
from moondesk.service.settings.table import with_value

#: What can be set at the desk, with what each is called in the audit list.
WORDS: Mapping[str, str] = MappingProxyType({key: row.words for key, row in all_settings().items() if row.desk})


def in_file(config: Config, key: str) -> bool:
    """Whether moondesk.toml sets it."""
    row = all_settings()[key]
    return any(f"{row.section}.{line}" in config.in_file for line in row.lines)


def with_settings(config: Config, stored: Mapping[str, Any]) -> Config:
    """The file's settings, and beside them those made at the desk (checked when they were made)."""
    rows = all_settings()
    for key, value in stored.items():
        if key in WORDS and not in_file(config, key):
            config = with_value(config, rows[key].path, rows[key].parse(value) if rows[key].parts else value)
    return config
