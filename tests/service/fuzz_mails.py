"""Damaged and hostile mails by the thousand, run by hand: no uncaught exception, no hang.

    python tests/service/fuzz_mails.py --count 100000 --seed 1     # seeded mutations of mails of every odd kind
    python tests/service/fuzz_mails.py --atheris 300               # seconds, led by coverage (needs atheris)

Each mutated mail goes the whole way that a mail of a mailbox goes in its child: headers, words, attachments, archives,
suggestions. Case k of a seed is always the same bytes: `--show K` writes them.
"""

from __future__ import annotations

import argparse
import random
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from functools import cache
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[2])]

import container_files as made  # noqa: E402
from fakes import jpeg_with_gps, png  # noqa: E402
from odd_mails import odd_mails  # noqa: E402

from moondesk.service.intake.reading import mail_arrival  # noqa: E402
from moondesk.service.intake.sources import ReceivedItem  # noqa: E402
from moondesk.service.settings.config import IntakeLimits  # noqa: E402
from moondesk.service.store.records import Arrival  # noqa: E402

#: Seconds of processor time after which a small mail counts as a hang, and after which it is ended.
SLOW_S, LATE_S = 2.0, 20
SAMPLES = Path(__file__).resolve().parents[2] / "sample_submissions"
#: Pieces that parsers have stumbled over (from memory: encoded words, parameters in pieces, endless boundaries).
TOKENS = (
    b"=?utf-8?B?",
    b"=?utf-8?Q?=FF?=",
    b"=?x-unknown?Q?a?=",
    b"?=",
    b"filename*0*=utf-8''%FF",
    b"; filename*1=",
    b"\r\n ",
    b"\r\n\r\n",
    b"\n--",
    b"--\r\n",
    b'boundary=""',
    b"Content-Type: multipart/mixed",
    b"Content-Type: message/rfc822\r\n\r\n",
    b"Content-Transfer-Encoding: base64",
    b"Content-Transfer-Encoding: x-uuencode",
    b'charset="\x00"',
    b"\x00",
    b"\xff\xfe",
    b"Date: Thu, 99 Foo 99999 99:99:99 +9999",
    b"From: <@>",
    b'From: "',
    b"Received: ;;;;",
    b"PK\x03\x04",
    b"PK\x05\x06",
    b"\x89PNG\r\n\x1a\n",
    b"../../../../",
    b"<script>",
    "\u202egnp.exe".encode(),
    b"%00",
    b"{{7*7}}",
    b"(" * 40,
    b"<" * 40,
)


@cache
def seeds() -> tuple[bytes, ...]:
    """Whole mails of every odd kind, and the samples without their large pictures."""
    samples = [p.read_bytes()[:6000] + b"\r\n" for p in sorted(SAMPLES.glob("*.eml"))]
    return (*odd_mails(), *samples, *container_mails())


def container_mails() -> list[bytes]:
    """Mails with a document or wrapping that holds pictures, its bytes as they are, so that they change too."""
    photo = jpeg_with_gps()
    files = {
        "a.docx": made.docx(png(65), png(66)),
        "a.odt": made.odt(png(65)),
        "a.pdf": made.pdf(photo, packed=(30, 20)),
        "winmail.dat": made.winmail(("m.png", png(65)), ("n.png", png(66)), text="You may show it."),
        "a.msg": made.saved_mail(("m.png", png(65)), name="Yana", address="yana@example.org", text="You may show it."),
    }
    head = "From: Ann <ann@example.org>\r\nSubject: Moon\r\nContent-Type: multipart/mixed; boundary=bound\r\n\r\n--bound\r\n"
    return [
        f"{head}Content-Type: application/octet-stream\r\nContent-Transfer-Encoding: 8bit\r\n"
        f'Content-Disposition: attachment; filename="{name}"\r\n\r\n'.encode()
        + data
        + b"\r\n--bound--\r\n"
        for name, data in files.items()
    ]


def mutated(seed: int, case: int) -> bytes:
    """One to eight changes of a seed: bytes flipped, pieces cut, doubled, moved, crossed, tokens put in."""
    rng = random.Random(f"{seed} {case}")
    mails = seeds()
    data = bytearray(rng.choice(mails))
    for _ in range(rng.choice((1, 1, 2, 3, 5, 8))):
        at, to = sorted(rng.randrange(len(data) + 1) for _ in range(2))
        # most of what a parser decides by stands in the first kilobyte
        if rng.random() < 0.6:
            at, to = at % 1000, min(at % 1000 + rng.randrange(200), len(data))
        way = rng.randrange(6)
        if way == 0 and data:
            data[at % len(data)] ^= 1 << rng.randrange(8)
        elif way == 1:
            del data[at : min(to, at + 2000)]
        elif way == 2:
            data[at:at] = data[at : min(to, at + 2000)] * rng.choice((1, 2, 30))
        elif way == 3:
            data[at:at] = rng.choice(TOKENS) * rng.choice((1, 1, 2, 50))
        elif way == 4:
            other = rng.choice(mails)
            start = rng.randrange(len(other) + 1)
            data[at:to] = other[start : start + rng.randrange(3000)]
        else:
            data[at:to] = bytes(rng.randrange(256) for _ in range(min(to - at, 60)))
        del data[200_000:]
    return bytes(data)


def tried(data: bytes) -> str:
    """What became of a mail: "pictures" or "refused". Whatever is raised is a fault."""
    arrival, contents = mail_arrival(
        ReceivedItem(data=data, origin="fuzz", name="fuzz.eml", source="mail"), "mail:0", IntakeLimits()
    )
    assert isinstance(arrival, Arrival)
    assert arrival.enclosures or arrival.letter, "a mail that is listed nowhere is lost"
    assert all(e.sha256 or e.refused for e in arrival.enclosures)
    for text in (
        arrival.sender_name,
        arrival.sender_address,
        arrival.subject,
        arrival.message_id,
        *(e.given_name for e in arrival.enclosures),
        *map(str, arrival.remarks),
    ):
        text.encode()  # no half character may reach the store
        assert "\0" not in text
    assert all(isinstance(c, bytes) for c in contents)
    return "refused" if all(e.refused for e in arrival.enclosures) else "pictures"


def run(seed: int, count: int) -> int:
    """Try so many; the number of faults."""
    outcomes: Counter[str] = Counter()
    slowest, faults = (0.0, -1), 0
    for case in range(count):
        data, begun = mutated(seed, case), time.process_time()
        signal.alarm(LATE_S)
        try:
            outcomes[tried(data)] += 1
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            faults += 1
            outcomes[type(error).__name__] += 1
            if faults <= 20:
                print(f"case {case}: {traceback.format_exc(limit=-3)}", flush=True)
        signal.alarm(0)
        took = time.process_time() - begun
        slowest = max(slowest, (took, case))
        if took > SLOW_S:
            faults += 1
            print(f"case {case}: {took:.1f} s", flush=True)
        if (case + 1) % 20_000 == 0:
            print(f"{case + 1}: {dict(outcomes)}, slowest {slowest[0]:.2f} s (case {slowest[1]})", flush=True)
    print(
        f"seed {seed}: {count} mails, {faults} faults, {dict(outcomes)}, slowest {slowest[0]:.2f} s, case {slowest[1]}"
    )
    return faults


def by_atheris(seconds: int) -> None:
    import atheris

    atheris.instrument_all()

    def once(data: bytes) -> None:
        tried(data)

    atheris.Setup([sys.argv[0], f"-max_total_time={seconds}", "-max_len=60000"], once)
    atheris.Fuzz()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--show", type=int, metavar="K")
    parser.add_argument("--atheris", type=int, metavar="SECONDS")
    args = parser.parse_args()
    warnings.simplefilter("ignore")

    def late(*_: object) -> None:
        raise TimeoutError(f"longer than {LATE_S} s")

    signal.signal(signal.SIGALRM, late)
    if args.show is not None:
        sys.stdout.buffer.write(mutated(args.seed, args.show))
        return 0
    if args.atheris:
        by_atheris(args.atheris)
        return 0
    return int(run(args.seed, args.count) > 0)


if __name__ == "__main__":
    sys.exit(main())
