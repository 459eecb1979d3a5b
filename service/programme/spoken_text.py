"""What of an episode's texts may be spoken and passed on: nothing that names whoever may not be named, or whose picture
may not be shown. Pure: for the prompter, subtitles, and whatever else leaves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from moondesk.service.programme.credit import credit_of
from moondesk.service.store.episode_items import EpisodeItem, KeptEpisode, names_any, without, words_of_names
from moondesk.service.store.records import ListedPicture

#: Words a minute where nobody has said: a calm reading voice in English speaks 130 to 150 (common practice).
WORDS_A_MINUTE = 130
#: What is believed of a speaker, and what a page takes.
LEAST_RATE, MOST_RATE = 60, 240


@dataclass(frozen=True)
class Withheld:
    """Whom no sentence may name. whole: names, credits, places as they are; single: words of the names."""

    whole: frozenset[str] = frozenset()
    single: frozenset[str] = frozenset()

    def names(self, words: str) -> bool:
        return names_any(words, self.whole, self.single)


def withheld_of(stopped: Iterable[tuple[ListedPicture, str]]) -> Withheld:
    """stopped: pictures that may not be shown, each with the credit that was written for it."""
    names, more = set(), set()
    for listed, credit in stopped:
        arrival = listed.picture.submission.arrival
        names |= {arrival.sender_name, credit_of(arrival).name, arrival.credit_line, credit}
        more |= {arrival.place_name, arrival.equipment}
    whole = frozenset(n for n in names if n)
    return Withheld(whole | frozenset(m for m in more if m), words_of_names(whole))


def unnamed_of(pictures: Iterable[ListedPicture]) -> Withheld:
    """Senders who ask not to be named: their names alone, for their pictures may be shown."""
    names = {
        p.picture.submission.arrival.sender_name for p in pictures if credit_of(p.picture.submission.arrival).unnamed
    }
    whole = frozenset(n for n in names if n)
    return Withheld(whole, words_of_names(whole))


def may_be_spoken(kept: KeptEpisode, *withheld: Withheld) -> tuple[EpisodeItem, ...]:
    """The items as they may be spoken."""

    def names(words: str) -> bool:
        return any(one.names(words) for one in withheld)

    return tuple(
        replace(item, text=without(item.text, names), title="" if names(item.title) else item.title)
        for item in kept.items
    )


def seconds_of(words: int, seconds: int | None, words_per_minute: int) -> float:
    """An item's length: fixed, or by its words."""
    return float(seconds) if seconds is not None else 60.0 * words / words_per_minute


def measured_rate(spoken: Sequence[tuple[int, float]]) -> int | None:
    """Words a minute of what was really spoken: (words, seconds) of stretches between two steps of the text. None where
    that is too little to tell, or no speech.

    Stretches much slower than the middle one were pauses (a picture looked at, a laugh): they are left out.
    """
    paces = sorted(60.0 * words / seconds for words, seconds in spoken if words >= _LEAST_WORDS and seconds > 0)
    if not paces:
        return None
    middle = paces[len(paces) // 2]
    kept = [
        (words, seconds)
        for words, seconds in spoken
        if words >= _LEAST_WORDS and seconds > 0 and 0.5 <= 60.0 * words / seconds / middle <= 2.0
    ]
    words, seconds = sum(w for w, _ in kept), sum(s for _, s in kept)
    rate = round(60.0 * words / seconds)
    return rate if words >= _TOLD_WORDS and LEAST_RATE <= rate <= MOST_RATE else None


#: A stretch of fewer words tells no pace; fewer in all no rate.
_LEAST_WORDS, _TOLD_WORDS = 4, 60
