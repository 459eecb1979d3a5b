"""Damaged and hostile pictures by the thousand, run by hand: no uncaught exception, no crash, no hang.

    python tests/core/fuzz_pictures.py --count 10000 --seed 1      # seeded mutations of files of every kind
    python tests/core/fuzz_pictures.py --hypothesis 2000           # bytes by grammar (needs hypothesis)
    python tests/core/fuzz_pictures.py --atheris 300               # seconds, led by coverage (needs atheris)

Each mutated file is dated, decoded reduced, in full and as it is compared; every tenth goes through the whole of
`annotate_picture`. Case k of a seed is always the same bytes: `--show K` writes them. Cases run in children under a cap
on memory, so that one that ends its process or takes too long is named and the rest goes on.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import subprocess
import sys
import time
import warnings
import zlib
from collections import Counter
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")
sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[2])]

import numpy as np  # noqa: E402
import tifffile  # noqa: E402
from picture_files import disc, dng, fits, saved, scene  # noqa: E402
from PIL import Image, PngImagePlugin, features  # noqa: E402

from moondesk import annotate_picture  # noqa: E402
from moondesk.duplicates.raster import read_raster  # noqa: E402
from moondesk.files.picture import decode, decode_rgb  # noqa: E402
from moondesk.files.time_taken import read_taken  # noqa: E402
from moondesk.records import Known, NotFound, Picture  # noqa: E402

#: Seconds of processor time after which a small picture counts as a hang, and after which a child is ended.
SLOW_S, LATE_S = 10.0, 60
MEMORY_BYTES = 3 << 30
BATCH = 500
RECEIVED = datetime(2026, 10, 20, 8, tzinfo=UTC)
XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description photoshop:DateCreated="2026-10-18T20:42:10+02:00">'
    b"<exif:DateTimeOriginal>2026-10-18T20:42:10.25+02:00</exif:DateTimeOriginal></rdf:Description></x:xmpmeta>"
)
NAMES = ("IMG_20261018_204210.jpg", "PXL_20261018_184210123.jpg", "IMG-20261018-WA0007.jpg", "moon.png", "")


@cache
def seeds() -> list[tuple[str, bytes]]:
    """Whole files of every kind and layout, with dates and positions in them."""
    exif = Image.Exif()
    exif.update({0x0112: 6, 0x010F: "Invented", 0x0110: "C-1"})
    exif[0x8769] = {0x9003: "2026:10:18 20:42:10", 0x9011: "+02:00", 0x9291: "25"}
    exif[0x8825] = {1: "N", 2: (48.0, 12.0, 0.0), 3: "E", 4: (16.0, 22.0, 0.0), 7: (18.0, 42.0, 10.0), 29: "2026:10:18"}
    block = exif.tobytes()
    plain, moon = Image.fromarray(scene()), Image.fromarray((255 * disc(160, 120, 70, 60, 40)).astype(np.uint8))
    text = PngImagePlugin.PngInfo()
    text.add_itxt("XML:com.adobe.xmp", XMP.decode(), zip=True)
    sample = Image.open(Path(__file__).resolve().parents[2] / "sample_submissions" / "DSC_0412.jpg").convert("RGB")
    found = [
        ("jpeg of the Moon", saved(sample.resize((400, 300)), "JPEG", exif=block)),
        ("png of the Moon", saved(sample.resize((240, 180)), "PNG", exif=block)),
        ("jpeg", saved(plain, "JPEG", exif=block, xmp=XMP)),
        ("jpeg progressive", saved(moon, "JPEG", progressive=True, exif=block)),
        ("jpeg cmyk", saved(plain.convert("CMYK"), "JPEG")),
        ("mpo", saved(plain, "MPO", save_all=True, append_images=[plain], exif=block)),
        ("png", saved(plain, "PNG", exif=block, pnginfo=text)),
        ("png grey", saved(moon, "PNG")),
        ("png palette", saved(plain.quantize(16), "PNG", transparency=0)),
        ("png 16 bit", _png16()),
        ("webp", saved(plain, "WEBP", exif=block, xmp=XMP)),
        ("webp lossless", saved(plain.convert("RGBA"), "WEBP", lossless=True)),
        ("webp animated", saved(plain, "WEBP", save_all=True, append_images=[moon.convert("RGB").resize(plain.size)])),
        ("tiff lzw", saved(plain, "TIFF", compression="tiff_lzw")),
        ("tiff 16 bit", _tiff(scene().astype(np.uint16) * 257, photometric="rgb")),
        ("tiff float", _tiff(disc().astype(np.float32), photometric="minisblack")),
        ("tiff deflate", _tiff(scene(), photometric="rgb", compression="deflate", tile=(16, 16))),
        ("fits", fits((disc() * 1e4).astype(np.uint16), DATE_OBS="2026-10-18T18:42:10.5")),
        ("fits colour", fits(np.stack([disc(), disc(), disc()]).astype(np.float32), "image")),
        ("fits packed", fits((disc() * 1e4).astype(np.int16), "packed")),
    ]
    if features.check("avif"):
        found.append(("avif", saved(plain, "AVIF", exif=block, xmp=XMP)))
    with contextlib.suppress(ImportError):
        import pillow_heif

        out = io.BytesIO()
        pillow_heif.encode("RGB", plain.size, plain.tobytes(), out, exif=block, xmp=XMP)
        found.append(("heic", out.getvalue()))
    with contextlib.suppress(ImportError):
        import rawpy  # noqa: F401

        found.append(("dng", dng(disc(), 6)))
    return found


def _tiff(pixels: np.ndarray, **options: object) -> bytes:
    out = io.BytesIO()
    tifffile.imwrite(out, pixels, **options)  # type: ignore[arg-type]
    return out.getvalue()


def _png16() -> bytes:
    import cv2

    return cv2.imencode(".png", scene().astype(np.uint16) * 257)[1].tobytes()


def mutated(seed: int, case: int) -> tuple[str, bytes]:
    """Name and bytes of a case: one to six changes, half of them where the headers are."""
    rng = np.random.default_rng((seed, case))
    kinds = seeds()
    name, whole = kinds[case % len(kinds)]
    data = bytearray(whole)
    for _ in range(int(rng.integers(1, 3 if case % 2 else 7))):
        size = len(data)
        if not size:
            break
        near = min(size, (64, 400, size, size)[int(rng.integers(0, 4))])
        at = int(rng.integers(0, near))
        how = int(rng.integers(0, 9))
        if how <= 1:
            data[at] = int(rng.integers(0, 256))
        elif how == 2:
            data[at] ^= 1 << int(rng.integers(0, 8))
        elif how == 3:
            del data[at : at + int(rng.integers(1, 60))]
        elif how == 4:
            data[at:at] = rng.integers(0, 256, int(rng.integers(1, 60)), dtype=np.uint8).tobytes()
        elif how == 5:  # a length or an offset at its limits
            value = int(rng.choice(np.array([0, 1, 0x7FFF, 0xFFFF, 0x10000, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF])))
            data[at : at + 4] = value.to_bytes(4, "big" if rng.integers(0, 2) else "little")
        elif how == 6:  # a piece said again, elsewhere
            piece = data[at : at + int(rng.integers(1, 200))]
            to = int(rng.integers(0, size))
            data[to:to] = piece * int(rng.integers(1, 5))
        elif how == 7:  # a piece of another kind of file
            other = kinds[int(rng.integers(0, len(kinds)))][1]
            start = int(rng.integers(0, len(other)))
            data[at : at + 50] = other[start : start + int(rng.integers(1, 400))]
        else:
            del data[max(near // 2, at) :]
    whole = bytes(data)
    return name, _with_sums(whole) if name.startswith("png") and case % 4 else whole


def _with_sums(data: bytes) -> bytes:
    """A PNG with its check sums put right again, so that decoders look inside."""
    parts, at = [data[:8]], 8
    while at + 12 <= len(data):
        end = at + 8 + int.from_bytes(data[at : at + 4], "big")
        if end + 4 > len(data):
            break
        parts.append(data[at:end] + zlib.crc32(data[at + 4 : end]).to_bytes(4, "big"))
        at = end + 4
    return b"".join(parts) + data[at:]


def tried(data: bytes, case: int) -> str:
    """What became of one file: "picture" or "refused". Raises what the product would raise."""
    known = Known(
        received_utc=RECEIVED if case % 3 else None,
        zones=("Europe/Vienna",) if case % 2 else (),
        given_name=NAMES[case % len(NAMES)],
    )
    taken = read_taken(data, known)
    assert known.received_utc is None or all((c.utc - RECEIVED).total_seconds() <= 600 for c in taken.candidates)
    seen, rgb = decode(data, 1110), decode_rgb(data)
    for answer in (seen, rgb):
        assert not isinstance(answer, NotFound) or (answer.reason and answer.advice)
    if isinstance(seen, Picture):
        assert np.isfinite(seen.luminance).all()
        assert seen.luminance.min() >= 0
        assert seen.luminance.max() <= 1
        # a damaged raw file may be readable at one size alone
        assert isinstance(rgb, np.ndarray) or seen.media_type == "image/x-raw"
        assert isinstance(rgb, NotFound) or rgb.shape[:2] == (seen.height, seen.width)
        raster = read_raster(data)
        assert isinstance(rgb, NotFound) or isinstance(raster, NotFound) or raster.grey.shape == rgb.shape[:2]
    if case % 10 == 0:
        assert annotate_picture(data, known).status
    return "picture" if isinstance(seen, Picture) else "refused"


def child(seed: int, first: int, count: int) -> None:
    """Cases one after the other, a line of JSON each; the line before a case that ends the process names it."""
    import faulthandler
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    warnings.simplefilter("ignore")
    for case in range(first, first + count):
        print(json.dumps({"begins": case}), flush=True)
        name, data = mutated(seed, case)
        faulthandler.dump_traceback_later(LATE_S, exit=True)
        started = time.process_time()
        try:
            outcome, error = tried(data, case), ""
        except Exception as fault:
            outcome, error = "fault", f"{type(fault).__name__}: {fault}"[:300]
        spent = time.process_time() - started
        print(json.dumps({"case": case, "kind": name, "outcome": outcome, "s": round(spent, 3), "error": error}))
    faulthandler.cancel_dump_traceback_later()


def run(seed: int, first: int, count: int) -> int:
    totals: Counter[str] = Counter()
    kinds: Counter[str] = Counter()
    faults: list[str] = []
    spent, slowest = 0.0, (0.0, -1)
    at, end = first, first + count
    while at < end:
        many = min(BATCH, end - at)
        command = [sys.executable, __file__, "--child", str(at), "--count", str(many), "--seed", str(seed)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        lines = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
        for line in lines:
            if "case" not in line:
                continue
            totals[line["outcome"]] += 1
            kinds[f"{line['kind']} {line['outcome']}"] += 1
            spent += line["s"]
            slowest = max(slowest, (line["s"], line["case"]))
            if line["error"] or line["s"] > SLOW_S:
                faults.append(f"case {line['case']} ({line['kind']}): {line['error'] or 'slow'}, {line['s']} s")
                print(faults[-1], flush=True)
        begun = [line["begins"] for line in lines if "begins" in line]
        ended = [line["case"] for line in lines if "case" in line]
        at += many
        if not begun:
            raise SystemExit(done.stderr)
        if len(begun) != many or len(ended) != many:
            at = begun[-1] + 1
            faults.append(f"case {at - 1} ended its process ({done.returncode}): {done.stderr[-400:]}")
            print(faults[-1], flush=True)
        print(f"{at - first} of {count}: {dict(totals)}, faults {len(faults)}, {spent:.0f} s", flush=True)
    for kind, number in sorted(kinds.items()):
        print(f"  {kind}: {number}")
    print(
        f"seed {seed}, {sum(totals.values())} pictures: {dict(totals)}, slowest {slowest[0]:.2f} s "
        f"(case {slowest[1]}), {spent:.0f} s of processor time, faults {len(faults)}"
    )
    return 1 if faults else 0


def by_hypothesis(count: int) -> None:
    """Bytes by grammar into every reader of headers, and dates of every spelling."""
    from hypothesis import HealthCheck, example, given, settings
    from hypothesis import strategies as st

    magics = st.sampled_from([data[:n] for _, data in seeds() for n in (4, 12, 30, 64)])
    files = st.builds(lambda head, tail: head + tail, magics, st.binary(max_size=400))

    @settings(max_examples=count, deadline=None, suppress_health_check=list(HealthCheck))
    @given(files, st.integers(0, 99))
    @example(b"", 0)
    def headers(data: bytes, case: int) -> None:
        tried(data, case * 10 + 1)

    headers()
    print(f"hypothesis: {count} files without a fault")


def by_atheris(seconds: int) -> None:
    """Led by the coverage of our own readers; ends with a traceback at the first fault."""
    import atheris

    warnings.simplefilter("ignore")
    for name, module in list(sys.modules.items()):
        if name.startswith("moondesk.files"):
            of_module = [v for v in vars(module).values() if getattr(v, "__module__", "") == name]
            members = [m for v in of_module if isinstance(v, type) for m in vars(v).values()]
            for value in (*of_module, *members):
                if hasattr(value, "__code__"):
                    atheris.instrument_func(value)
    folder = Path(os.environ.get("TMPDIR", "/tmp")) / "fuzz_pictures_corpus"
    folder.mkdir(exist_ok=True)
    for number, (_, data) in enumerate(seeds()):
        (folder / f"seed{number}").write_bytes(data)
    atheris.Setup(
        [sys.argv[0], f"-max_total_time={seconds}", "-max_len=6000", "-rss_limit_mb=3000", str(folder)],
        lambda data: tried(data, len(data) * 10 + 1) and None,
    )
    atheris.Fuzz()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--child", type=int, default=None, help=argparse.SUPPRESS)
    parser.add_argument("--show", type=int, metavar="K", help="write case K to standard output")
    parser.add_argument("--hypothesis", type=int, metavar="N")
    parser.add_argument("--atheris", type=int, metavar="SECONDS")
    given = parser.parse_args()
    if given.child is not None:
        child(given.seed, given.child, given.count)
    elif given.show is not None:
        sys.stdout.buffer.write(mutated(given.seed, given.show)[1])
    elif given.hypothesis:
        by_hypothesis(given.hypothesis)
    elif given.atheris:
        by_atheris(given.atheris)
    else:
        return run(given.seed, given.first, given.count)
    return 0


if __name__ == "__main__":
    sys.exit(main())
