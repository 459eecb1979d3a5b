"""Rendered photographs of the Moon, and of things that are not the Moon, whose truth is known. A test helper.

    SceneSpec -> surface (relief, shadows) -> optics (frame, sky, blur) -> develop (noise, tone, file) -> Scene

`python -m tests.scenes --count 34 --seed 1 --out DIR` writes pictures of every family in turn with truth.json and
submissions.csv; with --set harder those that are bent, doubled, cut, eclipsed or dim, with --set disturbed those whose
light is changed. Geometry goes through the core's; light, shadows, small craters and camera are this package's
own, so that the solver is not tested against its own prediction.
"""

from tests.scenes.families import FAMILIES, spec_of
from tests.scenes.harder import DISTURBED, HARDER
from tests.scenes.others import KINDS, render_other
from tests.scenes.rendering import north_on_screen, render, sky_north_held_upright, true_pose
from tests.scenes.spec import Disturbance, FieldStop, FileTags, Film, Optics, Scene, SceneSpec, Sky

__all__ = [
    "DISTURBED", "FAMILIES", "HARDER", "KINDS", "Disturbance", "FieldStop", "FileTags", "Film", "Optics", "Scene",
    "SceneSpec", "Sky", "north_on_screen", "render", "render_other", "sky_north_held_upright", "spec_of", "true_pose",
]  # fmt: skip
