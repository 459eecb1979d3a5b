"""The Moon in the Earth's shadow, as a photograph: the umbra's edge lies across the disc and is no terminator."""

from __future__ import annotations

from dataclasses import replace

from moondesk.ephemeris.aspect import aspect_at
from tests.scenes.rendering import north_on_screen, render
from tests.scenes.spec import SceneSpec


def render_eclipse(spec: SceneSpec, exposure: float = 1.0, roll_deg: float = 0.0) -> bytes:
    """A photograph at spec.when_utc; exposure: of the full Moon (1) or longer, as totality wants (1,000 to 3,000).

    ValueError where no part of the disc lies in the umbra or penumbra.
    """
    north = north_on_screen(aspect_at(spec.when_utc, spec.place), roll_deg, spec.mirrored)
    film = replace(spec.film, gain=spec.film.gain * exposure)
    return render(replace(spec, north_screen_deg=north, film=film, eclipsed=True)).data
