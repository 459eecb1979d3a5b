"""Photographs inside other pictures: a phone's screenshot, a photograph of a screen, and drawings of the Moon.

`screenshot` pastes a photograph into a drawn surface and says where it lies; `off_screen` photographs a display with
its pixel grid, near enough that no edge shows; `drawing` gives a picture by pen, crayon or program.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image, ImageOps

STYLES = ("gallery", "letterbox", "header", "chat", "post", "desktop")
_GREYS = {"dark": (18, 28, 44, 214), "light": (255, 246, 232, 32)}


@dataclass(frozen=True, eq=False)
class Screenshot:
    """data: the file's bytes. A pixel (x, y) of the photograph lies at (x0 + (x + 0.5) scale - 0.5, y0 + ...)."""

    data: bytes
    x0: float
    y0: float
    scale: float
    width: int
    height: int


def screenshot(photograph: bytes, style: str, seed: int, media: str = "png") -> Screenshot:
    """style: one of STYLES; media: png or jpeg. Dark or light surface, letters, corners follow from the seed."""
    if style not in STYLES:
        raise ValueError(f"unknown style {style!r}: one of {', '.join(STYLES)}")
    rng = np.random.default_rng([seed, STYLES.index(style)])
    with Image.open(io.BytesIO(photograph)) as image:
        photo = np.asarray(ImageOps.exif_transpose(image).convert("RGB"))
    width, height = (1920, 1080) if style == "desktop" else (1080, int(rng.choice([1920, 2280, 2400])))
    paper, bar, bubble, ink = _GREYS[str(rng.choice(["dark", "light"]))]
    if style == "letterbox":
        paper, bar, ink = 0, 0, 235
    margin = {"gallery": 0, "letterbox": 0, "header": 0, "chat": 150, "post": 0, "desktop": 300}[style]
    room_w = width - (0 if style == "desktop" else margin) - (margin if style == "desktop" else 0)
    room_h = height - {"desktop": 200}.get(style, 640)
    scale = min(room_w / photo.shape[1], room_h / photo.shape[0])
    size = round(photo.shape[1] * scale), round(photo.shape[0] * scale)
    scale = size[0] / photo.shape[1]
    small = cv2.resize(photo, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
    page = np.full((height, width, 3), paper, np.uint8)
    x0 = width - size[0] - 24 if style == "chat" else (width - size[0]) // 2
    y0 = (height - size[1]) // 2
    if style in ("header", "post", "desktop"):
        page[: 180 if style != "desktop" else 70] = bar
        page[-140 if style != "desktop" else -60 :] = bar
    _letters(page, rng, ink, 40, 8, width // 2)
    if style != "letterbox":
        for y in (100, height - 70) if style != "desktop" else (45, height - 20):
            _letters(page, rng, ink, y, 60, width - 200)
    if style == "chat":
        for y in range(260, y0 - 120, 150):
            _bubble(page, rng, bubble, ink, y)
        cv2.rectangle(page, (x0 - 8, y0 - 8), (x0 + size[0] + 8, y0 + size[1] + 60), (bubble,) * 3, -1)
        _letters(page, rng, ink, y0 + size[1] + 40, x0 + 20, x0 + size[0] // 2)
    if style == "post":
        for y in range(y0 + size[1] + 60, height - 190, 60):
            _letters(page, rng, ink, y, 40, width - 300)
    _paste(page, small, x0, y0, 28 if style in ("chat", "desktop") and rng.random() < 0.6 else 0)
    out = io.BytesIO()
    if media == "png":
        Image.fromarray(page).save(out, "PNG")
    else:
        Image.fromarray(page).save(out, "JPEG", quality=int(rng.integers(78, 95)))
    return Screenshot(out.getvalue(), float(x0), float(y0), float(scale), width, height)


def _letters(page: np.ndarray, rng: np.random.Generator, ink: int, y: int, x0: int, x1: int) -> None:
    words = " ".join("".join(rng.choice(list("aeinorstlm"), rng.integers(2, 9))) for _ in range(12))
    count = max((x1 - x0) // 17, 1)
    cv2.putText(page, words[:count], (x0, y), cv2.FONT_HERSHEY_SIMPLEX, 0.9, (ink,) * 3, 2, cv2.LINE_AA)


def _bubble(page: np.ndarray, rng: np.random.Generator, value: int, ink: int, y: int) -> None:
    x, w = 24, int(rng.integers(300, 760))
    cv2.rectangle(page, (x, y), (x + w, y + 96), (value,) * 3, -1)
    _letters(page, rng, ink, y + 60, x + 20, x + w - 20)


def _paste(page: np.ndarray, photo: np.ndarray, x0: int, y0: int, corner: int) -> None:
    height, width = photo.shape[:2]
    y, x = np.mgrid[:height, :width].astype(np.float32)
    dx = np.maximum(corner - np.minimum(x, width - 1 - x), 0)
    dy = np.maximum(corner - np.minimum(y, height - 1 - y), 0)
    cover = np.clip(corner - np.hypot(dx, dy) + 0.5, 0, 1)[..., None] if corner else np.ones((height, width, 1))
    window = page[y0 : y0 + height, x0 : x0 + width]
    window[:] = np.round(window * (1 - cover) + photo * cover).astype(np.uint8)


def off_screen(photograph: bytes, seed: int, pitch_px: float | None = None) -> bytes:
    """A photograph of a display that shows the picture and fills the frame: pixel grid, colour stripes, a slight turn.

    pitch_px: display pixels' spacing in the pixels of the new photograph (1200 by 1600 or so), drawn from 1.5 to 5.
    """
    rng = np.random.default_rng([seed, 77])
    with Image.open(io.BytesIO(photograph)) as image:
        photo = np.asarray(ImageOps.exif_transpose(image).convert("RGB"), np.float32) / 255
    height, width = photo.shape[:2]
    pitch = float(rng.uniform(1.5, 5.0)) if pitch_px is None else pitch_px
    turn, keystone = np.radians(rng.uniform(-4, 4)), rng.uniform(-3e-5, 3e-5, 2)
    scale = 1.15
    out = np.zeros_like(photo)
    over = 3  # samples along each side of a camera pixel: the grid must alias as it does on a sensor
    light = photo**2.2
    for dy in range(over):
        for dx in range(over):
            y, x = np.mgrid[:height, :width].astype(np.float32)
            x += (dx + 0.5) / over - 0.5 - width / 2
            y += (dy + 0.5) / over - 0.5 - height / 2
            w = 1 + keystone[0] * x + keystone[1] * y
            u = (np.cos(turn) * x - np.sin(turn) * y) / w / scale
            v = (np.sin(turn) * x + np.cos(turn) * y) / w / scale
            at = (u + width / 2).astype(np.float32), (v + height / 2).astype(np.float32)
            seen = cv2.remap(light.astype(np.float32), *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            across, down = (u * scale / pitch) % 1.0, (v * scale / pitch) % 1.0
            row = (down > 0.18).astype(np.float32)
            for channel in range(3):
                stripe = (np.abs(across - (channel + 0.5) / 3) < 0.14).astype(np.float32)
                out[..., channel] += seen[..., channel] * stripe * row * 3.0
    out = cv2.GaussianBlur(out / over**2, (0, 0), float(rng.uniform(0.5, 0.9))) + 0.004
    out += rng.normal(0, 0.006, out.shape)
    buffer = io.BytesIO()
    shown = np.clip(255 * np.clip(out, 0, 1) ** (1 / 2.2) + 0.5, 0, 255).astype(np.uint8)
    Image.fromarray(shown).save(buffer, "JPEG", quality=88)
    return buffer.getvalue()


def drawing(kind: str, seed: int) -> bytes:
    """A Moon drawn by a program ("flat"), or by pencil on paper and photographed ("pencil"); JPEG, 1200 by 900."""
    rng = np.random.default_rng([seed, 5, kind == "flat"])
    x, y, radius = int(rng.integers(400, 800)), int(rng.integers(330, 570)), int(rng.integers(180, 310))
    out = io.BytesIO()
    if kind == "flat":
        page = np.full((900, 1200, 3), tuple(int(v) for v in rng.integers(5, 60, 3)), np.uint8)
        cv2.circle(page, (x, y), radius, (240, 225, int(rng.integers(120, 210))), -1, cv2.LINE_AA)
        for _ in range(int(rng.integers(4, 9))):
            turn, away = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.7) * radius
            at = int(x + away * np.cos(turn)), int(y + away * np.sin(turn))
            cv2.circle(page, at, int(rng.uniform(0.05, 0.2) * radius), (200, 190, 150), -1, cv2.LINE_AA)
        Image.fromarray(page).save(out, "JPEG", quality=90)
        return out.getvalue()
    if kind != "pencil":
        raise ValueError(f"unknown kind {kind!r}: flat or pencil")
    ink = np.zeros((900, 1200), np.uint8)
    for _ in range(3):
        wobble = tuple(int(v) for v in rng.integers(-4, 5, 2))
        cv2.circle(ink, (x + wobble[0], y + wobble[1]), radius + int(rng.integers(-3, 4)), 130, 2, cv2.LINE_AA)
    for _ in range(int(rng.integers(8, 18))):
        turn, away = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.75) * radius
        at, size = np.array([x + away * np.cos(turn), y + away * np.sin(turn)]), rng.uniform(0.04, 0.18) * radius
        cv2.circle(ink, tuple(at.astype(int)), int(size), 150, 2, cv2.LINE_AA)
        for step in np.linspace(-1, 1, 12):
            half = size * np.sqrt(max(1 - step**2, 0))
            p, q = (at + np.array([(step + lean) * size, way * half]) for lean, way in ((0.0, -1), (0.3, 1)))
            cv2.line(ink, tuple(p.astype(int)), tuple(q.astype(int)), 110, 2, cv2.LINE_AA)
    grain = cv2.GaussianBlur(rng.normal(0, 1, ink.shape).astype(np.float32), (0, 0), 1.2)
    yy, xx = np.mgrid[:900, :1200]
    paper = 205 + 12 * grain + 18 * np.cos((xx + yy) / 900.0)
    shade = paper * (1 - cv2.GaussianBlur(ink, (0, 0), 0.8) / 255.0 * (0.9 + 0.3 * grain))
    page = np.clip(shade[..., None] * (1.0, 0.98, 0.93), 0, 255).astype(np.uint8)
    Image.fromarray(page).save(out, "JPEG", quality=88)
    return out.getvalue()
