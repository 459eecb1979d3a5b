"""The call for pictures: a request, one easy task, what helps, and the cautions where observing is invited near the Sun."""

from __future__ import annotations

from moondesk.ideas.tonight import predict_tonight
from moondesk.script.evening import BY_DAY_DEG, shape_of
from moondesk.script.records import Episode, Passage
from moondesk.script.wordings import ways_of
from moondesk.script.write_quiz import write_quiz

#: Table of tasks and of cautions by shape and whether the Moon waxes; "": none.
TASKS = {
    ("new", True): "new", ("new", False): "new", ("thin", True): "thin_evening", ("crescent", True): "crescent",
    ("half", True): "half", ("gibbous", True): "gibbous", ("full", True): "full", ("full", False): "full",
    ("gibbous", False): "waning", ("half", False): "waning", ("crescent", False): "morning", ("thin", False): "morning",
}  # fmt: skip
#: What helps those who take pictures: for evenings with time to spare.
ADVICE = ("again", "edge", "exposure", "phone", "binoculars", "cool", "many", "high", "zoom", "timer", "draw", "mirror", "horizon", "night", "haze", "glare",
          "notebook", "map", "neighbours", "film")  # fmt: skip
#: What a question is worth on evenings with little to see.
QUIZ = 0.12
#: Episodes in which no advice comes twice.
ADVISED = 20
#: Advice that is kept for evenings without a Moon.
KEPT = 10


def write_call(episode: Episode) -> tuple[Passage, ...]:
    following = episode.following
    t = predict_tonight(following.utc, episode.about.place) if following is not None else episode.about
    is_new = shape_of(episode.about) == "new"
    task = "new" if is_new else TASKS[shape_of(t), t.waxing]  # while the Moon stands near the Sun nobody is sent to it
    # the slim and the full Moon leave time for it; without a Moon it stands in the look back
    is_poor = shape_of(episode.about) in ("thin", "full") or episode.about.lit > 0.85
    said = [
        *(write_quiz(episode, QUIZ) if is_poor else ()),
        Passage(key="call:ask", must=True, ways=ways_of("call.ask")),
        Passage(key="call:how", worth=0.5, ways=ways_of("call.how")),
        Passage(key="call:task", worth=0.9, ways=ways_of(f"call.task_{task}")),
    ]
    fresh = [name for name in ADVICE if episode.told(f"advice:{name}", last=ADVISED) is None]
    some = fresh[:6] if is_new else fresh[KEPT:][: 5 if is_poor else 1]  # some are kept for evenings without a Moon
    for n, name in enumerate(some):
        ways = ways_of(f"advice.{name}", facts=(f"advice:{name}",))
        said.append(Passage(key=f"call:{name}", worth=0.5 if is_new else 0.15 / (1 + 2 * n), ways=ways))
    caution = caution_of(episode)
    if caution:
        said.append(Passage(key="call:caution", must=True, ways=ways_of(f"call.caution_{caution}")))
    return tuple(said)


def caution_of(episode: Episode) -> str:
    """What has to be said before people go out: the Moon near the Sun, in the morning, by day. "" where nothing has."""
    t = episode.about
    shape = shape_of(t)
    if shape == "new":
        return "new"
    if shape in ("thin", "crescent"):
        return "evening" if t.waxing else "morning"
    return "day" if BY_DAY_DEG[0] <= t.sky.elongation_deg <= BY_DAY_DEG[1] else ""
