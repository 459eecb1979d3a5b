"""An evening's mailbox: any number of mails, each with a 12-megapixel photograph of the Moon that is like no other.

A few scenes are rendered; each mail has one of them cut, turned, mirrored, enlarged and covered with its own sensor
noise, so that no two are one picture, and none takes longer to make than its file to write. Two of three show the Moon
of one evening, as the mails of a programme do; the others are of other evenings and kinds.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import cv2
import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.records import Place
from tests.scenes.develop import develop, encode
from tests.scenes.families import spec_of
from tests.scenes.optics import moonlight, with_sky
from tests.scenes.rendering import north_on_screen, true_pose
from tests.scenes.spec import SceneSpec

#: The Moon stands high enough over all of `TOWNS` then, and is a little past its first quarter.
EVENING = datetime(2026, 10, 19, 17, 30, tzinfo=UTC)
TOWNS = (Place(50.1, 14.4), Place(48.2, 16.4), Place(47.5, 19.0), Place(49.2, 16.6))
OF_THE_EVENING = ("clean", "eyepiece", "mirrored", "over", "haze", "soft", "small", "noexif", "wrongclock", "cut")
OF_OTHERS = ("clean", "closeup", "crescent", "daylight", "full")
#: None was taken after this, whatever the families draw: a date to come is not believed.
LATEST = datetime(2026, 10, 31, tzinfo=UTC)
LONG_SIDE, SHORT_SIDE = 4000, 3000
FIRST = ("Alma", "Bero", "Cilka", "Dorin", "Edda", "Falk", "Gesa", "Hanno", "Ilka", "Jaro", "Kalea", "Lorin", "Mirko")
LAST = ("Anders", "Brandl", "Corvin", "Dahl", "Ebner", "Ferro", "Gruber", "Holub", "Ivo", "Jansa", "Kolar")
WORDS = (
    "Here is the Moon from my balcony. You may show it, please with my name. {scope}",
    "Good evening! {scope} I hope it is sharp enough. I agree that you show the picture on air.",
    "{scope}\nSeeing was poor tonight. Greetings from the garden.",
    "My first picture through a telescope. {scope}",
)
SCOPES = (
    "Taken with a 6 inch Dobsonian and a 25 mm eyepiece.",
    "Phone held to the eyepiece, 114/900 mm reflector.",
    "Refractor 80/400 mm, compact camera.",
    "Just the camera with its 300 mm lens on a tripod.",
)

#: Written out: the standard library's writer takes as long for a mail as all the rest.
MAIL = """\
From: {sender}
To: moon@example.org
Date: {date}
Message-ID: <{identifier}@example.org>
Subject: The Moon tonight
MIME-Version: 1.0
Content-Type: multipart/mixed; boundary=part

--part
Content-Type: text/plain; charset=us-ascii

{text}

--part
Content-Type: image/jpeg
Content-Transfer-Encoding: base64
Content-Disposition: attachment; filename="IMG_{number}.jpg"

"""


@dataclass(frozen=True, eq=False)
class Base:
    """A rendered frame before its noise, (H, W, 3) uint8, and what it shows."""

    spec: SceneSpec
    pixels: np.ndarray


def write_mails(maildir: Path, count: int, seed: int) -> None:
    """Write a Maildir of so many mails. A third of a second each."""
    for part in ("tmp", "cur", "new"):
        (maildir / part).mkdir(parents=True)
    for number, mail in mails(count, seed):
        name = f"{1_700_000_000 + number}.M{number}.bench"
        (maildir / "tmp" / name).write_bytes(mail)
        (maildir / "tmp" / name).rename(maildir / "new" / name)


def mails(count: int, seed: int) -> Iterator[tuple[int, bytes]]:
    """Mails with their numbers; those of one scene after the other, numbered as they come in: mixed."""
    scenes = min(60, max(3, count // 8))
    numbers = np.random.default_rng(seed).permutation(count)
    noise = _noise(seed)
    for k in range(scenes):
        base = _base(k, seed)
        for number in numbers[k::scenes]:
            rng = np.random.default_rng([seed, int(number)])
            yield int(number), _mail(base, noise, int(number), seed, rng)


def _base(k: int, seed: int) -> Base:
    rng = np.random.default_rng([seed, k, 1])
    if k % 3 != 2:
        spec = spec_of(OF_THE_EVENING[k // 3 % len(OF_THE_EVENING)], 1000 * seed + k)
        when = EVENING + timedelta(minutes=float(rng.uniform(0, 90)))
        place = TOWNS[rng.integers(len(TOWNS))]
        turn = north_on_screen(aspect_at(when, place), float(rng.uniform(0, 360)), spec.mirrored)
        spec = replace(spec, when_utc=when, place=place, north_screen_deg=turn, tags=replace(spec.tags, zone_hours=2.0))
    else:
        n = 1000 * seed + k
        while (spec := spec_of(OF_OTHERS[k // 3 % len(OF_OTHERS)], n)).when_utc > LATEST - timedelta(days=3):
            n += 100_000
    pose = true_pose(spec, aspect_at(spec.when_utc, spec.place))
    still = replace(spec.film, shot=0.0, read=0.0)
    return Base(spec, develop(with_sky(moonlight(spec, pose), spec, pose), still, spec.seed))


def _noise(seed: int) -> np.ndarray:
    """Grain of one grey level, larger than any picture by a margin; each takes another piece of it."""
    rng = np.random.default_rng([seed, 2])
    grain = rng.standard_normal((LONG_SIDE + 500, LONG_SIDE + 500, 3), dtype=np.float32)
    grain = cv2.GaussianBlur(grain, (0, 0), 0.6)
    return (grain * (16.0 / grain.std())).clip(-127, 127).astype(np.int8)  # in sixteenths


def _picture(base: Base, noise: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    spec, (height, width) = base.spec, base.pixels.shape[:2]
    zoom = float(rng.uniform(1.0, 1.12))
    wide, high = width / zoom, height / zoom

    def start(whole: float, part: float, middle: float) -> float:
        """Where the cut begins: anywhere, but the disc stays in it if it can."""
        low, high = middle + spec.radius_px + 4 - part, middle - spec.radius_px - 4
        low, high = (max(0.0, low), min(whole - part, high)) if low < high else (0.0, whole - part)
        return float(rng.uniform(low, high)) if low < high else min(max(low, 0.0), whole - part)

    left, top = start(width, wide, spec.x), start(height, high, spec.y)
    scale = LONG_SIDE / max(wide, high)
    size = (LONG_SIDE, SHORT_SIDE) if width > height else (SHORT_SIDE, LONG_SIDE)
    shift = np.array([[scale, 0, -left * scale], [0, scale, -top * scale]])
    large = cv2.warpAffine(base.pixels, shift, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    large = np.rot90(large, int(rng.integers(4)))
    if rng.random() < 0.3:
        large = large[:, ::-1]
    x, y = (int(rng.integers(noise.shape[1] - s)) for s in (large.shape[1], large.shape[0]))
    grain = noise[y : y + large.shape[0], x : x + large.shape[1]]
    strength = float(rng.uniform(2.5, 5.0)) / 16.0
    return cv2.addWeighted(
        np.ascontiguousarray(large), 1.0, np.ascontiguousarray(grain), strength, 0.0, dtype=cv2.CV_8U
    )


def _mail(base: Base, noise: np.ndarray, number: int, seed: int, rng: np.random.Generator) -> bytes:
    pixels = _picture(base, noise, rng)
    spec = replace(
        base.spec,
        when_utc=base.spec.when_utc + timedelta(seconds=int(rng.integers(-90, 90))),
        seed=base.spec.seed + number,
        tags=replace(base.spec.tags, quality=int(rng.integers(93, 97)), orientation=1),
    )
    received = (base.spec.when_utc + timedelta(hours=float(rng.uniform(1, 6)))).replace(microsecond=0)
    first, last = FIRST[number % len(FIRST)], LAST[number // len(FIRST) % len(LAST)]
    text = WORDS[number % len(WORDS)].format(scope=SCOPES[number // 3 % len(SCOPES)])
    head = MAIL.format(
        sender=f"{first} {last} <{first.lower()}.{last.lower()}{number}@example.org>",
        date=format_datetime(received),
        identifier=f"{seed}.{number}",
        text=text,
        number=4000 + number,
    )
    return head.encode() + base64.encodebytes(encode(pixels, spec)) + b"--part--\n"
