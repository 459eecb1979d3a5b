"""How a picture of the rundown is to be shown on air: from which side, how close, what is pointed at one by one."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime

from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage


@dataclass(frozen=True)
class FrameChoice:
    """view: "upright" or "eye"; zoom: a feature's name, "" for the whole disc; features: what is pointed at, in this
    order, none for what is best seen."""

    view: str = "upright"
    zoom: str = ""
    features: tuple[str, ...] = ()


def frame_choice(storage: Storage, item_id: int) -> FrameChoice:
    """As somebody chose it; the plain one where nobody has."""
    rows = storage.read("select view, zoom, features from frame_choices where item_id = ?", [item_id])
    return (
        FrameChoice(rows[0]["view"], rows[0]["zoom"], tuple(json.loads(rows[0]["features"])))
        if rows
        else (FrameChoice())
    )


def choose_frame(storage: Storage, item_id: int, choice: FrameChoice, who: str, now: datetime) -> None:
    """The last choice counts."""
    with storage.writing():
        storage.execute(
            "insert or replace into frame_choices values (?, ?, ?, ?, ?, ?)",
            [item_id, choice.view, choice.zoom, json.dumps(choice.features, ensure_ascii=False), who, time_text(now)],
        )
