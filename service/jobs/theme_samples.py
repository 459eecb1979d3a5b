"""A sample of each look of frames, to be chosen by the eye: our own Moon of three days past first quarter, nobody's picture.

Made once in a child and kept in derived/themes; they may be deleted at any time.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

from moondesk.drawing.theme import Theme
from moondesk.revisions import FRAMES
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.frame_files import Run
from moondesk.service.store.media import Media, write_whole

#: Of the Moon that is drawn: when, and across how many pixels.
EVENING, SIZE_PX = datetime(2026, 10, 21, 19, 0, tzinfo=UTC), 1000
#: What is named in it: a crater, a range, seas; of each kind what every theme tells apart.
NAMED = ("Copernicus", "Tycho", "Montes Apenninus", "Plato")
WIDTH, HEIGHT, QUALITY = 960, 540, 88


def theme_sample(media: Media, run: Run, theme: Theme) -> Path:
    """The file of a theme's sample."""
    mark = hashlib.sha256(f"{FRAMES} {theme!r}".encode()).hexdigest()[:16]
    target = media.root / "derived" / "themes" / f"{mark}.jpg"
    if not target.is_file():
        write_whole(target, run(draw_sample, theme))
    return target


def draw_sample(_: Engine, theme: Theme) -> Picture:
    """In a child."""
    import cv2
    import numpy as np

    from moondesk.comparison.changed_light import marks_of
    from moondesk.comparison.predicted import predicted_moon, predicted_pose
    from moondesk.drawing.broadcast import flatten, frame_layers
    from moondesk.drawing.frame import FrameRequest, Texts
    from moondesk.ephemeris.aspect import aspect_at
    from moondesk.moon.catalogue import all_features
    from moondesk.records import Annotation, Clock, ClockVerdict, NotFound, Status, TimeReadings

    aspect = aspect_at(EVENING, None)
    grey = predicted_moon(aspect, SIZE_PX)
    pose = predicted_pose(aspect, SIZE_PX)
    shown = [f for f in all_features() if f.parent is None and (f.kind == "sea" or f.name in NAMED)]
    annotation = Annotation(
        status=Status.ANNOTATED,
        sure=True,
        width=SIZE_PX,
        height=SIZE_PX,
        taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=Clock(ClockVerdict.NO_CLOCK, None, None),
        pose=pose,
        features=marks_of(shown, pose),
    )
    words = Texts(credit="The sender’s name", lines=("What it was taken with", "The evening"))
    wanted = FrameRequest(texts=words, features=NAMED, theme=theme)
    frame = frame_layers(np.repeat(grey[..., None], 3, axis=2), annotation, wanted)
    if isinstance(frame, NotFound):
        raise OSError(frame.reason)
    small = cv2.resize(flatten(frame), (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    done, data = cv2.imencode(".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if not done:
        raise OSError("the JPEG encoder failed")
    return Picture(data.tobytes())
