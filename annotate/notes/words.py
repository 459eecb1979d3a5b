"""Words of the notes that stand in tables: what a message catalogue must have beside the templates."""

from __future__ import annotations

from collections.abc import Iterator

from moondesk.moon.catalogue import all_features
from moondesk.notes.comparisons import CITIES
from moondesk.notes.earth_places import PLACES
from moondesk.notes.feature_notes import FRACTIONS
from moondesk.notes.moon_notes import PHASES
from moondesk.notes.namesakes import namesakes, nations, occupations
from moondesk.notes.ranks import ORDINALS
from moondesk.notes.themes import KIND_THEMES


def words_of_notes() -> Iterator[str]:
    """Every Term that the notes may hold but kinds of features: fractions, ordinals, phases, directions,
    occupations, nations, cities, places on the Earth, meanings of names, titles. Each once."""
    births = (n for f in all_features() for p in namesakes(f.name) for n in p.nations if n.endswith("-born"))
    words = (
        *(word for _, word in FRACTIONS), *ORDINALS[2:], *PHASES.values(), *(title for _, title, _ in KIND_THEMES),
        "north", "south", "east", "west", *occupations(), *nations(), *births, *CITIES, *PLACES.values(),
        *(f.meaning for f in all_features() if f.meaning),
    )  # fmt: skip
    return iter(dict.fromkeys(words))
