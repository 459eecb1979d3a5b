"""Keypoints: the ready-made ones are those of the maps, and a mirror image's come from the picture's own."""

from __future__ import annotations

import numpy as np

from moondesk.placement.keypoints import MODEL_KEYS, UNDATED, _image, _keys, _mirror, _stored_keypoints, match_keypoints


def test_kept_keypoints_are_those_of_the_maps() -> None:
    kept = _stored_keypoints()
    assert set(kept) == {sky.sub_solar_lon_deg for sky in UNDATED}
    sky = UNDATED[len(UNDATED) // 2]
    xy, descriptor = kept[sky.sub_solar_lon_deg]
    again = _keys(_image(sky)[0], MODEL_KEYS)
    # other builds of the image library round differently: nearly all must be there, not all
    near = np.hypot(*(again.xy[:, None] - xy[None]).transpose(2, 0, 1)) < 0.1
    root = np.sqrt(descriptor / descriptor.sum(axis=1, keepdims=True, dtype=float))
    # one place may have two keypoints, of different directions
    assert (np.where(near, again.descriptor @ root.T, 0.0).max(axis=1) > 0.99).mean() > 0.95


def test_keypoints_of_the_mirror_image() -> None:
    # against the library's own search in the flipped picture
    image, _ = _image(UNDATED[10])
    image = np.ascontiguousarray(image[200:700, 150:750])
    ours, found = _mirror(_keys(image, 800), image.shape[1]), _keys(np.ascontiguousarray(image[:, ::-1]), 800)
    away = np.hypot(*(ours.xy[:, None] - found.xy[None]).transpose(2, 0, 1))
    # the library doubles a picture's size first, half a pixel to one side; nearly all keypoints meet their own
    assert (np.where(away < 1.0, ours.descriptor @ found.descriptor.T, 0.0).max(axis=1) > 0.98).mean() > 0.85


def test_a_close_up_is_found_with_its_hand() -> None:
    sky = UNDATED[6]
    image, centre = _image(sky)
    part = np.ascontiguousarray(image[250:650, 200:760][:, ::-1]).astype(np.float32) / 255.0
    best = match_keypoints(part, UNDATED)[0]
    assert best.mirrored
    assert abs(best.radius_px - 450.0) < 3.0
    assert np.hypot(best.x - (559 - (centre - 200)), best.y - (centre - 250)) < 3.0
