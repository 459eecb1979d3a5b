"""The small picture of the inbox: the Moon where it is placed, else the whole photograph."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
from PIL import Image

from moondesk.service.jobs.derived_pictures import draw_roles
from moondesk.service.jobs.engine import load_engine
from tests.test_sample_placing import placed_sample

PLACED = "20261017_211435.jpg"


def thumbnail(rgb, annotation) -> np.ndarray:
    data = draw_roles(load_engine(), rgb, annotation, ["thumbnail"]).files["thumbnail"]
    return np.asarray(Image.open(io.BytesIO(data)).convert("L"), float)


def test_a_limb_that_is_not_the_moons_cuts_nothing():
    annotation = placed_sample(PLACED)
    assert annotation.pose is not None
    wide = np.zeros((3000, 4000, 3), np.uint8)
    wide[:, :2000] = 90
    pose = replace(annotation.pose, x=3000.0, y=800.0, radius_px=150.0)
    assert annotation.limb is not None
    limb = replace(annotation.limb, x=3000.0, y=800.0, radius_px=150.0)
    whole = thumbnail(wide, replace(annotation, pose=None, limb=limb))
    assert whole[:, : whole.shape[1] // 2 - 2].mean() > 80  # all of it: half of it is grey
    about = thumbnail(wide, replace(annotation, pose=pose, limb=limb))
    assert about.mean() < 5
