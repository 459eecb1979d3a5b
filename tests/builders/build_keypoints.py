"""Rebuilds annotate/data/keypoints.npz from the package's own maps, after these or the photometric law have changed.

python -m tests.builders.build_keypoints
"""

from __future__ import annotations

from pathlib import Path

from moondesk.placement.keypoints import pack_keypoints

OUT = Path(__file__).resolve().parents[2] / "annotate" / "data" / "keypoints.npz"

if __name__ == "__main__":
    OUT.write_bytes(pack_keypoints())
    print(f"{OUT.name}: {OUT.stat().st_size} bytes")
