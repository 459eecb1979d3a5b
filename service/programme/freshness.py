"""How old a picture's evening was when it came in: what the ranking counts and a card says. Pure."""

from __future__ import annotations

import math

from moondesk.quality.score import span_of_days
from moondesk.service.store.records import ListedPicture

#: A picture that was taken so many days before it came is called older, on its card and in the rundown.
OLDER_DAYS = 14.0


def days_old(listed: ListedPicture) -> float | None:
    """From its evening to its arrival; infinite where it is surely placed and of none of the days before it came; None
    where it cannot be told."""
    summary, came = listed.summary, listed.picture.submission.arrival.received_utc
    if summary is None or came is None:
        return None
    if summary.evening in ("sure", "told") and summary.taken_utc is not None and summary.clock_verdict != "disagrees":
        return max((came - summary.taken_utc).total_seconds() / 86400.0, 0.0)
    of_none = summary.sure and summary.evening == "unknown" and summary.clock_verdict in ("disagrees", "no_clock")
    return math.inf if of_none else None


def older_words(listed: ListedPicture) -> str:
    """Said of a picture that is not of these days, empty of others."""
    days = days_old(listed)
    if days is None or days <= OLDER_DAYS:
        return ""
    if math.isinf(days):
        return "An older picture: the Moon’s light and tilt fit none of the days before it came."
    return f"An older picture: taken {span_of_days(days)} before it came."
