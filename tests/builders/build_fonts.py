"""The packaged faces of the frames, from npm packages of the Noto fonts (SIL Open Font License 1.1).

    npm pack @fontsource/noto-sans @fontsource/noto-sans-arabic ... (one package for each line of PACKAGES), unpack each
    into FOLDER/<its name without the scope>, then
    python tests/builders/build_fonts.py FOLDER

A web font of the second kind takes seconds to open where it has thousands of signs, so they are kept in the first
kind's packing (zlib, opened in milliseconds): the Chinese, Japanese and Korean faces 1.6, 1.4 and 0.9 MB, all others
together 0.7. Beside each package's faces stands its licence; fonts.json names source, version and SHA-256 of every
file.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sys
from pathlib import Path

from fontTools.ttLib import TTFont

TARGET = Path(__file__).resolve().parents[2] / "annotate" / "air" / "fonts"
#: Package, its subsets in the order of trying, weights.
PACKAGES = (
    ("noto-sans", ("latin", "latin-ext", "cyrillic", "cyrillic-ext", "greek", "vietnamese"), (400, 600)),
    ("noto-sans-devanagari", ("devanagari",), (600,)),
    ("noto-sans-arabic", ("arabic",), (600,)),
    ("noto-sans-hebrew", ("hebrew",), (600,)),
    ("noto-sans-bengali", ("bengali",), (600,)),
    ("noto-sans-tamil", ("tamil",), (600,)),
    ("noto-sans-telugu", ("telugu",), (600,)),
    ("noto-sans-thai", ("thai",), (600,)),
    ("noto-sans-georgian", ("georgian",), (600,)),
    ("noto-sans-armenian", ("armenian",), (600,)),
    ("noto-sans-ethiopic", ("ethiopic",), (600,)),
    ("noto-sans-jp", ("japanese",), (600,)),
    ("noto-sans-sc", ("chinese-simplified",), (600,)),
    ("noto-sans-kr", ("korean",), (600,)),
)


def main(folder: Path) -> None:
    TARGET.mkdir(exist_ok=True)
    made = []
    for package, subsets, weights in PACKAGES:
        version = json.loads((folder / package / "package.json").read_text())["version"]
        shutil.copyfile(folder / package / "LICENSE", TARGET / f"{package}.LICENSE.txt")
        for subset in subsets:
            for weight in weights:
                source = folder / package / "files" / f"{package}-{subset}-{weight}-normal.woff2"
                face = TTFont(source, recalcTimestamp=False)
                face.flavor = "woff"
                name = f"{package}-{subset}-{weight}.woff" if subset not in package else f"{package}-{weight}.woff"
                face.save(TARGET / name)
                data = (TARGET / name).read_bytes()
                made.append(
                    {
                        "file": name,
                        "package": f"@fontsource/{package}",
                        "version": version,
                        "weight": weight,
                        "source_sha256": hashlib.sha256(source.read_bytes()).hexdigest(),
                        "sha256": hashlib.sha256(data).hexdigest(),
                        "characters": len(face.getBestCmap()),
                    }
                )
                print(f"{name:40} {len(data) / 1000:8.1f} kB")
    (TARGET / "fonts.json").write_text(json.dumps(made, indent=1) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
