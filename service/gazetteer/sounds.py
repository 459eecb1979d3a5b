"""How a name sounds, so that one in Devanagari meets its Latin spelling: GeoNames has few Indian towns in their own script.

Consonants by their place of articulation, breath and length left out; of the vowels only front and back ones, as a is
written nowhere in the one script and anywhere in the other, and none at a word's end.
"""

from __future__ import annotations

import re

_DEVANAGARI = {
    "k": "कखक़ख़", "g": "गघग़", "n": "ङञणनंँ", "c": "चछ", "j": "जझज़", "t": "टठतथ", "d": "डढदधड़ढ़", "p": "पफफ़", "b": "बभ",
    "m": "म", "y": "य", "r": "रऱृऋ", "l": "लळ", "v": "व", "s": "शषस", "h": "ह", "i": "इईएऐिीेैॅऍ", "u": "उऊओऔुूोौॉऑ", "": "अआा्ः़",
}  # fmt: skip
_LETTER = {char: sound for sound, chars in _DEVANAGARI.items() for char in chars}
_LATIN = (
    ("chh", "c"), ("tch", "c"), ("ch", "c"), ("kh", "k"), ("gh", "g"), ("th", "t"), ("dh", "d"), ("ph", "p"), ("bh", "b"),
    ("sh", "s"), ("jh", "j"), ("zh", "l"), ("ck", "k"), ("ksh", "ks"), ("x", "ks"), ("q", "k"), ("z", "j"), ("w", "v"),
    ("f", "p"), ("oo", "u"), ("ou", "u"), ("au", "u"), ("ow", "u"), ("ee", "i"), ("ea", "i"), ("ai", "i"), ("ei", "i"), ("ay", "i"),
    ("o", "u"), ("e", "i"), ("a", ""),
)  # fmt: skip
_FEWEST = 3


def sound_of(key: str) -> str:
    """The sounds of a folded name in Devanagari or Latin letters; "" where too few of them tell it from others."""
    if key.isascii():
        said = key.replace(" ", "")
        for letters, sound in _LATIN:
            said = said.replace(letters, sound)
    elif all("\u0900" <= c <= "\u097f" or c == " " for c in key):
        said = "".join(_LETTER.get(c, "") for c in key)
    else:
        return ""
    said = re.sub(r"(.)\1+", r"\1", re.sub(r"n(?=[pbm])", "m", said)).rstrip("iu")
    return said if len(said) >= _FEWEST else ""


def sounds_of(key: str) -> tuple[str, ...]:
    """The sounds of a name, and those of its other spellings: Gwalior has no y that ग्वालियर has, Chhindwara an r."""
    flapped = key[:1] + re.sub("[डढ]़?", "र", key[1:])
    ways = [sound_of(key), sound_of(key).replace("iy", "iu"), sound_of(flapped)]
    return tuple(dict.fromkeys(way for way in ways if way))
