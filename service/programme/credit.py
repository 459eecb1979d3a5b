"""How a sender is named on air: as the table says, as the letter asks, else by the name of the account. Pure.

A suggestion like all that is read from words. One who asks not to be named is not named by any other name either.
"""

from __future__ import annotations

import re

from moondesk.service.programme.letter.names import Credit
from moondesk.service.store.records import Arrival, ListedPicture
from moondesk.service.store.rundown_items import RundownItem


def credit_of(arrival: Arrival) -> Credit:
    """How the sender is to be named: as the table says, else as the mail asks, else by the name of the account.

    unnamed (with an empty name): the sender asks not to be named.
    """
    if arrival.credit_line:
        return Credit(arrival.credit_line)
    by_field = {s.field: s for s in arrival.suggestions}
    if "unnamed" in by_field:
        return Credit("", True, by_field["unnamed"].words)
    if "credit" in by_field:
        return Credit(by_field["credit"].value, False, by_field["credit"].words)
    if "forwarded" in by_field:
        taken = re.sub(r"\s*<[^<>]*>$", "", by_field["forwarded"].value) or by_field["forwarded"].value
        return Credit(doubt=f"Forwarded by {sender_of(arrival)}; perhaps taken by {taken}: ask whose picture it is.")
    return Credit(arrival.sender_name)


def sender_of(arrival: Arrival) -> str:
    return arrival.sender_name or arrival.sender_address or "Sender not named"


def teller_of(arrival: Arrival) -> str:
    """Who says when it was taken, where somebody has said so."""
    return arrival.taken_by or ("the desk" if arrival.way.by_desk else arrival.sender_name or "the sender")


def credit_words(item: RundownItem, listed: ListedPicture) -> tuple[str, str, bool]:
    """The credit exactly as it will be shown, where it comes from, and whether it is missing."""
    own = credit_of(listed.picture.submission.arrival)
    if item.credit_line is not None:
        said = f"written here; the sender asked for “{own.name}”" if own.name else "written here"
        if own.unnamed:
            said = f"written here; the sender asks not to be named: “{own.words}”"
        return item.credit_line, said, False
    if own.unnamed:
        return "", f"the sender asks not to be named: “{own.words}”", False
    if own.doubt:
        return "", own.doubt, True
    if not own.name:
        return "", "Missing: ask the sender how to be named, or tick that no name is shown.", True
    return own.name, f"as the mail asks: “{own.words}”" if own.words else "", False
