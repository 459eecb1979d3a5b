"""What pictures this installation opens: some formats come with extras, and nobody is invited to send the others."""

from __future__ import annotations

from moondesk.files.formats import FORMATS, usable_formats


def missing_extras() -> tuple[str, ...]:
    """A sentence for each extra that is lacking, or too old to be safe."""
    there = usable_formats()
    return tuple(row.extra.lacking for row in FORMATS if row.extra is not None and row not in there)


def words() -> str:
    """Like "JPEG, PNG, TIFF or FITS"."""
    *first, last = [row.words for row in usable_formats()]
    return f"{', '.join(first)} or {last}"


def accept_attribute() -> str:
    """What a file chooser offers: no `image/*`, under which a phone would send what cannot be opened here."""
    return ",".join(row.accept for row in usable_formats())
