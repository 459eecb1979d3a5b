"""The march of the terminator: whose name stands under which picture while one fades into the next."""

from __future__ import annotations

import numpy as np

from moondesk.records import Pose
from moondesk.stacking.month import FADES, SIDE, DatedFrame, march


def test_in_a_fade_the_name_is_that_of_the_stronger_picture():
    pose = Pose(
        x=100.0,
        y=100.0,
        radius_px=80.0,
        north_screen_deg=0.0,
        mirrored=False,
        libration_lat_deg=0.0,
        libration_lon_deg=0.0,
        sub_solar_lat_deg=0.0,
        sub_solar_lon_deg=30.0,
    )
    rgb = np.full((200, 200, 3), 90, np.uint8)
    found = march(
        [DatedFrame(rgb, pose, 0, "Ada"), DatedFrame(rgb, pose, 1, "Bo")], ["first evening", "second evening"]
    )
    strips = [frame[SIDE:] for frame in found]
    assert len(strips) == FADES + 2
    like_first = [bool((one == strips[0]).all()) for one in strips]
    assert like_first == [True] * (1 + FADES // 2) + [False] * (1 + FADES // 2)
    assert all((one == strips[-1]).all() for one in strips[1 + FADES // 2 :])
