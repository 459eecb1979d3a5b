"""Ideas about the ground: seas, craters, rims, rilles, ranges, ages, heights, colours, landings."""

from __future__ import annotations

import math

from moondesk.ideas.records import Telling, cannot, part, spot
from moondesk.ideas.tonight import Tonight, arc_deg
from moondesk.moon.catalogue import named
from moondesk.notes.landing_sites import SITES
from moondesk.notes.messages import Name, Number, say
from moondesk.records import MOON_RADIUS_KM, NotFound

SEAS = ("Mare Imbrium", "Mare Serenitatis", "Mare Tranquillitatis", "Mare Crisium", "Mare Nubium", "Mare Humorum")
#: Craters with central peaks (Heiken 1991, ch. 4, and common charts).
PEAKED = ("Theophilus", "Tycho", "Copernicus", "Arzachel", "Bullialdus", "Eratosthenes", "Petavius", "Langrenus", "Piccolomini",
          "Moretus", "Alphonsus", "Aristillus")  # fmt: skip
RILLES = ("Rima Ariadaeus", "Rima Hyginus", "Rima Hadley")
#: A mountainous rim and the basin that it borders (Heiken 1991, ch. 4).
RIMS = {"Montes Apenninus": "Mare Imbrium", "Montes Alpes": "Mare Imbrium", "Rupes Altai": "Mare Nectaris"}
FLOODED = ("Fracastorius", "Letronne", "Le Monnier", "Hippalus", "Stadius")
CROWDED = ("Maurolycus", "Clavius", "Stöfler", "Janssen", "Walther")


def seas(t: Tonight) -> Telling | NotFound:
    lit = t.every(SEAS, 10.0)
    if len(lit) < 2:
        return cannot("Fewer than two of the great seas lie in good light.")
    sea = lit[0].feature
    short = (
        part("turned",
             say("Two colours of land make up the face of the Moon."),
             say("The pale, crowded country is highland, the first crust, made of light rock that floated up while the young Moon was molten."),
             say("The dark plains came later.")),
        spot(sea.name,
             say("This one, {sea}, is {km} kilometres across: lava that welled up into a giant hollow and set hard.",
                 sea=Name(sea.name), km=Number(sea.size_km)),
             say("No drop of water ever lay there.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Early observers called the plains seas, and the name has stuck although we have known better for centuries."),
             say("Their rock is basalt, the stuff of Iceland and Hawaii, brought home in boxes by the astronauts."),  # Heiken 1991, ch. 6
             say("Most of it is more than three billion years old."),  # Stöffler & Ryder 2001
             say("Can you count the seas in this picture?"),
             say("At least {count} of the great ones have sunshine now.", count=Number(len(lit))),
             say("Then notice how few craters they carry beside the bright ground, and keep that thought for another night.")),
    )  # fmt: skip
    return Telling(merit=min(1.0, 0.5 + 0.1 * len(lit)), short=short, more=more)


def central_peak(t: Tonight) -> Telling | NotFound:
    best = t.first(PEAKED, 5.0, 25.0)
    if best is None:
        return cannot("No crater with a well-known central peak lies in good low light.")
    name = best.feature.name
    short = (
        spot(name,
             say("Drop a sugar cube into coffee and watch the middle: the surface dips, then leaps up."),
             say("Rock did that here, once."),
             say("A body from space struck so fast that the ground flowed for a minute or two, rebounded, and froze as a mountain in the middle of {name}.",
                 name=Name(name)),
             say("The bowl round it measures {km} kilometres, far more than the thing that dug it.", km=Number(best.feature.size_km))),
    )  # fmt: skip
    more = (
        spot(name,
             say("How much more? Ten to twenty times is a fair rule, for it comes in at some tens of kilometres a second and bursts like a bomb."),  # Melosh 1989, ch. 7
             say("That also explains why craters are round even where the blow came in at a slant."),
             say("Little ones stay simple bowls; from about fifteen to twenty kilometres upwards the walls slump into steps and the middle rises."),  # Heiken 1991, ch. 4
             say("Look for terraces on the sunlit wall, and for the peak's own shadow on the floor.")),
    )  # fmt: skip
    return Telling(merit=0.95, short=short, more=more)


def rille(t: Tonight) -> Telling | NotFound:
    best = t.first(RILLES, 2.0, 25.0)
    if best is None:
        return cannot("None of the well-known rilles lies in a low Sun.")
    short = (
        spot(best.feature.name,
             say("Do you see a scratch, as if a needle had slipped?"),
             say("It is a valley, {name}, and our catalogue gives it a length of {km} kilometres.", name=Name(best.feature.name), km=Number(best.feature.size_km)),
             say("Such valleys are called rilles, from a German word for a groove."),
             say("Straight ones opened where the crust was pulled apart and a strip of it sank."),
             say("Winding ones were carved, or roofed and emptied, by running lava.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Astronauts of Apollo 15 drove to the brink of a winding rille in 1971, the one named Hadley, and photographed layers of old lava in the far wall."),  # Heiken 1991, ch. 4
             say("From home you need a steady evening more than a big telescope."),
             say("Wait for those two or three seconds when the air holds still and the picture snaps into focus; experienced observers sit through ten minutes of shimmer for them."),
             say("A camera does it by taking hundreds of frames and throwing most of them away.")),
    )  # fmt: skip
    return Telling(merit=1.0, short=short, more=more)


def basin_rim(t: Tonight) -> Telling | NotFound:
    best = t.first(RIMS, 2.0, 25.0)
    if best is None:
        return cannot("No range on the rim of a great basin lies in low light.")
    name, sea = best.feature.name, RIMS[best.feature.name]
    short = (
        spot(name,
             say("Most mountains at home are pushed up over millions of years, as one slab of crust leans on another."),
             say("{name} needed minutes, perhaps an hour.", name=Name(name)),
             say("A huge blow opened the basin that now holds {sea}, and its edge was heaved up all round.", sea=Name(sea)),
             say("What looks like a range of its own is one piece of a crater's wall, {km} kilometres of it.", km=Number(best.feature.size_km))),
    )  # fmt: skip
    more = (
        part("turned",
             say("Draw the curve on with your finger and you can guess where the missing pieces of the ring ought to lie."),
             say("Lava drowned some of them; others stick out of the plain as lonely hills."),
             say("By samples from its surroundings the Imbrium basin is about three thousand nine hundred million years old; Nectaris is older still."),  # Stöffler & Ryder 2001
             say("So when you hear of the Alps or the Apennines on the Moon, the names are borrowed from the maps of Europe, and that is all these mountains share with ours.")),
    )  # fmt: skip
    return Telling(merit=1.0, short=short, more=more)


def flooded(t: Tonight) -> Telling | NotFound:
    best = t.first(FLOODED, 1.5, 20.0)
    if best is None:
        return cannot("No drowned crater lies in a low Sun.")
    short = (
        spot(best.feature.name,
             say("Here stood a crater, complete, before the lava came."),
             say("{name} now looks like a sandcastle after high tide: part of the ring remains, the rest lies under a level floor.", name=Name(best.feature.name)),
             say("By tonight's Sun, {degrees} degrees up, you can still trace it.", degrees=Number(best.sun_deg)),
             say("Once the light is high your eye will slip past it, and you would swear that the shore simply bends there.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Where only a faint circle pokes through, observers speak of a ghost crater."),
             say("Each ghost tells an order of events, and that is a treat for detectives: first a blow, then the flood, and afterwards whatever small pits you find on the new floor."),
             say("Nobody had to go there to learn this."),
             say("You put one thing on top of another, as with plates in a sink, and the lowest was there first."),
             say("Geologists built the first history of the Moon in this fashion, from pictures.")),
    )  # fmt: skip
    return Telling(merit=1.0, short=short, more=more)


def crater_ages(t: Tonight) -> Telling | NotFound:
    south, plains = t.first(CROWDED, 3.0, 35.0), t.first(SEAS, 3.0, 60.0)
    if south is None or plains is None:
        return cannot("Crowded highland and an empty plain do not both lie in good light.")
    short = (
        spot(south.feature.name,
             say("How old is a pavement? Count the chewing gum."),
             say("Around {name} there is hardly room left for one more crater.", name=Name(south.feature.name))),
        spot(plains.feature.name,
             say("On {sea}, {km} kilometres wide, you soon run out of things to count.", sea=Name(plains.feature.name), km=Number(plains.feature.size_km)),
             say("Both lie under the same rain of stones."),
             say("Therefore the crowded ground has been out in it longer, and the plain is the newer floor.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Counting alone gives the order, older and younger, but no years."),
             say("Those came with the samples: rocks from a handful of landing places were dated in laboratories, and the counts at the same spots were set beside them."),  # Stöffler & Ryder 2001
             say("With this one yardstick people now date plains on Mars and Mercury, where nobody has picked up a stone for the purpose."),
             say("There is a weak point, and researchers argue about it: between three billion years ago and one the samples are few.")),
    )  # fmt: skip
    return Telling(merit=0.8, short=short, more=more)


def shadow_heights(t: Tonight) -> Telling | NotFound:
    best = t.first(PEAKED, 4.0, 12.0)
    if best is None or not t.shows_edge:
        return cannot("No crater with long shadows on its floor stands well in the picture.")
    tan = math.tan(math.radians(best.sun_deg))
    short = (
        spot(best.feature.name,
             say("Would you like to measure a mountain without leaving home?"),
             say("Take the shadow inside {name}.", name=Name(best.feature.name)),
             say("With the Sun {degrees} degrees high there, every ten kilometres of shadow mean {metres} metres of wall above the ground where its tip lies.",
                 degrees=Number(best.sun_deg), metres=Number(round(10_000 * tan, -2))),
             say("All you need besides is a ruler, the scale of the picture, and the hour at which somebody took it.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Galileo tried a cousin of this method in 1610: he looked for summits already shining beyond the edge of the light, and reckoned from how far out they stood."),  # Sidereus Nuncius
             say("His peaks came out too tall by our measure, but the idea was sound."),
             say("Today a laser in orbit has mapped the whole globe, so there is something to compare with."),
             say("So check yours; careful work is rewarded, and it takes no more than a ruler."),
             say("The tip of the shadow must lie on level floor, or the sum goes wrong.")),
    )  # fmt: skip
    return Telling(merit=0.9, short=short, more=more)


def colours(t: Tonight) -> Telling | NotFound:
    both = t.every(("Mare Tranquillitatis", "Mare Serenitatis"), 20.0)
    if len(both) < 2:
        return cannot("The blue and the brown sea are not both in high light.")
    short = (
        part("turned",
             say("Grey, you say? Turn up the colour and the Moon blushes."),
             say("On the border of these two seas, {km} kilometres from middle to middle, bluish rock meets brownish.",
                 km=Number(math.radians(arc_deg(*((g.feature.lat_deg, g.feature.lon_deg) for g in both))) * MOON_RADIUS_KM))),
        spot("Mare Tranquillitatis",
             say("Tranquillity owes its cool tint to titanium."),
             say("Its neighbour Serenity holds less of that metal and looks warmer."),
             say("Neither is painted: the camera's own faint colours are only stretched until our eyes believe them.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Titanium sits in a dark mineral called ilmenite, and grains of it came back from the landing of Apollo 11 in that very sea."),  # Heiken 1991, ch. 5
             say("So a tinted photograph is a rough map of ores."),
             say("If you try it yourself, raise the saturation in small steps, several times over, and begin with a sharp picture that nowhere burns out."),
             say("Do be honest with the caption: say that colours were strengthened."),
             say("Through the eyepiece most people notice no more than a hint, on a night when the Moon rides high.")),
    )  # fmt: skip
    return Telling(merit=0.5 + 0.4 * t.lit, short=short, more=more)


def landings(t: Tonight) -> Telling | NotFound:
    crewed = [s for s in SITES if s.crewed]
    at = {s.mission: _site_sun(t, s.lat_deg, s.lon_deg) for s in crewed}
    lit = [s for s in crewed if at[s.mission] > 2.0]
    sea = t.ground.get("Mare Tranquillitatis")
    if len(lit) < 2 or sea is None or at["Apollo 11"] <= 2.0:
        return cannot("The first landing place lies in the dark, or its sea outside the picture.")
    short = (
        spot("Mare Tranquillitatis",
             say("People have walked about in this very picture."),
             say("Six crews went down between 1969 and 1972, and it is day at {count} of their landing places now.", count=Number(len(lit))),
             say("The first lies in the Sea of Tranquillity, where the Sun stands {degrees} degrees high this evening.", degrees=Number(at["Apollo 11"])),
             say("Please do not hunt for the flag tonight: no telescope on Earth can show it.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Do the sum with me."),
             say("The lower half of the lander is some four metres wide."),
             say("At tonight's distance, {distance} kilometres, that is an angle of {mas} thousandths of a second of arc, and an amateur's telescope under calm air stops at about one second.",
                 distance=Number(round(t.sky.distance_km, -3)), mas=Number(4.0 / (t.sky.distance_km * 1000) * 206264.806 * 1000)),
             say("A probe in orbit, though, has photographed all six places from close up, tracks and all."),  # Wagner 2017
             say("Mirrors left there still throw back flashes of laser light, and so we know our distance to the centimetre.")),  # NASA; Murphy 2013
    )  # fmt: skip
    return Telling(merit=min(1.0, 0.4 + 0.1 * len(lit)), short=short, more=more)


def _site_sun(t: Tonight, lat: float, lon: float) -> float:
    return 90.0 - arc_deg((lat, lon), (t.sky.sub_solar_lat_deg, t.sky.sub_solar_lon_deg))


def far_side(t: Tonight) -> Telling | NotFound:
    edge = t.first(("Mare Crisium", "Grimaldi"), 5.0, 90.0)
    if edge is None or t.lit < 0.3:
        return cannot("Neither sea near the limb stands in the light.")
    feature = named(edge.feature.name)
    assert feature is not None
    short = (
        part("turned",
             say("Behind the rim of this disc lies a country which nobody had seen before October 1959."),
             say("Then a Soviet probe, Luna 3, flew round and took a few blurred pictures.")),  # NASA
        spot(edge.feature.name,
             say("From {name} the rim is {degrees} degrees of ground away this evening.", name=Name(edge.feature.name), degrees=Number(t.from_limb_deg(feature))),
             say("Over there you would find hardly any seas, and nobody expected that."),
             say("It gets as much sunshine as we see here.")),
    )  # fmt: skip
    more = (
        part("turned",
             say("Please retire the phrase dark side; night moves round the whole globe, and at new Moon it is noon over there."),
             say("Why the two faces differ is an open question."),
             say("The crust is thicker on the back, so that lava had a longer way up; this much two satellites measured by feeling the Moon's pull."),  # Wieczorek 2013
             say("In January 2019 a Chinese craft, Chang'e 4, was the first to land there gently, and had to telephone home by way of a relay, since the Moon itself blocks every signal.")),  # NASA NSSDC
    )  # fmt: skip
    return Telling(merit=0.5 + 0.3 * t.lit, short=short, more=more)
