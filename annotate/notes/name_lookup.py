"""The feature that somebody means: IAU names, English ones of seas and ranges, and small slips of the pen."""

from __future__ import annotations

import difflib
import re
from functools import cache

from moondesk.moon.catalogue import all_features, fold_name, named
from moondesk.records import Feature

#: English names in use beside the catalogue's own meanings.
ENGLISH = {
    "sea of showers": "Mare Imbrium", "sea of tranquility": "Mare Tranquillitatis", "sea of vapors": "Mare Vaporum",
    "sea of fecundity": "Mare Fecunditatis", "sea of nectar": "Mare Nectaris", "sea of humours": "Mare Humorum",
    "sea of the edge": "Mare Marginis", "border sea": "Mare Marginis", "eastern sea": "Mare Orientale",
    "known sea": "Mare Cognitum", "sea of foam": "Mare Spumans", "seething bay": "Sinus Aestuum",
    "bay of billows": "Sinus Aestuum", "bay of the centre": "Sinus Medii", "middle bay": "Sinus Medii",
    "lunar apennines": "Montes Apenninus", "apennine mountains": "Montes Apenninus", "lunar alps": "Montes Alpes",
    "carpathian mountains": "Montes Carpatus", "caucasus mountains": "Montes Caucasus",
    "haemus mountains": "Montes Haemus", "alpine valley": "Vallis Alpes", "straight wall": "Rupes Recta",
    "schroter s valley": "Vallis Schröteri", "sea of moscow": "Mare Moscoviense", "sea of serenity": "Mare Serenitatis",
}  # fmt: skip
#: A name that is not found as it is typed is taken for the one nearest, if it is this near and the next is further off
#: by that (ratios of `difflib`).
NEAR, APART = 0.8, 0.04
_BEFORE = re.compile(r"^(?:the|lunar|crater|feature|mountains?|mount)\s+", re.IGNORECASE)
_AFTER = re.compile(r"\s+(?:crater|craters)$", re.IGNORECASE)


def feature_meant(text: str) -> Feature | tuple[str, ...]:
    """The feature; where nothing, or more than one thing, is near, names of what may be meant (none, or some)."""
    told = text.strip(" .,!?\"'“”")
    plain = told
    while (shorter := _AFTER.sub("", _BEFORE.sub("", plain))) != plain:
        plain = shorter
    for form in (told, plain):
        found = named(ENGLISH.get(fold_name(form), form))
        if found is not None:
            return found
    return _nearest(fold_name(plain))


def _nearest(key: str) -> Feature | tuple[str, ...]:
    forms = _forms()
    near = difflib.get_close_matches(key, forms, n=6, cutoff=0.7) if len(key) > 2 else []
    scored: dict[str, float] = {}
    for form in near:
        name = forms[form]
        scored[name] = max(scored.get(name, 0.0), difflib.SequenceMatcher(None, key, form).ratio())
    ranked = sorted(scored, key=lambda n: -scored[n])
    if ranked and scored[ranked[0]] >= NEAR and (len(ranked) == 1 or scored[ranked[0]] - scored[ranked[1]] >= APART):
        found = named(ranked[0])
        if found is not None:
            return found
    return tuple(ranked[:3])


@cache
def _forms() -> dict[str, str]:
    """Folded names and English meanings of what is named on the near side, to IAU names."""
    forms = dict(ENGLISH)
    for f in all_features():
        if f.parent is None and abs(f.lon_deg) < 100 and f.size_km >= 10:
            forms.setdefault(fold_name(f.name), f.name)
            if f.meaning:
                forms.setdefault(fold_name(f.meaning), f.name)
    return forms
