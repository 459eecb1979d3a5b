"""Pictures with a disc of their own and grain of their own, so that copies and other exposures can be told."""

from __future__ import annotations

import io

import cv2
import numpy as np
from PIL import Image


def photo(seed: int, noise: int = 1) -> Image.Image:
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:300, :400].astype(np.float32)
    texture = sum(cv2.GaussianBlur(rng.normal(size=(300, 400)).astype(np.float32), (0, 0), s) * s * 60 for s in (2, 8))
    light = 10 + np.clip(110 - np.hypot(x - 200, y - 150), 0, 1) * np.clip(120 + texture, 5, 230)
    grain = np.random.default_rng([seed, noise]).normal(0, 2, (300, 400, 3))
    return Image.fromarray(np.clip(light[..., None] + grain, 0, 255).astype(np.uint8))


def jpeg(image: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality)
    return out.getvalue()
