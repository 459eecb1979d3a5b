"""A signature's logos are no pictures of the Moon; a tiny Moon that came alone is one. Links are listed, never opened."""

from __future__ import annotations

from email.message import EmailMessage

import pytest
from fakes import png
from letters_desk import picture_of, taken

from moondesk.service.intake.mail import read_mail
from moondesk.service.intake.reading import mail_arrival
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.strays import original_hashes

MOON = png(300, 300, shade=1)
GIF = b"GIF89a" + bytes(50)


def written(
    *pictures: tuple[str, bytes, bool], text: str = "Hello", html: str = "", sender: str = "ann@x.org"
) -> bytes:
    """pictures: name, bytes, whether it stands in the text."""
    mail = EmailMessage()
    mail["From"], mail["Subject"] = f"Ann <{sender}>", "Moon"
    mail.set_content(text)
    if html:
        mail.add_alternative(html, subtype="html")
    for name, data, inline in pictures:
        kind = "gif" if data == GIF else "png"
        more = {"disposition": "inline", "cid": f"<{name}@x>"} if inline else {}
        mail.add_attachment(data, maintype="image", subtype=kind, filename=name, **more)
    return mail.as_bytes()


def arrival_of(raw: bytes):
    return mail_arrival(ReceivedItem(data=raw, origin="m", name="m.eml", source="mail"), "mail:1", IntakeLimits())[0]


@pytest.mark.parametrize(
    ("pictures", "kept", "told"),
    [
        (
            [
                ("moon.png", MOON, False),
                ("logo.png", png(180, 60), True),
                ("i.png", png(24, 24), True),
                ("t.png", png(1, 1), True),
            ],
            ["moon.png"],
            "3 small pictures of the signature were set aside.",
        ),
        (
            [("moon.png", MOON, True), ("logo.png", png(180, 60), True)],
            ["moon.png"],
            "One small picture of the signature",
        ),
        ([("moon.png", MOON, False), ("logo.gif", GIF, True)], ["moon.png"], "One small picture of the signature"),
        ([("moon.png", MOON, False), ("tiny.png", png(90, 90), False)], ["moon.png", "tiny.png"], ""),
        ([("tiny.png", png(90, 90), True)], ["tiny.png"], ""),
        ([("tiny.png", png(90, 90), True), ("logo.png", png(180, 60), True)], ["tiny.png", "logo.png"], ""),
        ([("tiny.png", png(90, 90), True), ("t.png", png(1, 1), True)], ["tiny.png"], "One small picture"),
        (
            [("moon.png", png(90, 90), True), ("moon.png", png(90, 90), False), ("b.png", MOON, False)],
            ["moon.png", "b.png"],
            "",
        ),
        ([("logo.gif", GIF, True)], ["logo.gif"], ""),
        ([("big.png", png(400, 250), True), ("moon.png", MOON, False)], ["big.png", "moon.png"], ""),
    ],
)
def test_what_is_set_aside(pictures, kept, told):
    arrival = arrival_of(written(*pictures))
    assert [e.given_name for e in arrival.enclosures] == kept
    assert told in " ".join(map(str, arrival.remarks))
    assert ("set aside" in " ".join(map(str, arrival.remarks))) == bool(told)


def test_a_tracker_alone_is_no_picture_and_the_mail_a_letter():
    arrival = arrival_of(written(("t.png", png(1, 1), True)))
    assert (arrival.enclosures, arrival.letter) == ((), "letter")


def test_a_small_picture_that_came_with_three_mails_is_a_logo(storage, config):
    logo = png(150, 50, shade=7)
    mails = [
        written((f"m{k}.png", png(300, 300, shade=k), False), ("logo.png", logo, False), sender=f"a{k}@x.org")
        for k in range(4)
    ]
    numbers = taken(storage, config, *mails)
    names = [
        [r["given_name"] for r in storage.read("select given_name from pictures where submission_id = ?", [k])]
        for k in numbers
    ]
    assert names == [["m0.png", "logo.png"], ["m1.png", "logo.png"], ["m2.png"], ["m3.png"]]
    remarks = read_picture(storage, picture_of(storage, numbers[2])).submission.arrival.remarks
    assert [str(r) for r in remarks if "set aside" in str(r)] == ["One small picture of the signature was set aside."]
    (alone,) = taken(storage, config, written(("logo.png", logo, False), sender="z@x.org"))
    assert picture_of(storage, alone), "without another picture it stays"


def test_nothing_is_kept_of_what_is_set_aside_but_the_mail(storage, config):
    taken(storage, config, written(("moon.png", MOON, False), ("logo.png", png(180, 60), True)))
    kept = {p.name for p in (config.data_dir / "originals").rglob("*") if p.is_file()}
    assert kept == set(original_hashes(storage))
    assert len(kept) == 2, "the mail and the Moon"


def test_links_are_listed():
    text = "See https://album.example.org/abc?k=1, and (http://b.example.org).\n> https://quoted.example.org/x"
    html = (
        '<p>See <a href="https://album.example.org/abc?k=1">my album</a> <a href="https://c.example.org/d">here</a>'
        '<a href="javascript:x">x</a><a href="mailto:a@b.c">y</a></p><blockquote><a href="https://q.example.org">q</a></blockquote>'
    )
    mail = read_mail(written(text=text, html=html))
    assert mail.links == ("https://album.example.org/abc?k=1", "http://b.example.org", "https://c.example.org/d")
    assert "The mail names pages, which nothing here opens: https://album" in " ".join(
        map(str, arrival_of(written(text=text)).remarks)
    )
    assert read_mail(written(text="No link.")).links == ()
