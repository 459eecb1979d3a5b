"""What the program itself has to say of what is stored: kept as a code with its values, put into words when it is shown.

So what was noted years ago can be reworded and translated with the rest. What an earlier release kept in words is shown
as it stands. Whoever adds a code adds its words here; a code is never given another meaning.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from moondesk.sentences import SENTENCES, Sentence, join_words, sentence_in_words

#: The words of each code. Lines of the audit list, with the names of accounts and no other personal data:
WORDS = {
    "account_made": "account {name} made, {role}",
    "account_closed": "account {name} closed",
    "account_opened": "account {name} opened again",
    "account_role": "{name} is now {role}",
    "password_changed": "password of {name} changed",
    "token_made": "a program's token of {name} made, {role}",
    "token_revoked": "a program's token of {name} revoked",
    "air_link_made": "address for the page on air made: {label}",
    "air_link_ended": "address for the page on air ended: {label}",
    "edition_added": "edition {number} added",
    "edition_changed": "edition {number} changed",
    "edition_renumbered": "edition {number}, now {now}, changed",
    "setting_changed": "{setting} set to {value}",
    "letter_read": "letter {letter} was read",
    "letter_not_meant": "letter {letter} was read: it takes nothing back",
    "letter_erased": "what letter {letter} takes back was erased",
    "letter_unread": "letter {letter} is to be read again",
    "fact_accepted": "what was read in the letter of submission {submission} was accepted: {field}",
    "fact_wrong": "what was read in the letter of submission {submission} was called wrong: {field}",
    "fact_open": "what was said to the letter of submission {submission} was taken back: {field}",
    "sender_forgotten": "a sender was forgotten: {count} submissions",
    "mails_erased": "mails were erased after their time: {count}",
}
# Of two pictures that may be one. how: in what the copy differs, see `_how`.
WORDS |= {
    "same_file": "The same file, sent again.",
    "same_file_of_other": "{who} sent the very same file. Whose picture is it?",
    "same_picture": "The same picture, sent again{how}.",
    "same_picture_of_other": "{who} sent the same picture{how}. Whose is it?",
    "same_pixels_other_clock": "The pixels are those of one picture, but the clocks in the two files read {theirs} and "
    "{mine}. Is it one picture?",
    "copy_or_next_frame": "A copy of another picture by this sender, perhaps edited, or the next frame of the same "
    "minute. Is it one picture?",
    "perhaps_copy_of_other": "Looks like a copy of the picture by {who}, perhaps edited; the pixels do not prove it. Is "
    "it one picture?",
}
# Why a picture is put aside: the core's sentences, and what became of those that placed it.
WORDS |= SENTENCES | {"placers_vanished": "Whoever placed it was ended {times} times before it was done."}
# What the last try to send a reply brought. why, said: the fault as the system or the server words it.
WORDS |= {
    "mail_login": "The mail server does not accept user and password: {said}.",
    "mail_unable": "The mail server cannot do what is set: {why}.",
    "mail_certificate": "The mail server's certificate is not trusted: {why}.",
    "mail_silent": "The mail server does not answer: {why}.",
    "mail_broke_before": "The line to the mail server broke before the mail went out: {why}.",
    "mail_broke_after": "The line broke after the mail went out, before the server said whether it has it: {why}.",
    "mail_later": "The mail server asks to try later: {number} {said}.",
    "mail_refused": "The mail server refuses it: {number} {said}.",
    "mail_not_made": "The mail cannot be made: {why}",
    "mail_bounced": "It could not be delivered: {why}",
    "mail_interrupted": "The program that sent it was ended in the middle: nobody knows whether it went out.",
}


@dataclass(frozen=True)
class StoredMessage:
    """A code of `WORDS` with its values; code "": what was kept in words, as `words`."""

    code: str
    values: dict[str, str] = field(default_factory=dict)

    @property
    def kept(self) -> str:
        """As it stands in a column of the store."""
        if not self.code:
            return self.values["words"]
        return json.dumps({"code": self.code, **self.values}, ensure_ascii=False)

    def words(self, names: Mapping[str, str] | None = None) -> str:
        """names: what settings are called where they are made, by their key."""
        if not self.code:
            return self.values["words"]
        shown = {key: _SHOW[key](value, names or {}) if key in _SHOW else value for key, value in self.values.items()}
        return WORDS[self.code].format_map({"how": _how(self.values), **shown})

    def beside_other(self, who: str) -> StoredMessage:
        """What is asked of two pictures is worded beside the first; the same beside the other. who: sent the first."""
        swapped = {"who": who, "mine": self.values.get("theirs", ""), "theirs": self.values.get("mine", "")}
        return StoredMessage(self.code, {key: swapped.get(key, value) for key, value in self.values.items()})


def message(code: str, **values: object) -> StoredMessage:
    """KeyError for a code that has no words."""
    WORDS[code]
    return StoredMessage(code, {key: str(value) for key, value in values.items()})


def in_words(words: str) -> StoredMessage:
    """What is kept as somebody has said it."""
    return StoredMessage("", {"words": words})


#: Nothing to say.
NOTHING = in_words("")


def message_of(kept: str) -> StoredMessage:
    """A column of the store: what `Message.kept` wrote, or words of an earlier release."""
    if not kept.startswith('{"code": '):
        return in_words(kept)
    values = json.loads(kept)
    return StoredMessage(values.pop("code"), values)


def keep_sentences(said: Sequence[Sentence]) -> str:
    """Several as they stand in one column of the store."""
    return keep_list(said) if any(s.code for s in said) else join_words(said)


def read_sentences(kept: str) -> tuple[Sentence, ...]:
    """What `keep_sentences` wrote, or words of an earlier release."""
    return read_list(kept) if kept.startswith('[{"code": ') else sentence_in_words(kept)


def keep_list(said: Sequence[Sentence]) -> str:
    """The same for a column that was always a list."""
    return json.dumps([{"code": s.code, **s.values} for s in said], ensure_ascii=False)


def read_list(kept: str) -> tuple[Sentence, ...]:
    """What `keep_list` wrote, or a list of an earlier release's words."""
    return tuple(
        Sentence("", {"words": one}) if isinstance(one, str) else Sentence(one.pop("code"), one)
        for one in json.loads(kept)
    )


def words_of(kept: str) -> str:
    return join_words(read_sentences(kept))


def _how(values: Mapping[str, str]) -> str:
    ways = [f"at {values['percent']} % of the size"] if "percent" in values else []
    ways += [{"cut": "cropped"}[values["framing"]]] if "framing" in values else []
    ways += [{"mirrored": "mirrored", "turned": "turned"}[values["turn"]]] if "turn" in values else []
    return f" ({', '.join(ways)})" if ways else ""


def _setting_value(text: str) -> str:
    value: Any = json.loads(text)
    if value is None:
        return "nothing"
    if isinstance(value, list):
        return ", ".join(f"{v:.10g}" for v in value)
    return f"{value:g}" if isinstance(value, float) else f"{value}"


#: How values are shown that are not words already.
_SHOW: dict[str, Callable[[str, Mapping[str, str]], str]] = {
    "who": lambda value, _: value or "Somebody else",
    "setting": lambda value, names: names.get(value, value),
    "value": lambda value, _: _setting_value(value),
}
