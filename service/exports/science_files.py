"""A stored picture as a file for other programs, made in a child, which opens it."""

from __future__ import annotations

from moondesk.exports.fits import fits_file
from moondesk.records import Annotation, NotFound
from moondesk.service.jobs.engine import Engine


def fits_bytes(engine: Engine, photo: bytes, annotation: Annotation, credit: str) -> bytes | NotFound:
    """See `moondesk.exports.fits`; the picture is the store's own, as displayed."""
    rgb = engine.decode_rgb(photo)
    if isinstance(rgb, NotFound):
        return rgb
    if rgb.shape[:2] != (annotation.height, annotation.width):
        return NotFound("export", "Its picture is kept in another size.", "Place it anew.")
    return fits_file(rgb, annotation, credit)
