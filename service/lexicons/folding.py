"""A text as words are looked for in it: letters of one case, without accents, digits as ASCII; and where each stood.

People write without accents and capitals, with digits and quotation marks of their own script, with and without marks
that a keyboard hides. What is folded is compared; what is shown is the text as it was written, by `Folded.span`.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

#: Forms of Arabic letters that are written for each other, and signs that are left out or in at will. Of Devanagari the
#: dot below and the two nasal signs.
_SAME = {
    "أ": "ا", "إ": "ا", "آ": "ا", "ٱ": "ا", "ى": "ي", "ئ": "ي", "ؤ": "و", "ة": "ه", "ک": "ك", "ی": "ي",
    "ँ": "ं", "–": "-", "—": "-", "−": "-", "‐": "-", "‑": "-",
    "’": "'", "‘": "'", "`": "'", "´": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"',
    "½": "½", "¼": "¼", "¾": "¾",
}  # fmt: skip
_DROPPED = frozenset("\u093c\u0640\u200b\u200c\u200d\u200e\u200f\u2060\ufeff\ufe0f\u00ad")
_MARKS = ((0x0300, 0x036F), (0x0610, 0x061A), (0x064B, 0x065F), (0x0670, 0x0670), (0x06D6, 0x06ED))


@dataclass(frozen=True)
class Folded:
    """text: folded; at: for each of its characters the index of the one that it comes from, and the length at the end."""

    text: str
    at: tuple[int, ...]
    written: str

    def span(self, start: int, end: int) -> tuple[int, int]:
        """The stretch of the written text that a stretch of the folded one stands for."""
        return self.at[start], (self.at[end - 1] + 1 if end > start else self.at[start])

    def words(self, start: int, end: int) -> str:
        first, last = self.span(start, end)
        while last < len(self.written) and unicodedata.combining(self.written[last]):
            last += 1
        return self.written[first:last]


@lru_cache(maxsize=2048)  # every language asks for the same sentences
def fold(text: str) -> Folded:
    """Fold a text; the order of its characters stays."""
    out: list[str] = []
    at: list[int] = []
    for index, char in enumerate(text):
        for piece in _fold_char(char):
            out.append(piece)
            at.append(index)
    return Folded("".join(out), (*at, len(text)), text)


@lru_cache(maxsize=4096)
def _fold_char(char: str) -> str:
    if char in _DROPPED:
        return ""
    if char in _SAME:
        return _SAME[char]
    if char.isascii():
        return char.lower()
    if char.isdecimal():
        return str(unicodedata.decimal(char))
    plain = unicodedata.normalize("NFKC", char).casefold()
    if ord(char) < 0x0700:  # scripts whose marks are accents
        plain = unicodedata.normalize("NFD", plain)
    return "".join(_SAME.get(c, c) for c in plain if not _is_dropped(c))


def _is_dropped(char: str) -> bool:
    return char in _DROPPED or any(first <= ord(char) <= last for first, last in _MARKS)


def transliterate(folded: Folded, letters: Mapping[str, str]) -> Folded:
    """A text that was typed in the letters of another script, in its own; the longest match counts.

    letters: "=kam=" only where a word is no more than that. A digit stands for a letter only where letters stand beside
    it and no other digit.
    """
    longest = max(map(len, letters), default=1)
    out: list[str] = []
    at: list[int] = []
    k = 0
    while k < len(folded.text):
        word = _word_at(folded.text, k)
        size = len(word) if (whole := f"={word}=") in letters else 0
        size = size or next((n for n in range(longest, 0, -1) if folded.text[k : k + n] in letters), 0)
        if size and folded.text[k].isdigit() and not _is_letter(folded.text, k):
            size = 0
        piece = letters.get(whole) or (letters[folded.text[k : k + size]] if size else folded.text[k])
        out.append(piece)
        at += [folded.at[k]] * len(piece)
        k += size or 1
    return Folded("".join(out), (*at, len(folded.written)), folded.written)


def _word_at(text: str, k: int) -> str:
    """The word that begins at a character; "" inside one."""
    if k and text[k - 1].isalnum():
        return ""
    end = next((n for n in range(k, len(text)) if not text[n].isalnum()), len(text))
    return text[k:end]


def _is_letter(text: str, k: int) -> bool:
    before, behind = text[k - 1 : k], text[k + 1 : k + 2]
    return not (before.isdigit() or behind.isdigit()) and (before.isalpha() or behind.isalpha())
