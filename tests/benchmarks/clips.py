"""A pull-in of 5 seconds on a sample picture: how long its frames and its files take, how large they and the program are.

python -m tests.benchmarks.clips [--size hd] [--rate 25]
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

from moondesk import annotate_picture
from moondesk.drawing.frame import FORMATS, FrameRequest, Texts
from moondesk.files.picture import decode_rgb
from moondesk.records import Known
from moondesk.service.exports.clip_file import CODECS, RATES, write_clip
from moondesk.tour.clip import Clip, frames
from moondesk.tour.views import View, ViewKind

SAMPLE = Path(__file__).resolve().parents[2] / "sample_submissions" / "20261017_211435.jpg"
PULL_IN = (
    View(kind=ViewKind.NAMED, seconds=0.5),
    View(kind=ViewKind.CLOSE_UP, feature="Theophilus", seconds=0.5, move_s=5.0),
)


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--size", choices=FORMATS, default="hd")
    parser.add_argument("--rate", choices=RATES, default="25")
    told = parser.parse_args(arguments)
    data = SAMPLE.read_bytes()
    clip = Clip(
        rgb=decode_rgb(data),
        annotation=annotate_picture(data, Known()),
        whole=FrameRequest(
            format=FORMATS[told.size], texts=Texts(credit="Þórunn Vale"), offered=("Maurolycus", "Piccolomini")
        ),
        tour=PULL_IN,
        rate=RATES[told.rate],
    )
    start = time.perf_counter()
    count = sum(1 for _ in frames(clip))
    took = time.perf_counter() - start
    print(f"{told.size}, {told.rate} a second: {count} frames drawn in {took:.1f} s, {1000 * took / count:.0f} ms each")
    with tempfile.TemporaryDirectory() as folder:
        for name, codec in CODECS.items():
            path = Path(folder) / f"film{codec.suffix}"
            start = time.perf_counter()
            write_clip(path, frames(clip), (clip.format.width, clip.format.height), clip.rate, codec)
            took = time.perf_counter() - start
            print(f"{name}: {took:.1f} s with its drawing, {path.stat().st_size / 1e6:.1f} MB")
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
