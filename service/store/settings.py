"""Settings that were made at the desk: a key ("programme.zone"), its value as JSON, who made it and when."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from moondesk.service.settings.at_desk import with_settings
from moondesk.service.settings.config import Config, read_config
from moondesk.service.store import audit
from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import DATABASE_NAME, Storage


def settings(storage: Storage) -> Mapping[str, Any]:
    """All of them by key; the values as JSON knows them."""
    return {row["key"]: json.loads(row["value"]) for row in storage.read("select key, value from settings")}


def load_config(data_dir: Path, workers: int | None = None) -> Config:
    """Settings for a data folder, those made at the desk among them; it need not exist yet, see `read_config`.

    Raises BadInputError with file, key and value; StorageError.
    """
    config = read_config(data_dir, workers)
    if not (config.data_dir / DATABASE_NAME).is_file():
        return config
    with Storage(config.data_dir) as storage:
        return with_settings(config, settings(storage))


def keep_settings(storage: Storage, values: Mapping[str, Any], now: datetime, who: str) -> tuple[str, ...]:
    """Keep settings with a line in the audit list for each that changed; the keys of those. All or nothing."""
    changed = []
    with storage.writing():
        before = settings(storage)
        for key, value in values.items():
            if key in before and before[key] == value:
                continue
            told = json.dumps(value, ensure_ascii=False)
            storage.execute("insert or replace into settings values (?, ?, ?, ?)", [key, told, who, time_text(now)])
            audit.note(storage, now, who, "setting_changed", setting=key, value=told)
            changed.append(key)
    return tuple(changed)
