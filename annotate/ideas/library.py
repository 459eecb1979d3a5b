"""All ideas, in the order in which equals are told. `days`: ages of the Moon between which an idea may show."""

from __future__ import annotations

from moondesk.ideas import of_ground, of_light, of_sky, sources
from moondesk.ideas.records import Idea, Telling, cannot
from moondesk.ideas.tonight import Tonight
from moondesk.notes.messages import say
from moondesk.records import NotFound

IDEAS: tuple[Idea, ...] = (
    Idea(key="earthshine", title=say("The glow on the dark part"), days=(0.8, 28.9), tell=of_light.earthshine, sources=(sources.EARTHSHINE,), whole=True),
    Idea(key="phases", title=say("Why the Moon changes its shape"), days=(1.5, 28.0), tell=of_light.phases, sources=(sources.ALGORITHMS,), whole=True),
    Idea(key="sharp edge", title=say("Why the edge of the light is sharp"), days=(3.0, 27.0), tell=of_light.sharp_edge, sources=(sources.SOURCEBOOK,)),
    Idea(key="low sun", title=say("Why a low Sun shows hills"), days=(2.5, 27.5), tell=of_light.low_sun, sources=(sources.SOURCEBOOK,)),
    Idea(key="sunrise", title=say("A day on the Moon"), days=(3.5, 26.5), tell=of_light.sunrise, sources=(sources.SOURCEBOOK, sources.ALGORITHMS)),
    Idea(key="rays", title=say("Bright rays"), days=(10.5, 19.0), tell=of_light.rays, sources=(sources.SOURCEBOOK, sources.CRATERING)),
    Idea(key="seas", title=say("Seas and highlands"), days=(6.0, 23.5), tell=of_ground.seas, sources=(sources.SOURCEBOOK, sources.AGES)),
    Idea(key="central peak", title=say("How a crater gets its central peak"), days=(3.0, 27.0), tell=of_ground.central_peak, sources=(sources.CRATERING, sources.SOURCEBOOK)),
    Idea(key="rille", title=say("A rille"), days=(5.0, 24.0), tell=of_ground.rille, sources=(sources.SOURCEBOOK,)),
    Idea(key="basin rim", title=say("Mountains as a rim"), days=(4.0, 24.0), tell=of_ground.basin_rim, sources=(sources.SOURCEBOOK, sources.AGES)),
    Idea(key="flooded", title=say("Drowned craters"), days=(3.0, 27.0), tell=of_ground.flooded, sources=(sources.SOURCEBOOK,)),
    Idea(key="crater ages", title=say("Age by counting craters"), days=(5.0, 24.0), tell=of_ground.crater_ages, sources=(sources.AGES, sources.SOURCEBOOK)),
    Idea(key="shadow heights", title=say("Heights from shadows"), days=(3.0, 27.0), tell=of_ground.shadow_heights, sources=(sources.MESSENGER, sources.SOURCEBOOK)),
    Idea(key="colours", title=say("The colours of the seas"), days=(6.5, 19.5), tell=of_ground.colours, sources=(sources.SOURCEBOOK,)),
    Idea(key="landings", title=say("Where people landed"), days=(5.0, 21.5), tell=of_ground.landings, sources=(sources.LANDINGS, sources.NASA_MOON)),
    Idea(key="far side", title=say("The far side"), days=(5.0, 24.5), tell=of_ground.far_side, sources=(sources.CRUST, sources.NASA_MOON), whole=True),
    Idea(key="one face", title=say("Why we see one face"), days=(6.0, 23.5), tell=of_sky.one_face, sources=(sources.DYNAMICS,), whole=True),
    Idea(key="libration", title=say("The Moon nods"), days=(2.5, 27.0), tell=of_sky.libration, sources=(sources.ALGORITHMS, sources.SOURCEBOOK), whole=True),
    Idea(key="directions", title=say("East on the Moon"), days=(5.0, 24.5), tell=of_sky.directions, sources=(sources.NAMING,), whole=True),
    Idea(key="zero meridian", title=say("Where longitude begins"), days=(7.0, 23.0), tell=of_sky.zero_meridian, sources=(sources.CONTROL, sources.COORDINATES)),
    Idea(key="sizes", title=say("How large is it, in home measures"), days=(2.5, 27.0), tell=of_sky.sizes, sources=(sources.GAZETTEER, sources.NASA_MOON)),
    Idea(key="red moon", title=say("Why the rising Moon is red"), days=(12.0, 18.0), tell=of_sky.red_moon, sources=(sources.OPEN_AIR,), whole=True),
    Idea(key="moon illusion", title=say("Why it looks large on the horizon"), days=(11.5, 18.5), tell=of_sky.moon_illusion, sources=(sources.ILLUSION,), whole=True),
    Idea(key="eclipses", title=say("Why there is not an eclipse each month"), days=(8.5, 16.0), tell=of_sky.eclipses, sources=(sources.CANON, sources.ALGORITHMS), whole=True),
    Idea(key="simple telescope", title=say("A simple telescope is enough"), days=(3.5, 26.0), tell=of_sky.simple_telescope, sources=(sources.MESSENGER,)),
    Idea(key="distance", title=say("Distance and tides"), days=(0.8, 29.0), tell=of_sky.distance, sources=(sources.TIDES, sources.ALGORITHMS), whole=True),
    Idea(key="by day", title=say("The Moon by day"), days=(4.5, 25.0), tell=of_sky.by_day, sources=(sources.OPEN_AIR,), whole=True),
    Idea(key="names", title=say("Who named the craters"), days=(6.0, 24.0), tell=of_sky.names, sources=(sources.NAMING, sources.ALMAGEST)),
    Idea(key="origin", title=say("Where the Moon comes from"), days=(0.0, 30.0), tell=of_sky.origin, sources=(sources.ORIGIN, sources.SOURCEBOOK)),
    Idea(key="calendars", title=say("Months by the Moon"), days=(0.0, 30.0), tell=of_sky.calendars, sources=(sources.CALENDARS, sources.ALGORITHMS)),
    Idea(key="earth from moon", title=say("The Earth seen from the Moon"), days=(0.0, 30.0), tell=of_sky.earth_from_moon, sources=(sources.NASA_MOON, sources.SOURCEBOOK)),
    Idea(key="weight", title=say("Light feet"), days=(0.0, 30.0), tell=of_sky.weight, sources=(sources.SOURCEBOOK, sources.NASA_MOON)),
    Idea(key="own motion", title=say("The Moon goes east"), days=(0.0, 30.0), tell=of_sky.own_motion, sources=(sources.ALGORITHMS,)),
)  # fmt: skip


def tell(idea: Idea, tonight: Tonight) -> Telling | NotFound:
    """What is said of an idea tonight, or why nothing is. While the Earth's shadow is on the Moon nothing is: what is
    dark then is not the Moon's night."""
    if tonight.eclipse in ("partial", "total"):
        return cannot("The Earth's shadow is on the Moon.", "Speak of the eclipse.")
    first, last = idea.days
    if not first <= tonight.age_days <= last:
        return cannot("It belongs to other days of the lunation.")
    if idea.whole and not tonight.whole:
        return cannot("It wants the whole Moon in the picture.", "Choose a picture that shows all of it.")
    return idea.tell(tonight)
