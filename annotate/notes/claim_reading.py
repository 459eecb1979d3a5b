"""A sentence read into claims: what is said of what, by the forms in `data/claim_forms.toml`.

    "Plato, Archimedes and Tycho are lit" -> (Claim(kind state, subjects three),)
    "Tycho is 85 km wide, and Plato is larger than that" -> two claims, the second with the subject of the first

A sentence is cut at commas and "and"s so that every piece is a claim; a piece without a subject of its own speaks of the
one before. What is left over of words that nobody reads makes a claim `loose`.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources

from moondesk.notes.claim_words import Amount, ClaimWords, Item, Unit, guess_features, items_of, languages
from moondesk.records import Feature

DIRECTIONS = ("north_east", "north_west", "south_east", "south_west", "north", "south", "east", "west")
PHASE_TAGS = ("phase_new", "phase_first", "phase_full", "phase_last", "half_moon")
#: Classes that change what is said: a form whose check does not take one into account leaves the claim loose.
_WEIGHTY = {
    "not", "if", "tomorrow", "yesterday", "deepest", "deep", "crashed", "nation", "occupation", "waxing", "waning",
    "crescent", "gibbous", "largest", "smallest", "larger", "smaller", "times", *PHASE_TAGS}  # fmt: skip
_GROUPS = {"directions": {*DIRECTIONS}, "phases": set(PHASE_TAGS)}
#: Pieces of a sentence beyond which nobody looks for claims.
_MOST_PIECES = 9


@dataclass(frozen=True, kw_only=True)
class Claim:
    """One claim. subjects: of which it is said; others: what they are measured against; loose: words not read."""

    kind: str
    items: tuple[Item, ...]
    tags: frozenset[str]
    subjects: tuple[Feature, ...]
    others: tuple[Feature, ...] = ()
    amounts: tuple[Amount, ...] = ()
    loose: tuple[str, ...] = ()
    text: str = ""

    def amount(self, *units: Unit) -> Amount | None:
        return next((a for a in self.amounts if a.unit in units), None)

    def has(self, *tags: str) -> bool:
        return any(t in self.tags for t in tags)

    @property
    def direction(self) -> str:
        """The compass point that is named; "" without one."""
        return next((d for d in DIRECTIONS if d in self.tags), "")


@dataclass(frozen=True)
class Form:
    kind: str
    needs: tuple[tuple[str, ...], ...]
    never: frozenset[str]
    uses: frozenset[str]


@cache
def forms() -> tuple[Form, ...]:
    text = (resources.files("moondesk.notes") / "data" / "claim_forms.toml").read_text(encoding="utf-8")
    found = []
    for row in tomllib.loads(text)["form"]:
        needs = tuple(tuple(n.split("|")) for n in row["needs"].split())
        uses = {u for word in row.get("uses", "").split() for u in _GROUPS.get(word, {word})}
        uses |= {tag for need in needs for tag in need}
        found.append(Form(row["kind"], needs, frozenset(row.get("never", "").split()), frozenset(uses)))
    return tuple(found)


@dataclass(frozen=True)
class Reading:
    """What was read of a sentence. claims: in order; unread: pieces that are none; features: all that it names."""

    claims: tuple[Claim, ...]
    unread: tuple[str, ...]
    features: tuple[Feature, ...]


def read_claims(text: str) -> Reading:
    """The best reading of a sentence in any language that has a list."""
    readings = [_read(text, words) for words in languages()]
    return min(
        readings, key=lambda r: (not r.claims, len(r.unread), sum(len(c.loose) for c in r.claims), -len(r.claims))
    )


def _read(text: str, words: ClaimWords) -> Reading:
    items = items_of(text, words)
    if not any(i.feature for i in items):
        items = guess_features(items)
    pieces = _pieces(items)
    found = _best(tuple(pieces), (), {})
    claims, unread = found
    return Reading(claims, unread, tuple(dict.fromkeys(i.feature for i in items if i.feature)))


def _pieces(items: tuple[Item, ...]) -> list[tuple[Item, ...]]:
    """A sentence cut at commas and conjunctions; the "and" of "between A and B" cuts nothing."""
    pieces: list[list[Item]] = [[]]
    open_between, commas = False, 0
    for item in items:
        commas += "comma" in item.tags
        if "between" in item.tags:
            open_between = True
        if "split" in item.tags:
            if open_between and "comma" not in item.tags:
                open_between = False
            elif pieces[-1]:
                pieces.append([])
            continue
        pieces[-1].append(replace(item, clause=commas))
    found = [tuple(p) for p in pieces if p]
    while len(found) > _MOST_PIECES:
        found[-2:] = [found[-2] + found[-1]]
    return found


_Found = tuple[tuple[Claim, ...], tuple[str, ...]]


def _best(pieces: tuple[tuple[Item, ...], ...], before: tuple[Feature, ...], memo: dict[object, _Found]) -> _Found:
    """The reading with the fewest pieces and words unread, and then with the most claims."""
    if not pieces:
        return (), ()
    key = (len(pieces), before)
    if key in memo:
        return memo[key]
    options: list[_Found] = []
    for n in range(1, len(pieces) + 1):
        group = tuple(i for p in pieces[:n] for i in p)
        claim = _claim(group, before)
        if claim is None:
            continue
        claims, unread = _best(pieces[n:], claim.subjects or before, memo)
        options.append(((claim, *claims), unread))
    named = tuple(i.feature for i in pieces[0] if i.feature)
    claims, unread = _best(pieces[1:], named or before, memo)
    quiet = all(i.harmless for i in pieces[0]) or (bool(named) and not claims)
    options.append((claims, unread if quiet and not named else (" ".join(i.text for i in pieces[0]), *unread)))
    best = min(options, key=lambda o: (len(o[1]), sum(len(c.loose) for c in o[0]), -len(o[0])))
    memo[key] = best
    return best


def _claim(items: tuple[Item, ...], before: tuple[Feature, ...]) -> Claim | None:
    """A piece as a claim, of its own subject or of the one before."""
    own = tuple(i.feature for i in items if i.feature)
    tags = _tags(items)
    if before and not own and not tags & {"moon", "edge", *PHASE_TAGS}:
        return _fit(items, before, before) or _fit(items, own, ())
    return _fit(items, own, ()) or (_fit(items, (*before[:1], *own), before[:1]) if before and own else None)


def _tags(items: tuple[Item, ...]) -> set[str]:
    found: set[str] = set()
    for k, item in enumerate(items):
        found |= item.tags
        if item.amount is not None:
            found.add(item.amount.unit)
        follow = next((i for i in items[k + 1 :] if not ("of" in i.tags and len(i.text) < 5)), None)
        if item.tags & {*DIRECTIONS, "left", "right", "above", "beneath"} and follow is not None:
            joined = (k + 1 < len(items) and "of" in items[k + 1].tags) or item.tags & {"ends_of"}
            if joined and follow.feature is not None:
                found.add("dir_of")
        if (
            "only" in item.tags
            and k + 1 < len(items)
            and items[k + 1].feature
            and sum(bool(i.feature) for i in items) > 1
        ):
            found.add("if")
        if "named" in item.tags and any(i.unread or i.feature for i in items[k + 1 :]):
            found.add("person")
        if item.rank:
            found.add("ordinal")
    return found


def _fit(items: tuple[Item, ...], features: tuple[Feature, ...], inherited: tuple[Feature, ...]) -> Claim | None:
    units = [i.amount.unit for i in items if i.amount]
    if any(units.count(u) > 2 for u in units):
        return None
    tags = _tags(items)
    places = [f for f in features if f.kind != "landing site"]
    if features:
        tags.add("feature")
    for n in (2, 3):
        if len(features) >= n:
            tags.add(f"feature{n}")
    if len(places) < len(features):
        tags.add("site")
    for form in forms():
        if all(any(t in tags for t in need) for need in form.needs) and not (form.never & tags):
            return _build(form, items, features, inherited, frozenset(tags))
    return None


def _build(form: Form, items: tuple[Item, ...], features: tuple[Feature, ...], inherited: tuple[Feature, ...],
           tags: frozenset[str]) -> Claim:  # fmt: skip
    subjects, others = _roles(form.kind, items, features, inherited)
    loose = [i.text for i in items if i.unread and form.kind != "namesake"]
    negated = form.kind in ("orientation",) and "not" in tags
    for item in items:
        heavy = item.tags & _WEIGHTY
        if heavy and not (heavy & form.uses) and not item.tags & form.uses and not (
            (heavy == {"not"} and (negated or _negates(form.kind))) or item.harmless):  # fmt: skip
            loose.append(item.text)
        if item.amount is not None and item.amount.unit not in form.uses and item.amount.unit != "number":
            loose.append(item.text)
    if _negates(form.kind):
        loose += _other_clauses_no(form, items)
    amounts = tuple(i.amount for i in items if i.amount)
    return Claim(kind=form.kind, items=items, tags=tags, subjects=subjects, others=others, amounts=amounts,
                 loose=tuple(dict.fromkeys(loose)), text=" ".join(i.text for i in items))  # fmt: skip


def _negates(kind: str) -> bool:
    """Whether "not" turns a claim of this kind round."""
    return kind in ("state", "edge_on", "seen", "beside", "orientation", "truth", "rank", "inside", "newly", "when")


def _other_clauses_no(form: Form, items: tuple[Item, ...]) -> list[str]:
    """A "not" that a comma parts from the words it would turn round: "it hasn't seen the Sun yet, it is still dark"."""
    deciding = {t for need in form.needs for t in need} - {"feature", "feature2", "feature3", "site"}
    decided = {item.clause for item in items if item.tags & deciding}
    return [item.text for item in items if "not" in item.tags and decided and item.clause not in decided]


def _roles(kind: str, items: tuple[Item, ...], features: tuple[Feature, ...], inherited: tuple[Feature, ...],
           ) -> tuple[tuple[Feature, ...], tuple[Feature, ...]]:  # fmt: skip
    """Of which it is said, and what they are compared with: that after "than", "of", "between", "near", "as"."""
    if kind in ("edge_between", "edge_beside"):
        return (), features
    if kind == "namesake":
        first = next((k for k, i in enumerate(items) if "named" in i.tags), len(items))
        early = tuple(i.feature for i in items[:first] if i.feature)
        return (early or features[:1]), ()
    if kind == "landing":
        sites = tuple(f for f in features if f.kind == "landing site")
        return sites[:1], tuple(f for f in features if f not in sites[:1])
    marks = {
        "compare": {"than", "as_wide", "times"}, "beside": set(), "between": {"between"}, "near": {"near"},
        "shore": {"shore"}, "inside": {"inside"}, "apart": {"apart"}}.get(kind)  # fmt: skip
    if marks is None or len(features) < 2:
        return features, ()
    pointer = {"than", "as_wide", "times"} if kind == "compare" else marks
    if kind == "beside":
        pointer = {*DIRECTIONS, "left", "right", "above", "beneath"}
    own = list(inherited)
    others: list[Feature] = []
    after = False
    last = max((k for k, i in enumerate(items) if i.tags & pointer), default=-1)
    for k, item in enumerate(items):
        after = after or k >= last
        if item.feature is None:
            continue
        if after and last >= 0:
            others.append(item.feature)
        else:
            own.append(item.feature)
    if not own and len(others) > 1 and kind != "between":  # "south of Plato lies Archimedes"
        return tuple(others[1:]), tuple(others[:1])
    if not own and len(others) > 2:  # "between Plato and Tycho lies Copernicus"
        return tuple(others[2:]), tuple(others[:2])
    if inherited and not others:  # "and Arzachel is smaller than that"
        return tuple(f for f in own if f not in inherited), inherited[:1]
    if not own or not others:
        return features[:-1], features[-1:]
    return tuple(dict.fromkeys(own)), tuple(others)
