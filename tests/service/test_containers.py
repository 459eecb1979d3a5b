"""Pictures in documents and wrappings are taken out; a hostile one costs itself alone, with a sentence."""

from __future__ import annotations

import io
import random
import struct
import time
import warnings
from email.message import EmailMessage

import container_files as made
import pytest
from fakes import png
from PIL import Image

from moondesk.service.intake import containers
from moondesk.service.intake.mail import Attachment, read_mail
from moondesk.service.intake.reading import loose_arrival, mail_arrival, open_files
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.programme.permission import permission
from moondesk.service.settings.config import IntakeLimits

ONE, TWO = png(300, 300, shade=1), png(300, 300, shade=2)
LIMITS = IntakeLimits()


def jpeg(shade: int = 90, size: int = 300) -> bytes:
    out = io.BytesIO()
    Image.new("L", (size, size), shade).save(out, "JPEG")
    return out.getvalue()


PHOTO = jpeg()
CONTAINERS = {
    "letter.docx": (made.docx(ONE, TWO), [ONE, TWO]),
    "letter.odt": (made.odt(ONE, TWO), [ONE, TWO]),
    "letter.pdf": (made.pdf(PHOTO, jpeg(40)), [PHOTO, jpeg(40)]),
    "winmail.dat": (made.winmail(("m.png", ONE), ("n.png", TWO), text="Hello"), [ONE, TWO]),
    "letter.msg": (made.saved_mail(("m.png", ONE), ("n.png", TWO), text="Hello"), [ONE, TWO]),
}


def opened(name: str, data: bytes, limits: IntakeLimits = LIMITS):
    return open_files([Attachment(name, data, "")], limits)


@pytest.mark.parametrize("name", CONTAINERS)
def test_its_pictures_are_taken_out(name):
    data, pictures = CONTAINERS[name]
    enclosures, contents = opened(name, data)
    assert [e.given_name for e in enclosures] == [f"picture 1 of {name}", f"picture 2 of {name}"]
    assert contents == pictures
    assert all(e.refused is None for e in enclosures)


def test_a_picture_that_is_only_packed_in_a_pdf_is_written_anew():
    enclosures, (content,) = opened("m.pdf", made.pdf(packed=(300, 200)))
    assert enclosures[0].media_type == "image/png"
    with Image.open(io.BytesIO(content)) as picture:
        assert (picture.size, picture.getpixel((5, 0))) == ((300, 200), (5, 5, 5))


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.docx", made.docx(), "office document"),
        ("a.pdf", made.pdf(), "PDF document"),
        ("winmail.dat", made.winmail(text="Hello"), "winmail.dat"),
        ("a.msg", made.saved_mail(text="Hello"), "office document"),
        ("a.doc", made.compound({"WordDocument": bytes(9)}), "office document"),
    ],
)
def test_one_without_a_picture_is_told_as_before(name, data, words):
    ((enclosure,), contents) = opened(name, data)
    assert words in enclosure.refused
    assert contents == []


#: What asks for far more than it is.
BOMB = made.docx(bytes(90_000_000))
HUGE = b"<< /Subtype /Image /Width 60000 /Height 60000 /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /FlateDecode"


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.docx", BOMB, "cannot be taken out, or are too large or too many: 1"),
        ("a.pdf", made.pdf(PHOTO, more=(made.image(HUGE, b"x"),)), "too many: 1"),
        ("a.pdf", b"%PDF-1.7 broken", "a.pdf is damaged, or not what it says it is"),
        ("a.pdf", b"%PDF-1.7\n1 0 obj\n<< /Kids [1 0 R] >>\nendobj\ntrailer << /Root 1 0 R >>\n", ""),
        ("a.msg", CONTAINERS["letter.msg"][0][:700], "a.msg is damaged"),
        ("a.docx", CONTAINERS["letter.docx"][0][:-60], ""),
        ("winmail.dat", made.winmail(("m.png", ONE))[:-80], "too many: 1"),
        ("winmail.dat", b"\x78\x9f\x3e\x22" + struct.pack("<HBHHI", 1, 2, 0x800F, 6, 2**31) + ONE, "too many: 1"),
        ("winmail.dat", b"\x78\x9f\x3e\x22", "winmail.dat"),
    ],
)
def test_a_hostile_one_costs_itself_with_a_sentence(name, data, words):
    begun = time.process_time()
    enclosures, _ = open_files([Attachment(name, data, ""), Attachment("m.png", TWO, "")], LIMITS)
    assert enclosures[-1].refused is None, "the picture beside it is taken"
    assert words in " ".join(e.refused or "" for e in enclosures)
    refused = [e for e in enclosures if e.refused]
    assert all("lease" in e.refused for e in refused), "what to do is told"
    assert time.process_time() - begun < 3


def test_whatever_a_parser_raises_costs_its_file(monkeypatch):
    for error in (RecursionError(), MemoryError(), KeyError("x"), AssertionError()):
        monkeypatch.setattr(containers, "_contents", lambda *_, error=error: (_ for _ in ()).throw(error))
        ((one, two), _) = open_files(
            [Attachment("a.pdf", CONTAINERS["letter.pdf"][0], ""), Attachment("m.png", TWO, "")], LIMITS
        )
        assert one.refused
        assert two.refused is None


def test_the_limits_of_archives_hold():
    few = IntakeLimits(archive_files=1)
    for name, (data, pictures) in CONTAINERS.items():
        enclosures, contents = opened(name, data, few)
        assert contents == pictures[:1], name
        assert [e.refused is None for e in enclosures] == [True, False], name


@pytest.mark.parametrize("name", CONTAINERS)
def test_damaged_ones_never_stop_it(name):
    data = CONTAINERS[name][0]
    rng = random.Random(name)
    begun = time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for _ in range(150):
            broken = bytearray(data)
            for _ in range(rng.choice((1, 3, 9))):
                at = rng.randrange(len(broken))
                way = rng.randrange(4)
                if way == 0:
                    broken[at] = rng.randrange(256)
                elif way == 1:
                    del broken[at : at + rng.randrange(1, 200)]
                elif way == 2:
                    broken[at : at + 4] = struct.pack("<I", rng.choice((0, 1, 2, 3, 0xFFFFFFFE, 2**31 - 1)))
                else:
                    broken[at:at] = broken[at : at + 64]
            enclosures, contents = opened(name, bytes(broken))
            assert enclosures
            assert all(isinstance(c, bytes) for c in contents)
    assert time.process_time() - begun < 20


def written(name: str, data: bytes, text: str | None = "Hello", kind: str = "octet-stream") -> EmailMessage:
    mail = EmailMessage()
    mail["From"], mail["Subject"], mail["Message-ID"] = "Ann Lee <ann@example.org>", "Moon", "<1@example.org>"
    if text is not None:
        mail.set_content(text)
    mail.add_attachment(data, maintype="application", subtype=kind, filename=name)
    return mail


def arrival_of(mail: EmailMessage):
    return mail_arrival(ReceivedItem(data=mail.as_bytes(), origin="m", name="m.eml", source="mail"), "mail:1", LIMITS)[
        0
    ]


@pytest.mark.parametrize("name", ["letter.docx", "letter.pdf", "letter.odt"])
def test_words_in_a_document_leave_it_unclear(name):
    arrival = arrival_of(written(name, CONTAINERS[name][0]))
    assert arrival.words_read == "not_understood"
    assert permission(arrival, 1, "Terms").reasons == ("unclear",)


def test_the_text_in_a_winmail_is_the_mails():
    files = ("m.png", ONE)
    no = "Please do not show it on air."
    alone = arrival_of(written("winmail.dat", made.winmail(files, text=no), None, "ms-tnef"))
    assert [(p.kind, p.text) for p in alone.text] == [("own", no)]
    assert permission(alone, 1, "Terms").reasons == ("refused",)
    same = arrival_of(written("winmail.dat", made.winmail(files, text="Hello"), "Hello", "ms-tnef"))
    assert permission(same, 1, "Terms").given
    other = arrival_of(written("winmail.dat", made.winmail(files, text=no), "Hello", "ms-tnef"))
    assert permission(other, 1, "Terms").reasons == ("unclear",)
    unread = arrival_of(written("winmail.dat", made.winmail(files), "Hello", "ms-tnef"))
    assert permission(unread, 1, "Terms").reasons == ("unclear",)


def test_a_saved_mail_that_is_attached_is_somebody_elses():
    data = made.saved_mail(("m.png", ONE), name="Yana", address="yana@y.org", text="Please do not show it.")
    arrival = arrival_of(written("fwd.msg", data))
    assert ("quoted", "Please do not show it.") in [(p.kind, p.text) for p in arrival.text]
    assert [s.value for s in arrival.suggestions if s.field == "forwarded"] == ["Yana <yana@y.org>"]
    assert "yana@y.org" in arrival.addresses
    assert permission(arrival, 1, "Terms").reasons == ("unclear",)
    assert read_mail(written("fwd.msg", data).as_bytes()).body.whole is False


def test_a_saved_mail_by_itself_is_its_senders():
    data = made.saved_mail(("m.png", ONE), name="Yana", address="yana@y.org", text="Please do not show it on air.")
    arrival, contents = loose_arrival(
        ReceivedItem(data=data, origin="a.msg", name="a.msg", source="file"), "file:1", LIMITS
    )
    assert (arrival.sender_name, arrival.sender_address, contents) == ("Yana", "yana@y.org", [ONE])
    assert permission(arrival, 1, "Terms").reasons == ("refused",)
