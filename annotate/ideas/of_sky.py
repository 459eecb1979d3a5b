"""Ideas about the Moon in our sky and on our maps: its one face, its nodding, distance, names, directions, eclipses."""

from __future__ import annotations

import math
from datetime import timedelta

from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.earth_shadow import shadow_at
from moondesk.ephemeris.phases import principal_phases
from moondesk.ideas.of_ground import PEAKED
from moondesk.ideas.of_light import RELIEF
from moondesk.ideas.records import Telling, cannot, part, spot
from moondesk.ideas.tonight import Tonight, arc_deg
from moondesk.moon.catalogue import named
from moondesk.notes.comparisons import CITIES, NEAR, PAIRS, distance_km
from moondesk.notes.messages import Name, Number, Term, say
from moondesk.records import MOON_RADIUS_KM, NotFound, Place

#: Libration worth speaking of, degrees, and what shows it on each limb.
TILT_DEG = 4.0
WITNESSES = {"east": ("Mare Crisium", "Langrenus"), "west": ("Grimaldi", "Hevelius"), "north": ("Plato", "Mare Frigoris"),
             "south": ("Clavius", "Tycho")}  # fmt: skip
LIGHT_KM_S = 299_792.458
#: The Moon's least distance from the shadow's middle differs from that at full Moon, by less than this, degrees: its path is
#: inclined by 5 to 6 degrees to the shadow's, and 1 - cos 6 degrees is 0.0055 of a distance of about one degree.
GRAZE_DEG = 0.02
#: Pairs of cities serve viewers who live within this of both, km.
NEAR_HOME_KM = 1500.0
PEOPLE = ("Copernicus", "Tycho", "Plato", "Clavius", "Ptolemaeus", "Kepler", "Gassendi")


def one_face(t: Tonight) -> Telling | NotFound:
    if t.lit < 0.4:
        return cannot("Too little of the face is lit to recognise it.")
    short = (
        part("turned",
             say("Your grandmother's grandmother saw these very patches."),
             say("The Moon spins, yet it takes just as long over one turn as over one trip round us, twenty-seven days and a third, so the same half keeps looking our way."),  # Murray & Dermott 1999
             say("Walk once round a table with your nose towards it: you will have looked at every wall of the room, and so turned once yourself.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Chance has nothing to do with it."),
             say("Long ago the Moon turned faster, and the Earth's pull kneaded its body, raising bulges in the rock that were dragged round against the turning."),
             say("That friction braked it until bulge and Earth stayed in line."),  # Murray & Dermott 1999, ch. 4
             say("We are being braked as well, by the tides the Moon raises here: our days grow longer by some two thousandths of a second in a century."),  # Murray & Dermott 1999
             say("Nobody needs to alter a clock tonight.")),
    )  # fmt: skip
    return Telling(merit=0.4 + 0.4 * t.lit, short=short, more=more)


def libration(t: Tonight) -> Telling | NotFound:
    lon, lat = t.sky.libration_lon_deg, t.sky.libration_lat_deg
    sides = sorted(
        ((abs(lon), "east" if lon > 0 else "west"), (abs(lat), "north" if lat > 0 else "south")), reverse=True
    )
    for tilt, side in sides:
        witness = t.first(WITNESSES[side], 2.0, 90.0)
        feature = None if witness is None else named(witness.feature.name)
        gain = 0.0 if feature is None else t.from_limb_deg(feature) - t.from_limb_deg(feature, libration=False)
        if tilt >= TILT_DEG and feature is not None and gain >= 2.0:
            return _libration(feature.name, side, tilt, t.from_limb_deg(feature), gain)
    return cannot("The Moon is hardly tilted tonight, or what would show it is dark.")


def _libration(name: str, side: str, tilt: float, inside: float, gain: float) -> Telling:
    short = (
        part("lines",
             say("Slowly, very slowly, the Moon shakes and nods its head."),
             say("Tonight its {side} edge has swung towards us by {tilt} degrees.", side=Term(side), tilt=Number(tilt, 1))),
        spot(name,
             say("{name} proves it.", name=Name(name)),
             say("It lies {inside} degrees of ground inside the rim, and without the swing it would be {gain} less.", inside=Number(inside), gain=Number(gain)),
             say("Keep this picture; in two weeks the same place will have been pushed the other way, or nearly so.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("What causes it is a quarrel between two motions."),
             say("The Moon turns evenly, but travels faster when it is near us and slower when far, so we get a glimpse round one side and then round the other."),
             say("Besides, its axis leans a little against its path: that lets us look over the poles by turns."),
             say("All told, fifty-nine percent of its ground comes into view sooner or later."),  # Meeus 1998, ch. 53; Heiken 1991
             say("The word for it is libration, from the Latin for a pair of scales.")),
    )  # fmt: skip
    return Telling(merit=min(1.0, gain / 8.0), short=short, more=more)


def directions(t: Tonight) -> Telling | NotFound:
    if t.lit < 0.3 or not (crisium := t.first(("Mare Crisium", "Grimaldi"), 2.0, 90.0)):
        return cannot("Nothing near the east or west limb is lit to show the way.")
    east = crisium.feature.lon_deg > 0
    short = (
        part("lines",
             say("Which way is east up there? The answer has changed within living memory, believe it or not."),
             say("Old charts called that edge east which pointed to our own eastern horizon."),
             say("In 1961 astronomers agreed to think as a traveller would: east on the Moon is where the Sun comes up.")),  # IAU 1961, Whitaker 1999
        spot(crisium.feature.name,
             say("So {name} lies in the {side}, {degrees} degrees from the middle line.", name=Name(crisium.feature.name), side=Term("east") if east else Term("west"), degrees=Number(abs(crisium.feature.lon_deg)))),
    )  # fmt: skip
    more = (
        part("as sent",
             say("And up and down? Telescopes play tricks."),
             say("Many turn everything on its head, and one with a mirror or prism at a right angle swaps left and right instead, like your face while you shave."),
             say("Neither is a fault in the photograph."),
             say("We only turn or flip it so that north is on top.")),
        part("lines",
             say("There is a name on the map that fools beginners even so: the Eastern Sea, Mare Orientale, sits at the western edge, for it was christened under the former rule.")),
    )  # fmt: skip
    return Telling(merit=0.6, short=short, more=more)


def zero_meridian(t: Tonight) -> Telling | NotFound:
    place = named("Mösting A")
    near = t.ground.get("Ptolemaeus")
    assert place is not None
    sun = 90.0 - arc_deg((place.lat_deg, place.lon_deg), (t.sky.sub_solar_lat_deg, t.sky.sub_solar_lon_deg))
    if sun < 3.0 or near is None:
        return cannot("The middle of the face is dark, or does not show.")
    short = (
        part("lines",
             say("London has its brass strip at Greenwich."),
             say("The Moon's line of zero has nothing of the kind: it is the middle of the face, averaged over all its nodding.")),
        spot(near.feature.name,
             say("For more than a century surveyors tied it to one small bright crater north-west of here, Mösting A, {km} kilometres wide, and measured its place as {lat} degrees south and {lon} west.",  # Davies 1987
                 km=Number(place.size_km), lat=Number(-place.lat_deg, 1), lon=Number(-place.lon_deg, 1))),
    )  # fmt: skip
    more = (
        part("lines",
             say("Why choose a thing so modest?"),
             say("Because a big one has no exact middle, while a speck can be set on the crosshair night after night."),
             say("Patient observers did so at their telescopes, until the wobble of the whole globe came out in the figures."),
             say("Nowadays mirrors left by spacecraft do the work, and laser pulses find them to within a hand's breadth or better."),  # Archinal 2011
             say("From that line we count: plus towards sunrise, minus the other way, up to one hundred and eighty at the back.")),
    )  # fmt: skip
    return Telling(merit=0.9 - 0.3 * min(1.0, abs(sun - 15) / 60), short=short, more=more)


def sizes(t: Tonight) -> Telling | NotFound:
    if t.place is None:
        return cannot("Nobody has said where the viewers live.", "Enter the programme's place.")
    for ground in t.every((*RELIEF, *PEAKED), 3.0):
        pair = _pair_near(ground.feature.size_km, t.place)
        if pair is not None:
            return _sizes(t, ground.feature.name, ground.feature.size_km, *pair)
    return cannot("No two well-known cities near the viewers lie as far apart as anything in this light is wide.")


def _pair_near(km: float, place: Place) -> tuple[str, str] | None:
    home = (place.latitude_deg, place.longitude_deg)
    near = [p for p in PAIRS if abs(distance_km(*p) - km) <= NEAR * km
            and max(_km(home, CITIES[c]) for c in p) <= NEAR_HOME_KM]  # fmt: skip
    return min(near, key=lambda p: (sum(_km(home, CITIES[c]) for c in p), p), default=None)


def _km(one: tuple[float, float], other: tuple[float, float]) -> float:
    return math.radians(arc_deg(one, other)) * 6371.0


def _sizes(t: Tonight, name: str, km: float, here: str, there: str) -> Telling:
    short = (
        spot(name,
             say("Sizes on the Moon mean little until you pack a suitcase."),
             say("{name} is {km} kilometres across.", name=Name(name), km=Number(km)),
             say("Set it down at home and it would reach from {here} to {there}, more or less, for they are {between} kilometres apart as the crow flies.",
                 here=Term(here), there=Term(there), between=Number(distance_km(here, there))),
             say("You could drive that between two meals, if the roads are good."),
             say("On this picture it disappears beneath my fingertip.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Now the whole ball."),
             say("Straight through the middle it measures {through} kilometres, a little over a quarter of the Earth.", through=Number(2 * MOON_RADIUS_KM)),
             say("Spread out flat, its ground would cover Africa with more than seven million square kilometres to spare."),  # 37.9 against 30.4 million km2
             say("And yet you can hide all of it behind a pea held out at arm's length, because it is so far: thirty Earths in a row would about bridge the gap."),  # 384400 / 12742
             say("Do try the pea; nobody believes it otherwise.")),
    )  # fmt: skip
    return Telling(merit=0.6, short=short, more=more)


def red_moon(t: Tonight) -> Telling | NotFound:
    if t.lit < 0.93:
        return cannot("Only near full Moon does it come up at dusk, where people see it red.")
    short = (
        part("as sent",
             say("Copper, orange, blood: what colour was it when it rose?"),
             say("Low down its light has to cross a long slanting stretch of air, nearly forty times as much as from overhead."),  # Kasten & Young 1989: 38 at the horizon
             say("On that road the blue is scattered to all sides, dust and haze take their share, and red gets through."),
             say("An hour later the Moon is higher, and it has washed its face.")),
    )  # fmt: skip
    more = (
        part("as sent",
             say("The same thing paints our sunsets, and the scattered blue is somebody else's daytime sky."),
             say("Look at the outline, too."),
             say("Close to the horizon it is squashed, because air bends the lower rim up more than the upper one."),  # Minnaert 1954
             say("Nothing has happened on the Moon itself, whose stones are about as dark as worn asphalt."),
             say("Send me a picture with a tree or a roof in it, just as it comes up, and write down the minute: then we can work out how high it stood.")),
    )  # fmt: skip
    return Telling(merit=t.lit - 0.05, short=short, more=more)


def moon_illusion(t: Tonight) -> Telling | NotFound:
    if t.lit < 0.9:
        return cannot("The illusion belongs to a full Moon on the horizon.")
    far = t.sky.semidiameter_arcsec / 30
    short = (
        part("as sent",
             say("Was it enormous, there behind the rooftops?"),
             say("Everybody says so, and every camera disagrees."),
             say("Measured across, this Moon is {minutes} minutes of arc, about half a degree, and on the horizon it is even a trifle smaller, as you are then farther from it by up to the Earth's radius.", minutes=Number(far, 1)),
             say("Bend over and look at it between your legs: for many people the giant shrinks.")),
    )  # fmt: skip
    more = (
        part("as sent",
             say("What makes it swell, then? Our heads do, and experts still dispute how."),  # Ross & Plug 2002
             say("One favourite answer is that we feel the sky to be a flattened vault, farther off at its edge than above us, and so we judge the same image down there to be a bigger thing."),
             say("Others point to the trees and houses beside it."),
             say("Both may play a part."),
             say("Ancient writers already puzzled over it, and so will you at the next moonrise, even though you know better now.")),
    )  # fmt: skip
    return Telling(merit=t.lit - 0.1, short=short, more=more)


def eclipses(t: Tonight) -> Telling | NotFound:
    full = next((p for p in principal_phases(t.when, t.when + timedelta(days=8)) if p.kind == "full"), None)
    if full is None or t.lit < 0.6:
        return cannot("Full Moon is not near.")
    shadow = shadow_at(full.utc)
    reach = shadow.umbra_deg + shadow.semidiameter_deg
    off = Number(shadow.separation_deg / (2 * shadow.semidiameter_deg), 1)
    if abs(shadow.separation_deg - reach) < GRAZE_DEG:
        return cannot("The next full Moon grazes the Earth's shadow.", "Look up the eclipse in an almanac.")
    if shadow.separation_deg < reach:
        verdict = say("At this full Moon their centres come within {widths} of the Moon's own widths, so there is an eclipse: find out whether it is night where you live.", widths=off, degrees=Number(shadow.separation_deg, 2), reach=Number(reach, 2))  # fmt: skip
    else:
        verdict = say("At this full Moon it passes {widths} of its own widths from the middle of the shadow, which is too far to be darkened by its core.", widths=off, degrees=Number(shadow.separation_deg, 2), reach=Number(reach, 2))  # fmt: skip
    short = (
        part("turned",
             say("Sun, Earth, full Moon: all in a row, so why is there no eclipse each month?"),
             say("Because the row is crooked."),
             say("The Moon's path is tilted by five degrees against ours, and as a rule it slips by above or below our shadow."),  # Meeus 1998, ch. 47: 5.1
             verdict),
    )  # fmt: skip
    more = (
        part("turned",
             say("Twice a year or so the crossing points come round to the line, and then shadows fall: on the Moon, when it is full; on us, when it is new."),
             say("A lunar eclipse is for everybody who has night at the time, and you need no filter to watch it."),
             say("The Sun is another matter, so never point glass at it."),
             say("Deep in our shadow the Moon does not go out: light from every sunrise and sunset round the Earth is bent onto it and turns it copper."),  # Espenak & Meeus 2009
             ),
    )  # fmt: skip
    return Telling(merit=0.4 + 0.5 * t.lit, short=short, more=more)


def simple_telescope(t: Tonight) -> Telling | NotFound:
    good = t.first(RELIEF, 3.0, 15.0)
    if good is None or not t.shows_edge or t.sky.elongation_deg < 45.0:
        return cannot("No large crater lies in low light far enough from the Sun for beginners.")
    name, km = good.feature.name, good.feature.size_km
    short = (
        spot(name,
             say("Must it be an expensive telescope? Galileo would laugh."),
             say("His magnified twenty times, with a lens that a spectacle shop would send back, and it turned astronomy upside down."),  # Sidereus Nuncius 1610
             say("{name}, {km} kilometres wide, is within reach of any spyglass on a steady support.", name=Name(name), km=Number(km)),
             say("Seen from here it spans {arc} seconds of arc, and even a lens no wider than your thumb can separate ten.", arc=Number(km / t.sky.distance_km * 206264.806, 0))),
    )  # fmt: skip
    more = (
        part("as sent",
             say("What matters more is patience."),
             say("Let the instrument cool outdoors, lean on a wall, look for a quarter of an hour."),
             say("Warm air over a roof spoils more views than cheap lenses do."),
             say("To photograph, hold your telephone to the eyepiece, lock the brightness on the sunlit ground and take twenty shots; one may well be crisp."),
             say("Begin after sunset, please, and never sweep the sky with any optics while the Sun is up: one moment of it can cost an eye.")),
    )  # fmt: skip
    return Telling(merit=0.85 - 0.3 * abs(t.lit - 0.5), short=short, more=more)


def distance(t: Tonight) -> Telling | NotFound:
    km = aspect_at(t.when, None).distance_km
    near = abs((t.phases.next.utc - t.when).total_seconds()), abs((t.when - t.phases.last.utc).total_seconds())
    turn = t.phases.next if near[0] < near[1] else t.phases.last
    if min(near) > 2 * 86400 or t.lit < 0.03:
        return cannot("Tides are best told near new Moon, full Moon or a quarter.")
    spring = turn.kind in ("new", "full")
    tide = (say("Around this date Sun and Moon pull along one line, which brings wide swings between high and low water: spring tides.")
            if spring else
            say("Around this date Sun and Moon pull crosswise and partly cancel out, so the water's swings are modest: neap tides."))  # fmt: skip
    short = (
        part("as sent",
             say("How far is it tonight? From the Earth's centre to the Moon's I make it {km} kilometres.", km=Number(round(km, -3))),
             say("Light needs {seconds} seconds for that; an airliner, could it go there, {days} days.", seconds=Number(km / LIGHT_KM_S, 2), days=Number(km / 900 / 24)),
             tide,
             say("They come a day or two late on many coasts.")),  # Pugh 1987
    )  # fmt: skip
    more = (
        part("as sent",
             say("It is not the pull itself that does this, but its unevenness."),
             say("The near side of our planet is tugged more strongly than its middle, and the middle more than the far side, so the seas are stretched along the line to the Moon."),
             say("That makes two bulges, and two high waters on most shores in a day and fifty minutes."),
             say("Real coasts complicate it: bays funnel the water, basins rock like bathtubs, the Mediterranean barely stirs."),
             say("Trust your harbour's tide table, and never a television programme.")),
    )  # fmt: skip
    return Telling(merit=0.6 if spring else 0.5, short=short, more=more)


def by_day(t: Tonight) -> Telling | NotFound:
    if not 60.0 <= t.sky.elongation_deg <= 125.0:
        return cannot("By day the Moon is easy near the quarters only.")
    clock = (say("Around these dates look for it in the afternoon, far left of the Sun if you live north of the tropics.") if t.waxing
             else say("Around these dates look for it in the morning, far right of the Sun if you live north of the tropics."))  # fmt: skip
    short = (
        part("as sent",
             say("Children often spot it first: a white Moon, in broad daylight."),
             say("Over a month it is up for about as many hours of daylight as of night; we just forget to look."),
             clock,
             say("The two are {degrees} degrees apart now.", degrees=Number(t.sky.elongation_deg)),
             say("Use bare eyes, with a wall hiding the Sun.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("How can so dull a stone outshine the blue?"),
             say("Patch by patch it is no brighter than a pale cloud, but the sky is dim enough, and dimmest about a right angle away from the Sun."),  # Minnaert 1954
             say("The dark seas vanish: where the Moon is dark you see mere sky in front of it, and that is why the daytime Moon looks torn."),
             say("No binoculars, no telescope for this one, please."),
             say("Sunlight through a lens blinds before it hurts, and a careless swing is all it takes.")),
    )  # fmt: skip
    return Telling(merit=0.7, short=short, more=more)


def names(t: Tonight) -> Telling | NotFound:
    lit = t.every(PEOPLE, 3.0)
    if len(lit) < 3:
        return cannot("Fewer than three craters with famous names are lit.")
    who = [Name(g.feature.name) for g in lit[:3]]
    short = (
        part("turned",
             say("{a}, {b}, {c}: who sent out these invitations?", a=who[0], b=who[1], c=who[2]),
             say("A priest in Bologna did, Giovanni Battista Riccioli, in a fat book of the year 1651."),  # Almagestum Novum; Whitaker 1999
             say("Seas he called after weather and moods, craters after scholars, and he seated the ancients more or less in the north and men of his own age further south.")),  # Whitaker 1999
        spot(lit[0].feature.name,
             say("This seat, {km} kilometres from arm to arm, went to {name}.", km=Number(lit[0].feature.size_km), name=who[0])),
    )  # fmt: skip
    more = (
        part("turned",
             say("He had rivals: a Dutch-born cosmographer had put kings and saints up there, a brewer from Danzig the mountains of Europe."),  # Langrenus 1645, Hevelius 1647: Whitaker 1999
             say("Some of the mountains survived; few of the kings did."),
             say("Riccioli kept a spot for himself, and another, bigger one, for his friend Grimaldi, who drew the map."),
             say("Since 1919 a world body of astronomers has looked after the list."),  # IAU founded 1919
             say("You cannot buy a crater, whatever a certificate says, and you must have been dead for three years to get one.")),  # IAU rules: three years
    )  # fmt: skip
    return Telling(merit=0.4 + 0.1 * len(lit), short=short, more=more)


#: Evenings without a Moon, or hardly one, have ideas that want no picture.
UNSEEN, HARDLY = 0.02, 0.06
KEPT = cannot("It wants no picture and is kept for an evening without a Moon.")


def _for_dark(merit: float, t: Tonight) -> float:
    return merit if t.lit < UNSEEN else merit / 2


def origin(t: Tonight) -> Telling | NotFound:
    if t.lit >= HARDLY:
        return KEPT
    short = (
        part("as sent",
             say("Where does the Moon come from?"),
             say("The answer that most researchers hold today sounds like a catastrophe, and it was one."),
             say("When the Earth was young, a body about as big as Mars ran into it."),
             say("Melted and vaporised rock flew out, gathered in a ring around us, and within a short time, as planets count, it clumped together."),
             say("Whatever you see up there was once part of that spray.")),
    )  # fmt: skip
    more = (
        part("as sent",
             say("How can anybody know, after four and a half billion years?"),
             say("The astronauts' rocks told it: they are so like the Earth's own in the kinds of their oxygen that the two must be close kin."),  # Heiken 1991; Canup 2004
             say("They are dry, too, as if they had been roasted."),
             say("And the Moon has a small iron core, as it should if mostly mantle was thrown out."),
             say("Details are still argued over, which is how research ought to be.")),
    )  # fmt: skip
    return Telling(merit=_for_dark(0.9, t), short=short, more=more)


def calendars(t: Tonight) -> Telling | NotFound:
    if t.lit >= HARDLY:
        return KEPT
    short = (
        part("as sent",
             say("Dark evenings like these once began the month."),
             say("In many countries people climbed a hill after sunset and watched for the thin new light, and whoever saw it lit a fire or blew a horn."),
             say("From one such evening to the next there are twenty-nine or thirty days, never fewer and never more, so a calendar could be kept by looking up.")),
    )  # fmt: skip
    more = (
        part("as sent",
             say("Trouble began with the seasons."),
             say("Twelve of these months fall about eleven days short of a year, and without a correction spring would wander through them all."),  # 365.2422 - 12 * 29.530589 = 10.9
             say("Some calendars let it wander, as the Islamic one does; others put in a thirteenth month now and then, as the Jewish and the Chinese do."),
             say("Our own gave up on the Moon and kept nothing but the word month."),
             say("Easter still asks the Moon for its date, though.")),
    )  # fmt: skip
    return Telling(merit=_for_dark(0.85, t), short=short, more=more)


def earth_from_moon(t: Tonight) -> Telling | NotFound:
    if t.lit >= HARDLY:
        return KEPT
    sky = aspect_at(t.when, None)
    short = (
        part("as sent",
             say("Turn the view round for once and stand up there, in the dark, looking at us."),
             say("Nearly all of our globe is bright now, {percent} percent of its disc.", percent=Number(100 * (1 - sky.illuminated_fraction), 1)),
             say("Across, it is almost four times as wide as the Moon looks to us, so it covers over thirteen times as much sky."),  # 6371 / 1737.4 = 3.67; squared 13.4
             say("And it hangs there without rising or setting.")),
    )  # fmt: skip
    more = (
        part("as sent",
             say("It hangs still because the same face of the Moon always looks our way; only the slow nodding lets it sway a little."),
             say("What you could watch is the turning."),
             say("Within a day all the continents pass, white with clouds and blue with sea, and after two weeks the great globe is dark, with the Sun beside it."),
             say("Twenty-four people have gone far enough to see the Earth like that, and they came home talking about it rather than about the Moon.")),  # Apollo 8, 10 to 17: 24 people
    )  # fmt: skip
    return Telling(merit=_for_dark(0.8, t), short=short, more=more)


def own_motion(t: Tonight) -> Telling | NotFound:
    if t.lit >= HARDLY:
        return KEPT
    short = (
        part("as sent",
             say("Everything in the sky goes west, doesn't it?"),
             say("Stars, Sun and Moon all set in that direction, since it is we who turn."),
             say("Yet the Moon has a journey of its own, and it leads the other way: among the stars it slides east by its own width in about an hour."),  # 360 / 27.32 / 24 = 0.55 degrees
             say("Note a star beside it early in the evening, and look again before bed.")),
    )  # fmt: skip
    more = (
        part("as sent",
             say("Because of that journey it comes to the meridian fifty minutes later every day, on average."),  # 24 h / 29.53
             say("It has just overtaken the Sun, or is about to, and that is all that new Moon means."),
             say("In half a month it will stand opposite and shine all night; then it comes round from behind."),
             say("Once you have seen it pass a bright star you will believe your eyes rather than a book, and you need no glass for it, only two looks.")),
    )  # fmt: skip
    return Telling(merit=_for_dark(0.75, t), short=short, more=more)


def weight(t: Tonight) -> Telling | NotFound:
    if t.lit >= HARDLY:
        return KEPT
    short = (
        part("as sent",
             say("Step on a bathroom scale up there, and it will flatter you."),
             say("A grown person of seventy-two kilograms reads twelve, because the Moon pulls six times less than the Earth does."),  # 1.62 / 9.81
             say("Muscles stay what they are, so you jump higher and fall more slowly."),
             say("The astronauts soon found that hopping was easier than walking, and they fell over quite often.")),
    )  # fmt: skip
    more = (
        part("as sent",
             say("So weak a pull has another result: the Moon could not keep air."),
             say("Gases warmed by the Sun fly off, and the solar wind carries away what is left."),
             say("Without air there is no sound, no weather and no blue sky, and a hammer falls as fast as a feather."),
             say("An astronaut tried just that in 1971, in front of a camera, with a falcon's feather."),  # D. Scott, Apollo 15
             say("Both hit the dust together, as Galileo would have bet.")),
    )  # fmt: skip
    return Telling(merit=_for_dark(0.7, t), short=short, more=more)
