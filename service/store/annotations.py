"""What the core made of pictures: added, never changed; the newest counts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime

from moondesk.service.store.inbox import keep_shown, keep_words
from moondesk.service.store.messages import keep_sentences
from moondesk.service.store.records import StoredAnnotation
from moondesk.service.store.rows import pack, time_text, unpack
from moondesk.service.store.storage import Storage


def add_annotation(storage: Storage, stored: StoredAnnotation, best_seen: Sequence[str]) -> None:
    """Store an annotation; the older ones of its picture are kept."""
    with storage.writing():
        insert_annotation(storage, stored, best_seen)


def insert_annotation(storage: Storage, stored: StoredAnnotation, best_seen: Sequence[str]) -> None:
    """`add_annotation` within a transaction."""
    a = stored.annotation
    storage.insert(
        "annotations",
        {
            "picture_id": stored.picture_id,
            "engine_version": stored.engine_version,
            "made_utc": time_text(stored.made_utc),
            "derived_key": stored.derived_key,
            "status": a.status,
            "sure": int(a.sure),
            "reason": keep_sentences(a.reasons),
            "taken_utc": time_text(a.time.utc if a.time else None),
            "time_source": a.time.source if a.time else "",
            "clock_verdict": a.clock.verdict,
            "best_seen": json.dumps(list(best_seen), ensure_ascii=False),
            "annotation": pack(a),
            "quality": stored.quality or None,
            "camera": a.taken.camera,
            "evening": a.dated.verdict,
        },
    )
    storage.execute("update pictures set placed_by = ? where id = ?", [stored.engine_version, stored.picture_id])
    keep_shown(storage, stored.picture_id, a)
    keep_words(storage, [stored.picture_id])


def keep_quality(storage: Storage, picture_id: int, derived_key: str, quality: str) -> None:
    """Note what was measured of a picture as it was placed with that key, where that still is its newest."""
    with storage.writing():
        storage.execute(
            "update annotations set quality = ? where derived_key = ? and id = "
            "(select max(id) from annotations where picture_id = ?)",
            [quality, derived_key, picture_id],
        )


def read_annotation(storage: Storage, picture_id: int) -> StoredAnnotation | None:
    """The newest annotation of a picture; None while it waits."""
    sql = "select * from annotations where picture_id = ? order by id desc limit 1"
    for row in storage.read(sql, [picture_id]):
        record = unpack(row["annotation"])
        return StoredAnnotation(
            picture_id=row["picture_id"],
            annotation=record,
            engine_version=row["engine_version"],
            made_utc=datetime.fromisoformat(row["made_utc"]),
            derived_key=row["derived_key"],
            quality=row["quality"] or "",
        )
    return None


def read_derived_key(storage: Storage, picture_id: int) -> str | None:
    """Key of a picture's newest derived files; None while it waits. A tenth of the time that `read_annotation` takes."""
    sql = "select derived_key from annotations where picture_id = ? order by id desc limit 1"
    rows = storage.read(sql, [picture_id])
    return str(rows[0]["derived_key"]) if rows else None
