"""How somebody is to be named, in a letter's words: as they ask, who took the picture, or that no name is said. Pure.

What is asked for beats a labelled field, this who took it ("my wife X"), and this how the writer calls herself. Two
different names of the same rank give none: nothing tells which.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from moondesk.service.gazetteer.towns import is_listed, towns_named
from moondesk.service.lexicons.lexicon import Lexicon, codes_by_script, lexicon, lexicons
from moondesk.service.programme.letter.asked_names import starts_asked
from moondesk.service.programme.letter.fields import read_fields
from moondesk.service.programme.letter.learnt_names import weigh_names
from moondesk.service.programme.letter.name_signs import key_of
from moondesk.service.programme.letter.plain import lunar_names
from moondesk.service.programme.letter.told_names import is_none, name_told
from moondesk.service.programme.letter.tongues import languages_of, languages_of_sentence
from moondesk.service.programme.mail_text import sentences

NAME_CHARACTERS, NAME_WORDS = 80, 7
#: In "Big Kev from the allotments", behind "from".
FROM_WORDS = 3
#: From so many people on a town's name is seldom a person's that no list has.
LARGE = 15_000
#: The rank of what is asked for, and of what who writes calls herself.
ASKED, OWN = 0, 4
#: How likely a name must be that is asked for in quotation marks, or a part of it: what they stand round is what is wanted.
QUOTED_BAR = 0.5
#: In place of a rank.
NONE, COMPETING = -1, -2
#: No more of a sentence is read.
LONGEST = 500


@dataclass(frozen=True)
class Credit:
    """name: as asked for, "" where none is; unnamed: asks not to be named; words: the sentence that says so."""

    name: str = ""
    unnamed: bool = False
    words: str = ""
    #: Why it is not known whom to name, for the presenter.
    doubt: str = ""


#: Initials and titles keep their full stop: "Ilse K.", "Dr. Bo Lind".
_COMMA = "\u201a"
_LEADER = "\u2024"  # a full stop to the eye and none to the rule that parts sentences
_STOP_KEPT = re.compile(
    r"(?<![\w\u0900-\u0963])([^\W\d_]|Dr|Prof|St|Jr|Sr|Mr|Mrs|Ms|e\. ?V|Dra|Sra|Fr|Hr|RA|RAin|Ing|Mag|Lic|Dipl|Adv|डॉ|श्री|प्रा|ॲड|एड|адв|инж|доц|проф|г-н|г-жа|ст|хр|ив|вл|ал|ат|ас|[^\W\d_][\u0900-\u0963])\.",
    re.IGNORECASE,
)
_QUOTED = re.compile(
    r"^\W{0,3}?[\"\u201c\u201e\u00ab'\u2018\u300c\u300e](.{1,80}?)[\"\u201d\u201c\u00bb'\u2019\u300d\u300f](?:\W|$|(?=[^\x00-\u2fff]))"
)
_OPENING = re.compile("[\"'\u300c\u300e]")  # as folded: a quotation mark that was taken for space
_ENDS = re.compile(r"\s*(?:[.;!?:(\[\n/|\u3002\uff08\u0964\u061f\u060c\u3001]|,|\s[-\u2013\u2014]\s).*$", re.DOTALL)
_MARKS = '"\u201c\u201e\u00ab\u2018'
#: A club's name, of which a part stands in quotation marks.
_GROUP = re.compile(
    r"(?=[^\W\d_])\w+(?: \w+){0,3} [\"\u201c\u201e\u00ab][^\"\u201c\u201d\u00bb]{2,40}[\"\u201c\u201d\u00bb]"
)
_ARTICLE = "\u0627\u0644"
#: One word, as people call themselves on the net.
_NICKNAME = re.compile(r"[^\W\d_]{4,}[\w.-]*")


def read_credit(text: str, sender: str = "") -> Credit:
    """The credit that a letter asks for or tells, as rules propose and what was learnt judges; empty where it tells none, or
    none is likely enough. sender: the name of the mail's From line."""
    ruled, rank = rule_of(text)
    weighed = weigh_names(text, sender, ruled.name, rank)
    if ruled.unnamed:
        return ruled
    if rank == COMPETING:
        return ruled
    if weighed.chance >= weighed.bar:
        return ruled if key_of(weighed.name) == key_of(ruled.name) else Credit(weighed.name, False, weighed.words)
    if rank == ASKED and _is_quoted(ruled) and weighed.within >= QUOTED_BAR:
        return ruled  # a part of it, as likely, is no other name
    if weighed.unnamed >= weighed.bar_unnamed:
        return Credit("", True, weighed.unnamed_words)
    return Credit()


def _is_quoted(ruled: Credit) -> bool:
    """Whether a name stands between quotation marks in its sentence."""
    at = ruled.words.find(ruled.name)
    return at > 0 and ruled.words[at - 1] in _MARKS + "\u300c\u300e"


def credit_by_rules(text: str) -> Credit:
    """The same by the languages' listed ways alone."""
    return rule_of(text)[0]


def rule_of(text: str) -> tuple[Credit, int]:
    """The same, and by which kind of way: 0 to `OWN`, the surest first; `COMPETING` where two are, `NONE`
    where none is."""
    ranks: tuple[dict[str, str], ...] = ({}, {}, {}, {}, {})
    mail = languages_of(text)
    for sentence in sentences(_STOP_KEPT.sub(rf"\1{_LEADER}", text)):
        sentence = sentence[:LONGEST]
        plain = sentence.replace(_LEADER, ".")
        words = _lexicons(sentence, mail)
        if any(_asks_no_name(sentence, one) for one in words) and not (
            any(_is_of_surname(sentence, one) for one in words)
            and (_name_in(sentence, words, "named") or _name_in(sentence, words, "cues"))
        ):
            return Credit("", True, plain), NONE
        asked = _name_in(sentence, words, "cues")
        for rank, keys in ((0, ("named",)), (1, ("cues",)), (3, ("told", "taken_by")), (4, ("self",))):
            if rank and plain.rstrip().endswith("?"):
                continue  # "do you know Bo Lind?"
            name = next(filter(None, (_name_in(sentence, words, key) for key in keys)), "")
            if name and not _is_no_person(name, words, town=rank == OWN):
                name = _without_town(name, words) if rank == OWN else name
                name = asked if rank == 0 and set(name.split()) < set(asked.split()) else name
                ranks[rank].setdefault(name, plain)
    for field in read_fields(text, _lexicons_of_labels(text, mail)):
        if field.what == "name" and (name := cut_name(field.value, lexicon(field.code), labelled=True)):
            ranks[2].setdefault(name, field.line)
    for rank, found in enumerate(ranks):
        if not found:
            continue
        name = max(found, key=lambda one: len(one.split()))  # of "Ann" and "Ann Lee" the whole
        if all(set(other.split()) <= set(name.split()) for other in found):
            return Credit(name, False, found[name]), rank
        return Credit(), COMPETING
    return Credit(), NONE


def _without_town(name: str, words: tuple[Lexicon, ...]) -> str:
    """Of "Ann from Averim" the name."""
    pieces = name.split()
    for k, piece in enumerate(pieces[1:-1], 1):
        joins = any(_bare(piece, one) in one.words("credit", "joins") for one in words)
        if joins and towns_named(" ".join(pieces[k + 1 :])):
            return " ".join(pieces[:k])
    return name


def _is_no_person(name: str, words: tuple[Lexicon, ...], town: bool) -> bool:
    """Whether a single word that is no first name is a crater's, a day's, a month's; or a town's, as in "I am from Averim"."""
    one = words[0]
    folded = one.fold(name).text
    if len(name.split()) > 1 or any(w.is_first_name(folded) for w in lexicons().values()):
        return False
    times = (one.table.get("time", {}).get(key, {}) for key in ("weekdays", "months"))
    return (
        name.casefold() in lunar_names()
        or any(folded in str(said).split() for table in times for said in table.values())
        or (town and any(one.people >= LARGE for one in towns_named(name)))
    )


def _lexicons_of_labels(text: str, mail: tuple[str, ...]) -> tuple[Lexicon, ...]:
    """A form's few words may be too few to tell its language: then any that writes so."""
    if mail:
        return _lexicons(text, mail)
    return tuple(lexicon(code) for code in lexicons() if lexicon(code).may_write(text))


def _lexicons(sentence: str, mail: tuple[str, ...]) -> tuple[Lexicon, ...]:
    told = (*languages_of_sentence(sentence, mail), *mail)
    codes = dict.fromkeys((*(told or codes_by_script(sentence)), "en"))
    return tuple(lexicon(code) for code in codes if code in lexicons())


def _asks_no_name(sentence: str, words: Lexicon) -> bool:
    return bool(words.search("credit", "unnamed")(words.fold(sentence).text))


def _is_of_surname(sentence: str, words: Lexicon) -> bool:
    """Whether it asks to leave out no more than the family name."""
    folded = words.fold(sentence).text
    rest = words.without(folded, "credit", "surname")
    return rest != folded and not words.search("credit", "unnamed")(rest)


def _name_in(sentence: str, words: Iterable[Lexicon], key: str) -> str:
    for one in words:
        folded = one.fold(sentence)
        if key == "told":
            if (name := _whole(name_told(sentence, one))) and _is_likely(name, one):
                return name
            continue
        if key == "cues":
            names = {cut_name(sentence[start:], one, True) for start in starts_asked(sentence, one)} - {""}
            if len(names) == 1 and not _is_odd(name := names.pop(), sentence, one):
                return name
            continue
        for pattern in one.each("credit", key):
            for match in pattern.finditer(folded.text):
                start, end = match.span("name")
                start -= len(_OPENING.findall(folded.text[max(0, start - 2) : start]))
                name = (
                    cut_name(folded.words(start, end), one, key == "named", whole=key == "self")
                    if match["name"]
                    else ""
                )
                if name and not _is_odd(name, sentence, one) and (key == "named" or _is_likely(name, one)):
                    return name
    return ""


def _is_likely(name: str, words: Lexicon) -> bool:
    """Whether a name that nobody asked for begins with a listed one, where a file wants that: any word may stand there."""
    if not words.table["credit"].get("listed"):
        return True
    first, *others = (_bare(p, words) for p in name.split())
    led = first in words.words("credit", "titles") | words.words("credit", "groups")
    return _has_case(name) or (led and bool(others)) or words.is_first_name(first)


def _is_odd(name: str, sentence: str, words: Lexicon) -> bool:
    """A word without a capital in a sentence that has one, unless it is in quotation marks or a title."""
    at = sentence.find(name)
    if (
        not words.writing.spaces
        or re.search(r"[\d_@#]", name)
        or not name[0].islower()
        or at < 0
        or not sentence.strip()[0].isupper()
        or sentence[at - 1 : at] in tuple("\"'\u201c\u201e\u00ab\u2018 "[:-1])
    ):
        return False
    return _bare(name.split()[0], words) not in words.words("credit", "titles")


def cut_name(text: str, words: Lexicon, asked: bool = False, labelled: bool = False, whole: bool = False) -> str:
    """The name at the start of a text: quoted, or up to where the sentence goes on; "" where no name stands there.

    In scripts with capitals a name goes on as long as its words have one, or join such ("von", "de la", "from"); one that
    was typed without capitals is its first word. asked: a town may end it, behind a comma.
    """
    text = _STOP_KEPT.sub(rf"\1{_LEADER}", text).strip(" -\u2013\u2014:,")
    if quoted := _QUOTED.match(text):
        head, _, town = quoted.group(1).partition(",")
        return _whole(head if is_listed(town) else quoted.group(1))
    if asked and text[:1].isupper() and (group := _GROUP.match(text)):
        return group.group(0)
    if not words.writing.spaces:
        name = _whole(_until_stop(_ENDS.sub("", text), words))
        return "" if words.fold(name).text in words.words("credit", "never") else name
    kept: list[str] = []
    joins, stops = words.words("credit", "joins"), words.words("credit", "stops")
    never = words.words("credit", "never")
    pieces = _ENDS.sub("", _keep_town(text) if asked else text).split()
    caseless = pieces and not _has_case(pieces[0]) and pieces[0][0].isalpha()
    if not labelled and (caseless or not any(map(_has_case, pieces))):
        name = _whole(_first_unknown(pieces, words, never | stops, 3 if asked else 0))
        if whole and all(words.knows(w) and not words.is_first_name(w) for w in (_bare(p, words) for p in pieces)):
            return ""  # "I am glad" is no name
        return "" if whole and len(name.split()) < len(pieces) else name
    titles = words.words("credit", "titles")
    while asked and pieces[1:] and _is_led(pieces, words, stops | titles):
        pieces = pieces[1:]
    titled = bool(pieces[1:]) and _bare(pieces[0], words) in titles and pieces[1][0].isupper()
    cased = titled or any(piece[0].isupper() for piece in pieces[:1])
    for k, piece in enumerate(pieces[:NAME_WORDS]):
        folded = words.fold(piece).text.strip("'\"")
        capital = piece.lstrip(_MARKS)[:1].isupper() or piece[0] in "@#" or not _has_case(piece)
        capital = capital or (titled and not kept)
        following = pieces[k + 1] if k + 1 < len(pieces) else ""
        tail = pieces[k + 1 :]
        of_a_place = bool(kept) and cased and asked and folded in words.words("credit", "from")
        if of_a_place and 0 < len(tail) <= FROM_WORDS and not any(_bare(p, words) in stops - joins for p in tail):
            kept += [piece, *tail]
            break
        if kept and cased and asked and folded in words.words("credit", "and") and _may_join(following, words):
            kept.append(piece)
            continue
        joining = bool(kept) and cased and folded in joins and (not capital or _has_capital(following))
        leading = asked and not kept and piece[0].isupper() and folded in joins and _has_capital(following)
        if (folded in stops and not joining and not leading) or (folded in never and not kept and not leading):
            break
        if kept and cased and not capital:
            after = pieces[k + 2] if k + 2 < len(pieces) else ""
            leads = (
                (asked and len(pieces) - k <= 3)
                or following[:1].isupper()
                or (words.fold(following).text in joins and (after[:1].isupper() or bool(after)))
            )
            if folded not in joins or not leads:
                break
        if kept and not cased and _has_case(piece):
            break
        if kept and _has_case(kept[0]) and piece[0].isalpha() and not _has_case(piece):
            break  # a script without capitals goes on behind a name in Latin letters
        kept.append(piece)
    while kept and words.fold(kept[-1]).text in joins:
        kept.pop()
    name = " ".join(kept)
    typed_small = bool(kept) and _has_case(kept[0]) and not cased and kept[0][0] not in "@#"
    listed = typed_small and (words.is_first_name(_bare(kept[0], words)) or any(c.isdigit() for c in kept[0]))
    if typed_small and not listed and (words.knows(words.fold(kept[0]).text) or re.search("['\u2019]", kept[0])):
        return ""  # "credit me as you wish" names nobody
    return _whole(name)


def _bare(word: str, words: Lexicon) -> str:
    return words.fold(word).text.strip("'\"\u2024.")


def _is_led(pieces: list[str], words: Lexicon, out: frozenset[str]) -> bool:
    """Whether a known small word stands before the name that was asked for."""
    first = _bare(pieces[0], words)
    return (
        not pieces[0][0].isupper() and words.knows(first) and first not in out and any(map(_has_capital, pieces[1:3]))
    )


def _may_join(word: str, words: Lexicon) -> bool:
    """Whether a word behind "and" is the next name of one credit."""
    bare = _bare(word, words)
    return _has_capital(word) and not is_none(words, bare) and (len(bare) > 1 or _LEADER in word)


def _has_capital(word: str) -> bool:
    return word[:1].isupper()


def _first_unknown(pieces: list[str], words: Lexicon, out: frozenset[str], skip: int) -> str:
    """In a script without capitals: the first words that the language does not know, and a title before them."""
    titles = words.words("credit", "titles")
    if pieces[1:] and _bare(pieces[0], words) in words.words("credit", "groups"):  # "the Pleiades Society"
        stop = next(
            (k for k, p in enumerate(pieces[1:], 1) if not p.startswith(_ARTICLE) and p != pieces[1]), len(pieces)
        )
        return " ".join(pieces[:stop])
    if not skip and len(pieces) < 3 and not any(is_none(words, _bare(p, words)) for p in pieces):
        return " ".join(pieces)
    for k, piece in enumerate(pieces[: skip + 2]):
        before = [_bare(p, words) for p in pieces[:k]]
        if k > skip and not all(b in titles for b in before):
            break
        if _is_name_word(piece, words, out):
            end = k + 1
            while end < min(len(pieces), k + NAME_WORDS) and not _has_clitic(pieces[end - 1], words):
                joined = _bare(pieces[end], words) in words.words("credit", "and") and end + 1 < len(pieces)
                if joined and words.is_first_name(_bare(pieces[end + 1], words)):
                    end += 1
                followed = _bare(pieces[end], words) in words.words("credit", "tails")  # "Lallan Kaka"
                if not followed and not _is_name_word(pieces[end], words, out):
                    break
                end += 1
            start = k - 1 if k and _bare(pieces[k - 1], words) in titles else k
            return _without_clitic(" ".join(pieces[start:end]), words)
    first = [p for p in pieces[:3] if _bare(p, words) not in out]
    return " ".join(first[:2]) if first[1:] and _bare(first[0], words) in titles else ""


def _without_clitic(name: str, words: Lexicon) -> str:
    """A name without what is joined to its last word, where a listed one is left."""
    for clitic in sorted(words.words("credit", "clitics"), key=len, reverse=True):
        if name.endswith(clitic) and words.is_first_name(words.fold(name.split()[-1]).text.removesuffix(clitic)):
            return name.removesuffix(clitic)
    return name


def _has_clitic(piece: str, words: Lexicon) -> bool:
    """Whether a listed name has an ending that is stuck to it: behind it the name has ended."""
    bare = _bare(piece, words)
    return bare not in words.first_names and words.is_first_name(bare)


def _is_name_word(piece: str, words: Lexicon, out: frozenset[str]) -> bool:
    folded = _bare(piece, words)
    joined = next((a for a in words.words("credit", "joined") if folded.startswith(a)), "")
    if words.is_first_name(folded) and folded not in out:
        return True
    if joined and words.is_first_name(folded.removeprefix(joined)):
        return True
    return _LEADER in piece or (folded not in out and not words.knows(folded) and bool(folded))


def _keep_town(text: str) -> str:
    """Let the comma of "Ann Lee, Averim" pass where nothing but capitals and what joins them follow it."""
    return re.sub(r"^([^,.;:!?]{2,60}), ((?:[^\W\d_]{1,4} ){0,2}[^\W\d_][\w'\u2019-]*)[.!]?\s*$", _join_town, text)


def _join_town(match: re.Match[str]) -> str:
    town = match.group(2).split()
    return f"{match.group(1)}{_COMMA} {match.group(2)}" if town[-1][0].isupper() else match.group(0)


def _has_case(word: str) -> bool:
    return any(c.lower() != c.upper() for c in word)


def _until_stop(text: str, words: Lexicon) -> str:
    """Of a script without spaces: up to the first word that ends a name."""
    folded = words.fold(text)
    match = words.search("credit", "ends")(folded.text)
    return text if match is None else text[: folded.span(match.start(), match.start())[0]]


def _whole(name: str) -> str:
    name = (
        name.replace(_LEADER, ".")
        .replace(_COMMA, ",")
        .strip(" ,:\"'\u00ab\u00bb\u300c\u300d-\u2013")
        .removesuffix(" .")
    )
    shortest = 1 if "\u4e00" <= name[:1] <= "\u9fff" else 2  # a first name may be one Chinese character
    if not shortest <= len(name) <= NAME_CHARACTERS or not any(c.isalpha() for c in name):
        return ""
    return name if not any(c.isdigit() for c in name) or name[0] in "@#" or _NICKNAME.fullmatch(name) else ""
