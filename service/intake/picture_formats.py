"""What pictures this installation opens: some formats come with extras, and nobody is invited to send the others."""

from __future__ import annotations

from dataclasses import dataclass

#: Of camera raw, what the file choosers are told; what a file is, is told from its bytes alone.
_RAW = ".dng,.cr2,.cr3,.nef,.arw,.raf,.orf,.rw2"


@dataclass(frozen=True)
class Format:
    """words: as people call it. accept: for a file chooser, media types and endings. extra: that it comes with."""

    words: str
    accept: str
    extra: str = ""


FORMATS = (
    Format("JPEG", "image/jpeg,.jpg,.jpeg"),
    Format("PNG", "image/png,.png"),
    Format("HEIC", "image/heic,image/heif,.heic,.heif", "heic"),
    Format("TIFF", "image/tiff,.tif,.tiff"),
    Format("WebP", "image/webp,.webp"),
    Format("AVIF", "image/avif,.avif"),
    Format("FITS", ".fits,.fit,.fts"),
    Format("camera raw", _RAW, "raw"),
)
#: What is said where an extra is missing.
_LACKING = {
    "heic": "HEIC, what many phones store, cannot be opened here; pip install 'moondesk[heic]' adds it.",
    "raw": "Camera raw files cannot be opened here; pip install 'moondesk[raw]' adds that.",
}


def opened() -> tuple[Format, ...]:
    """The formats that this installation opens."""
    from moondesk.files.optional_decoders import is_usable

    return tuple(f for f in FORMATS if not f.extra or is_usable(f.extra))


def missing() -> tuple[str, ...]:
    """A sentence for each extra that is lacking, or too old to be safe."""
    there = opened()
    return tuple(_LACKING[f.extra] for f in FORMATS if f not in there)


def words() -> str:
    """Like "JPEG, PNG, TIFF or FITS"."""
    *first, last = [f.words for f in opened()]
    return f"{', '.join(first)} or {last}"


def accepted() -> str:
    """What a file chooser offers: no `image/*`, under which a phone would send what cannot be opened here."""
    return ",".join(f.accept for f in opened())
