"""Words of the notes that stand in tables: what a message catalogue must have beside the templates."""

from __future__ import annotations

from collections.abc import Iterator

from annotate.moon.catalogue import features
from annotate.notes.about import FRACTIONS
from annotate.notes.comparisons import CITIES
from annotate.notes.earthly import PLACES
from annotate.notes.namesakes import namesakes, nations, occupations
from annotate.notes.ranks import ORDINALS
from annotate.notes.themes import KIND_THEMES
from annotate.notes.whole import PHASES


def words_of_notes() -> Iterator[str]:
    """Every Term that the notes may hold but kinds of features: fractions, ordinals, phases, directions,
    occupations, nations, cities, places on the Earth, meanings of names, titles. Each once."""
    births = (n for f in features() for p in namesakes(f.name) for n in p.nations if n.endswith("-born"))
    words = (
        *(word for _, word in FRACTIONS), *ORDINALS[2:], *PHASES.values(), *(title for _, title, _ in KIND_THEMES),
        "north", "south", "east", "west", *occupations(), *nations(), *births, *CITIES, *PLACES.values(),
        *(f.meaning for f in features() if f.meaning),
    )  # fmt: skip
    return iter(dict.fromkeys(words))
