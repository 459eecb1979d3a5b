"""Sixty mails of every odd kind, as bytes with CRLF, and how many submissions they make.

The kinds are those that other programs are known to stumble over: forged and foreign headers, names in any script,
broken structure, archives, no picture at all, and the same mail twice in three ways.
"""

from __future__ import annotations

import base64
import io
import zipfile
from email.message import EmailMessage

from fakes import jpeg_with_gps, png

#: The same bytes again; the same mail with another server's line on top; the same mail by way of another address.
DOUBLES = 3
#: Larger than the mails' limit in the tests that use them.
LIMIT = 400_000


def odd_mails() -> list[bytes]:
    """The mails, all different but for DOUBLES of them."""
    mails = [*(_by_kind(k, kind) for k, kind in enumerate(KINDS)), *(_raw(k, text) for k, text in enumerate(RAW))]
    plain = mails[0]
    mails += [
        plain,
        b"Received: by mx2.example.org; Wed, 25 Mar 2026 22:00:00 +0100\r\n" + plain,
        plain.replace(b"To: moon@example.org", b"To: moon+tv@example.org"),
    ]
    assert len(mails) == 60, len(mails)
    return mails


def submissions() -> int:
    return 60 - DOUBLES


def _mail(k: int, text: str = "Good evening, here is my Moon.") -> EmailMessage:
    message = EmailMessage()
    message["From"] = f"Sender {k} <s{k}@example.org>"
    message["To"] = "moon@example.org"
    message["Date"] = "Wed, 25 Mar 2026 21:05:00 +0100"
    message["Subject"] = f"Moon {k}"
    message["Message-ID"] = f"<{k}@example.org>"
    message.set_content(text)
    return message


def _picture(message: EmailMessage, data: bytes, name: str = "moon.png", **more: object) -> None:
    message.add_attachment(data, maintype="image", subtype="png", filename=name, **more)  # type: ignore[arg-type]


def _zip(**files: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name.replace("_", "."), data)
    return buffer.getvalue()


NAMES = (
    "月面.jpg",
    "चंद्र.png",
    "Księżyc nad Łodzią.png",
    "القمر.png",
    "🌔.png",
    "../../etc/passwd",
    "a" * 300 + ".png",
    "<script>alert(1)</script>.png",
    "moon\u202egnp.exe",
    "'; drop table pictures; --.png",
    "CON.png",
    ".png",
)
TEXTS = (
    "You may show it on the programme.",
    "Please do not show it.",
    "My son, aged 9, took this. Fine to use it.",
    "6 inch Dobsonian, 25 mm eyepiece",
    "> You may show it.\n\nno",
    "🌕" * 500,
    "x" * 5000,
    "From the balcony\nFrom",
)
FILES = (
    b"",
    b"GIF89a" + bytes(50),
    b"<html>",
    b"%PDF-1.7 " + bytes(90),
    b"<svg/>",
    b"\x78\x9f\x3e\x22winmail",
    jpeg_with_gps()[:200],
    b"\0\0\0\x18ftypheic" + bytes(40),
    b"\0\0\0\x18ftypmp42" + bytes(40),
    _zip(a_png=png(shade=1), b_txt=b"hello"),
    _zip(zeros_png=bytes(9_000_000)),
    _zip(),
    b"PK\x03\x04broken",
    bytes(LIMIT + 90_000),
    png(65, shade=9),
    b"BM" + bytes(60),
)
KINDS = (
    ("plain", None),
    ("two", None),
    ("inline twice", None),
    ("html", None),
    ("forwarded", None),
    ("nested", None),
    ("many parts", None),
    ("no picture", None),
    ("same id", None),
    ("same id", None),
    *(("name", name) for name in NAMES),
    *(("text", text) for text in TEXTS),
    *(("file", file) for file in FILES),
)


def _by_kind(k: int, kind: tuple[str, str | bytes | None]) -> bytes:
    what, value = kind
    message = _mail(k, value if what == "text" and isinstance(value, str) else "Good evening, here is my Moon.")
    if what == "file":
        assert isinstance(value, bytes)
        _picture(message, value, "moon.jpg")
    elif what == "name":
        assert isinstance(value, str)
        _picture(message, png(shade=k), value)
    elif what == "html":
        message.add_alternative("<p>Here is <b>my Moon</b></p><script>x</script>", subtype="html")
        _picture(message, png(shade=k))
    elif what == "inline twice":
        _picture(message, png(shade=k), disposition="inline", cid="<a@b>")
        _picture(message, png(shade=k))
    elif what == "forwarded":
        outer = _mail(k)
        _picture(message, png(shade=k))
        outer.add_attachment(message)
        message = outer
    elif what == "nested":
        inner = message
        for _ in range(25):
            outer = _mail(k)
            outer.add_attachment(inner)
            inner = outer
        message = inner
    elif what == "many parts":
        for n in range(300):
            message.add_attachment(f"note {n}", filename=f"{n}.txt")
        _picture(message, png(shade=k))
    elif what == "same id":
        message.replace_header("Message-ID", "<same@example.org>")
        _picture(message, png(shade=k))
    elif what != "no picture":
        _picture(message, png(shade=k))
        if what == "two":
            _picture(message, png(shade=k + 100), "second.png")
    return message.as_bytes().replace(b"\r\n", b"\n").replace(b"\n", b"\r\n")


_BODY = base64.encodebytes(png(shade=77))
_PNG = b"Content-Type: image/png; name=a.png\nContent-Transfer-Encoding: base64\n\n" + _BODY
RAW = (
    b"From: (((((\nSubject: =?x?Q?=ZZ?=\n\n\0\n",
    b"\n",
    b"no header at all",
    "From: Jürgen <j@example.org>\nSubject: Größe\n".encode("latin-1") + _PNG,
    b"From: a@example.org\nSubject: =?no-such-charset?B?/////w==?=\n" + _PNG,
    b"From: b@example.org\nMessage-ID: <[odd]>\nDate: 99 Foo 0000\nCc: a@example.org,\n" + _PNG,
    b"From: " + b"x@example.org, " * 20_000 + b"\nSubject: many\n" + _PNG,
    b"From: c@example.org\nContent-Type: image/png; name*=utf-16''%ff%fe%00\nContent-Transfer-Encoding: base64\n\n"
    b"!!!! not base64 ****",
    b"From: d@example.org\nContent-Type: multipart/mixed; boundary=zz\n\n--zz\n" + _PNG + b"--zz\n" + _PNG,
    b"From: e@example.org\nContent-Type: multipart/mixed\n\n" + _PNG,
    b"From: f@example.org\nContent-Type: text/plain; charset=no-such\n\n\xff\xfe\xff words",
)
RAW = tuple(raw.replace(b"\n", b"\r\n") for raw in RAW)


def _raw(k: int, text: bytes) -> bytes:
    return text
