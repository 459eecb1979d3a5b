"""Ideas about the Moon's light: its edge, phases, low and high Sun, the long day, the two lights of a crescent."""

from __future__ import annotations

import math

from moondesk.ideas.records import Telling, cannot, part, spot
from moondesk.ideas.tonight import Tonight
from moondesk.notes.messages import Name, Number, Term, say
from moondesk.records import NotFound

#: Mean length of a lunation, days (Meeus 1998, ch. 49), and the Sun's width on the Moon's sky, degrees (Heiken 1991, ch. 3).
LUNATION_DAYS, SUN_WIDTH_DEG = 29.530589, 0.53
#: Low light: it shows relief (common practice); high light shows rays.
LOW_DEG, HIGH_DEG = (1.0, 12.0), 30.0
RELIEF = ("Clavius", "Ptolemaeus", "Copernicus", "Theophilus", "Plato", "Gassendi", "Schickard", "Petavius", "Posidonius",
          "Maurolycus", "Archimedes", "Langrenus", "Janssen", "Grimaldi", "Hevelius", "Atlas", "Walther", "Albategnius",
          "Alphonsus", "Longomontanus", "Cleomedes", "Endymion", "Pythagoras")  # fmt: skip
RAYED = ("Tycho", "Copernicus", "Kepler", "Proclus", "Aristarchus", "Langrenus")


def sharp_edge(t: Tonight) -> Telling | NotFound:
    if not t.shows_edge or not 0.15 <= t.lit <= 0.9:
        return cannot("The edge of the light lies too near the limb to be looked at.")
    short = (
        part("as sent",
             say("Run your eye along the line where the light ends."),
             say("It might have been cut with a knife.")),
        part("turned",
             say("At home the evening takes its time, because the air above our heads still catches sunshine after the Sun has gone."),
             say("Air spreads that light and hands it down to us."),
             say("The Moon has no air to speak of, so next to nothing fills the shadows.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Look closer, though, and the cut turns ragged."),
             say("A summit beyond the line may catch the Sun while the valley at its foot is still night."),
             say("A crater this side of it can be full to the brim with darkness."),
             say("And there is a narrow grey seam, for the Sun is no point: it is half a degree wide, and it needs about {minutes} minutes to clear a level horizon at the Moon's equator.",
                 minutes=Number(SUN_WIDTH_DEG / 360 * LUNATION_DAYS * 1440))),
    )  # fmt: skip
    return Telling(merit=1.0 - abs(t.lit - 0.5), short=short, more=more)


#: By waxing, and by more than half lit.
PHASE = {(True, False): "a waxing crescent", (True, True): "a waxing gibbous Moon",
         (False, True): "a waning gibbous Moon", (False, False): "a waning crescent"}  # fmt: skip


def phases(t: Tonight) -> Telling | NotFound:
    if not 0.06 <= t.lit <= 0.94:
        return cannot("So near new or full Moon the picture shows no shape to explain.")
    shape = Term(PHASE[t.waxing, t.lit > 0.5])
    short = (
        part("as sent",
             say("Hold an orange beside a lamp and walk around it: you will see every shape the Moon can take."),
             say("Half of it is lit the whole time; what changes is how much of that half faces you."),
             say("Tonight {percent} percent of the disc is bright.", percent=Number(100 * t.lit)),
             say("We call this {shape}; gibbous simply means humped, and is used once more than half is lit.", shape=shape)),
    )  # fmt: skip
    more = (
        part("turned",
             say("Two names puzzle people."),
             say("Why is a half Moon called a quarter?"),
             say("Because it has gone a quarter of its way round us since new Moon, or has a quarter left to go."),
             say("And no, the Earth's shadow has nothing to do with it; that falls on the Moon in an eclipse alone."),
             say("New Moon was {days} days ago.", days=Number(t.age_days)),
             say("From one new Moon to the next it is twenty-nine and a half days on average, which is where our months began."),  # Meeus ch. 49
             ),
    )  # fmt: skip
    return Telling(merit=0.9 - abs(t.lit - 0.5) * 0.6, short=short, more=more)


def low_sun(t: Tonight) -> Telling | NotFound:
    low = t.first(RELIEF, 1.5, 10.0)
    if low is None or not t.shows_edge:
        return cannot("No well-known crater lies in a low Sun tonight.")
    name, degrees = Name(low.feature.name), Number(low.sun_deg)
    length = 1.0 / _tan(low.sun_deg)
    short = (
        spot(low.feature.name,
             say("Remember how long your own shadow grows towards evening."),
             say("{name} is having such an hour.", name=name),
             say("Above its floor the Sun stands {degrees} degrees high, and a wall throws a shadow {length} times as long as it is tall.",
                 degrees=degrees, length=Number(length)),
             say("So even gentle slopes give themselves away."),
             say("Small hills that nobody could measure by eye draw black lines that a small telescope picks up.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Now let your eye wander away from the edge, into full daylight."),
             say("The ground there is just as rough, yet it looks smooth, because each shadow has shrunk beneath the thing that casts it."),
             say("Photographers know the trick: they get up early."),
             say("We need not even do that, for somewhere on the Moon it is always early, and the line of morning or evening moves on by some twelve degrees from one night to the next."),
             say("Come back tomorrow and another strip will be in relief.")),
    )  # fmt: skip
    return Telling(merit=0.8 + 0.2 * (low.feature.size_km > 90), short=short, more=more)


def rays(t: Tonight) -> Telling | NotFound:
    seen = t.every(RAYED, HIGH_DEG, 90.0)
    if not seen or t.lit < 0.85:
        return cannot("Rays want a high Sun over their crater, as near full Moon.")
    first = seen[0]
    short = (
        spot(first.feature.name,
             say("Somebody seems to have thrown a bag of flour at the Moon, and here is where it burst: {name}.", name=Name(first.feature.name)),
             say("The bright streaks are stone dust and splinters that flew out when the crater was made."),
             say("They have next to no height, so they cast no shadow worth the name."),
             say("What shows them is a high Sun, {degrees} degrees above the crater tonight.", degrees=Number(first.sun_deg))),
    )  # fmt: skip
    more = (
        part("turned",
             say("Rays are a sign of youth, as such things go here."),
             say("Sunlight, the wind of particles from the Sun and a drizzle of tiny meteorites darken fresh rock little by little, and after a billion years or so the streaks have mostly faded."),  # Heiken 1991, ch. 7
             say("Older craters have lost theirs."),
             say("Try to follow one streak outwards, from its crater to where you lose it; some run on across plains and mountains as though nothing stood in their way, because they came down from above.")),
    )  # fmt: skip
    return Telling(merit=0.6 + 0.4 * t.lit, short=short, more=more)


def sunrise(t: Tonight) -> Telling | NotFound:
    if not t.shows_edge or not 0.2 <= t.lit <= 0.85:
        return cannot("The edge of the light lies too near the limb to stand on it.")
    rate = 360.0 / LUNATION_DAYS
    short = (
        part("as sent",
             say("Suppose you sat on the Moon's equator, where the light ends, with a deckchair and a great deal of patience."),
             say("The Sun would climb or sink by half a degree an hour."),  # 360 / 29.53 / 24
             say("On Earth it covers fifteen."),
             say("Between one sunrise and the next you would wait {days} of our days, half of them in darkness.", days=Number(LUNATION_DAYS, 1)),
             say("A week here is one lunar morning there.")),
    )  # fmt: skip
    more = (
        part("lines",
             say("That is why our pictures change at a pace we can follow."),
             say("The line moves {rate} degrees a day, which at the Moon's equator is about {speed} kilometres an hour: a leisurely cyclist keeps up with it.",
                 rate=Number(rate), speed=Number(rate / 360 * 2 * 3.14159265 * 1737.4 / 24)),
             say("The long day has its price."),
             say("At noon near the equator the ground grows hotter than boiling water; before dawn it falls below minus one hundred and sixty degrees Celsius."),  # Heiken 1991, ch. 3
             say("No air carries warmth from one side to the other.")),
    )  # fmt: skip
    return Telling(merit=0.75 - abs(t.lit - 0.5), short=short, more=more)


def earthshine(t: Tonight) -> Telling | NotFound:
    if not 0.02 <= t.lit <= 0.25:
        return cannot("Earthshine wants a slim crescent.")
    short = (
        part("as sent",
             say("The dark part of tonight's Moon is not quite dark, if you give your eyes a minute."),
             say("A grey glow lies over it, and that glow is ours."),
             say("Sunlight falls on our clouds, snow and seas, goes up to the Moon and comes back."),
             say("Seen from there our Earth is nearly full now, {percent} percent of it lit.", percent=Number(100 * (1 - t.lit))),
             say("Some call it the old Moon in the new Moon's arms.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Leonardo da Vinci worked this out, five hundred years ago, though he gave the oceans the credit; today we know that clouds do most of it."),  # Goode 2001; Codex Leicester
             say("Astronomers have even watched our planet's brightness by measuring this glow."),
             say("For your own photograph, steady the camera and expose longer than you would dare: the crescent will burn out, and the rest comes up with its seas."),
             say("Point no glass there unless the Sun is well below the horizon.")),
    )  # fmt: skip
    return Telling(merit=1.0 - abs(t.lit - 0.08), short=short, more=more)


def _tan(degrees: float) -> float:
    return math.tan(math.radians(degrees))
