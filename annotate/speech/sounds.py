"""Sounds as they are kept (X-SAMPA, J. C. Wells 1995: ASCII), in the International Phonetic Alphabet, and respelled with the
letters of a language. How a language writes a sound that it lacks is its nearest one. Respellings: from memory."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field

#: X-SAMPA -> IPA, where the two differ.
IPA: Mapping[str, str] = {
    "S": "ʃ", "Z": "ʒ", "T": "θ", "D": "ð", "N": "ŋ", "J": "ɲ", "R": "ʁ", "@": "ə", "E": "ɛ", "O": "ɔ", "A": "ɑ", "2": "ø",
    "9": "œ", "I": "ɪ", "U": "ʊ", "Y": "ʏ", "C": "ç", "L": "ʎ", "V": "ʌ", "{": "æ", "3": "ɜ", "6": "ɐ", "0": "ɵ", "H": "ɥ",
    ":": "ː", "~": "\u0303", "g": "ɡ",
}  # fmt: skip
#: A sound: two vowels that are one, an affricate, a vowel with its length or its nasal; else one sign.
_SOUND = re.compile(r"[eaO]I|[oa]U|[eEIU]@|OY|9Y|tS|dZ|ts|dz|[aAOoE9e2]~|[a-zA-Z@{230679]:?")
_VOWEL_LETTER = re.compile(r"[аеиоуъюя]")


@dataclass(frozen=True)
class Letters:
    """How a language writes sounds. stress: put after the stressed vowel; "" where its syllable stands in capitals, and
    syllables are parted. joined: what two signs become together."""

    signs: Mapping[str, str]
    stress: str = ""
    joined: Mapping[str, str] = field(default_factory=dict)


_PLAIN = {k: k for k in "bdfhklmnprstvz"}
_ENGLISH = {
    **_PLAIN, "g": "g", "j": "y", "w": "w", "R": "r", "S": "sh", "Z": "zh", "T": "th", "D": "th", "N": "ng", "J": "ny",
    "L": "ly", "x": "kh", "C": "kh", "H": "w", "ts": "ts", "dz": "dz", "tS": "ch", "dZ": "j", "eI": "ay", "aI": "eye", "OI": "oy",
    "oU": "oh", "aU": "ow", "OY": "oy", "9Y": "oy", "e@": "air", "E@": "air", "I@": "eer", "U@": "oor", "a": "ah", "a:": "ah",
    "A": "ah", "A:": "ah", "{": "a", "E": "e", "E:": "air", "e": "ay", "e:": "ay", "@": "uh", "I": "i", "i": "ee", "i:": "ee",
    "O": "o", "O:": "aw", "o": "oh", "o:": "oh", "U": "uu", "u": "oo", "u:": "oo", "V": "u", "3:": "ur", "y": "ew", "y:": "ew",
    "Y": "ew", "2": "ur", "2:": "ur", "9": "ur", "6": "uh", "0": "uu", "a~": "ahn", "O~": "on", "o~": "on", "E~": "an", "9~": "un",
}  # fmt: skip
_BULGARIAN = {
    "b": "б", "d": "д", "f": "ф", "h": "х", "k": "к", "l": "л", "m": "м", "n": "н", "p": "п", "r": "р", "s": "с", "t": "т", "v": "в",
    "z": "з", "g": "г", "j": "й", "w": "у", "R": "р", "S": "ш", "Z": "ж", "T": "т", "D": "д", "N": "н", "J": "нь", "L": "ль",
    "x": "х", "C": "х", "H": "ю", "ts": "ц", "dz": "дз", "tS": "ч", "dZ": "дж", "eI": "ей", "aI": "ай", "OI": "ой", "oU": "оу",
    "aU": "ау", "OY": "ой", "9Y": "ой", "e@": "е", "E@": "е", "I@": "и", "U@": "у", "a": "а", "a:": "а", "A": "а", "A:": "а",
    "{": "а", "E": "е", "E:": "е", "e": "е", "e:": "е", "@": "ъ", "I": "и", "i": "и", "i:": "и", "O": "о", "O:": "о", "o": "о",
    "o:": "о", "U": "у", "u": "у", "u:": "у", "V": "ъ", "3:": "ьо", "y": "ю", "y:": "ю", "Y": "ю", "2": "ьо", "2:": "ьо", "9": "ьо",
    "6": "а", "0": "у", "a~": "ан", "O~": "он", "o~": "он", "E~": "ен", "9~": "ьон",
}  # fmt: skip
_GERMAN = {
    **_PLAIN, "v": "w", "z": "s", "s": "ß", "g": "g", "j": "j", "w": "u", "R": "r", "S": "sch", "Z": "sch", "T": "ss", "D": "s",
    "N": "ng", "J": "nj", "L": "lj", "x": "ch", "C": "ch", "H": "ü", "ts": "z", "dz": "ds", "tS": "tsch", "dZ": "dsch", "eI": "eh",
    "aI": "ei", "OI": "eu", "oU": "oh", "aU": "au", "OY": "eu", "9Y": "eu", "e@": "ä", "E@": "äh", "I@": "ier", "U@": "ur",
    "a": "a", "a:": "ah", "A": "a", "A:": "ah", "{": "ä", "E": "e", "E:": "äh", "e": "e", "e:": "eh", "@": "e", "I": "i", "i": "i",
    "i:": "ih", "O": "o", "O:": "oh", "o": "o", "o:": "oh", "U": "u", "u": "u", "u:": "uh", "V": "a", "3:": "ör", "y": "ü",
    "y:": "üh", "Y": "ü", "2": "ö", "2:": "öh", "9": "ö", "6": "a", "0": "ü", "a~": "ong", "O~": "ong", "o~": "ong", "E~": "äng",
    "9~": "öng",
}  # fmt: skip
_SPANISH = {
    **_PLAIN, "h": "j", "g": "g", "j": "i", "w": "u", "R": "r", "S": "sh", "Z": "y", "T": "z", "D": "d", "N": "n", "J": "ñ", "L": "ll",
    "x": "j", "C": "j", "H": "u", "ts": "ts", "dz": "ds", "tS": "ch", "dZ": "y", "eI": "ei", "aI": "ai", "OI": "oi", "oU": "ou",
    "aU": "au", "OY": "oi", "9Y": "oi", "e@": "e", "E@": "e", "I@": "i", "U@": "u", "a": "a", "a:": "a", "A": "a", "A:": "a",
    "{": "a", "E": "e", "E:": "e", "e": "e", "e:": "e", "@": "e", "I": "i", "i": "i", "i:": "i", "O": "o", "O:": "o", "o": "o",
    "o:": "o", "U": "u", "u": "u", "u:": "u", "V": "a", "3:": "er", "y": "iu", "y:": "iu", "Y": "iu", "2": "e", "2:": "e", "9": "e",
    "6": "a", "0": "u", "a~": "an", "O~": "on", "o~": "on", "E~": "en", "9~": "en",
}  # fmt: skip
LETTERS: Mapping[str, Letters] = {
    "en": Letters(_ENGLISH, joined={"urr": "ur", "airr": "air", "eerr": "eer", "oorr": "oor", "uhr": "er"}),
    "bg": Letters(
        _BULGARIAN,
        "\u0300",
        {"йа": "я", "йу": "ю", "ньа": "ня", "ньу": "ню", "льа": "ля", "льу": "лю", "йи": "и", "йю": "ю", "тч": "ч", "тц": "ц"},
    ),
    "de": Letters(_GERMAN, joined={"örr": "ör", "ierr": "ier", "urr": "ur"}),
    "es": Letters(_SPANISH, joined={"ge": "gue", "gi": "gui", "ke": "que", "ki": "qui", "ka": "ca", "ko": "co", "ku": "cu", "err": "er"}),
}  # fmt: skip


def syllables_of(sounds: str) -> tuple[tuple[str, bool], ...]:
    """(sounds, whether it is stressed). A name of several words has a stress in each."""
    return tuple((s.lstrip('"'), s.startswith('"')) for s in re.split(r"[. ]", sounds) if s)


def sounds_in(syllable: str) -> tuple[str, ...]:
    """ValueError for a sign that is none of X-SAMPA's here."""
    found = tuple(_SOUND.findall(syllable))
    if "".join(found) != syllable:
        raise ValueError(f"{syllable!r} has a sign that is not known")
    return found


def ipa_of(sounds: str) -> str:
    """Between slashes. Where only one syllable is, its stress is not written."""
    words = []
    for word in sounds.split(" "):
        parts = syllables_of(word)
        mark = len(parts) > 1
        words.append("".join(("ˈ" * (stressed and mark)) + _ipa(syllable) for syllable, stressed in parts))
    return f"/{' '.join(words)}/"


def _ipa(syllable: str) -> str:
    return "".join(IPA.get(sign, sign) for sign in syllable)


def respell(sounds: str, code: str) -> str:
    """With the letters of a language; "" where there are none for it here."""
    letters = LETTERS.get(code)
    if letters is None:
        return ""
    return unicodedata.normalize("NFC", " ".join(_word(syllables_of(word), letters) for word in sounds.split(" ")))


def _word(parts: tuple[tuple[str, bool], ...], letters: Letters) -> str:
    written = []
    for syllable, stressed in parts:
        marked, text, signs = stressed and len(parts) > 1, "", sounds_in(syllable)
        for sign, following in zip(signs, (*signs[1:], ""), strict=True):
            letter = letters.signs[sign]
            if sign == "N" and letters is LETTERS["bg"] and following not in ("g", "k"):
                letter = "нг"
            text += letter
        if marked and letters.stress:  # on the first vowel of the syllable
            text = _VOWEL_LETTER.sub(rf"\g<0>{letters.stress}", text, count=1)
        if not letters.stress:
            text = _join(text, letters)
            text = text.upper().replace("ẞ", "SS") if marked else text
        written.append(text)
    if not letters.stress:
        return re.sub(r"(?i)(?<=[aeo][ieo]r)-r", "-", "-".join(written))  # LAIR-um
    whole = _join("".join(written), letters)
    return whole[:1].upper() + whole[1:]


def _join(text: str, letters: Letters) -> str:
    for two, one in letters.joined.items():
        text = text.replace(two, one)
    if letters is LETTERS["bg"]:
        return re.sub(r"(?<=[бвгджзклмнпрстфхцчшщ])йо", "ьо", text)
    if letters is LETTERS["de"]:
        return re.sub(r"^ß", "s", text)
    if letters is LETTERS["en"]:
        text = re.sub(r"uh(?=[bdfgklmnpstvz])", "u", text)  # KLAY-vee-us
        text = re.sub(r"(?<=[a-z])eye$", "y", text)  # TY-koh
        return re.sub(r"(?<=[a-z])eye", "igh", text)
    return text
