"""Numbers of how results are made: what is kept of a picture is made anew where its number is not the one of today.

Whoever changes what comes out raises the number by one and says what changed; a comment, a new name or a moved file
changes none. `tests/test_golden_placements.py` fails where placements move and PLACEMENT was not raised.
"""

from __future__ import annotations

#: Where the Moon is placed, and all that an annotation says. Raised: every stored picture is placed anew (about one a
#: second), so only for what is worth it.
#:
#: 1  the first that is counted; before, a hash over the sources stood for them
#: 2  an eclipse is told by the shadow in the picture, with its state and instant
#: 3  discs down to 12 px of radius are placed, carrying seas; BMP is opened
PLACEMENT = 3

#: What is measured beside the placement and kept with it: quality, and the fingerprint by which copies are found.
#: Raised: every stored picture is placed and measured anew.
#:
#: 1  the first that is counted
MEASURES = 1

#: Lines and labels on the photograph: the labelled, the upright picture and the overlay. Raised: drawn when asked for.
#:
#: 1  the first that is counted
DRAWING = 1

#: Frames for air. Raised: painted anew when they are asked for, as are those of an evening's plan.
#:
#: 1  the first that is counted
#: 2  the lit part large and in the middle, names in columns beside it or inside their sea, lines named in a key
#: 3  with the shade of a spotlight for each feature
#: 4  a close-up of which little is lit names features where its seas have no room; the Sea of Cold ends at its shore
#: 5  a ground of its own under the foot of close-ups, lines told apart, the compass in a corner, seas before craters
#: 6  no crater ringed that is black in the photograph; grid lines of a close-up whole or left out; ranges with their kind
#: 7  close-ups lean to the light; the Sea of Crises before that of Serenity
#: 8  equator, zero meridian and the origin of longitudes are seen; terminators fade out at the foot; plate or veil, not both
FRAMES = 8

#: Photographs in a common frame, and the predicted Moon. Raised: made anew when they are asked for.
#:
#: 1  the first that is counted
#: 2  photographs brought to one tone
COMPARISON = 2

#: Heights from shadows. Raised: measured anew when they are asked for.
#:
#: 1  the first that is counted
SHADOWS = 1

#: The composite of an evening, the poster and the march of a month. Raised: made anew when they are asked for.
#:
#: 1  the first that is counted
#: 2  posters and films composed anew, at one tone, the light moving
STACKING = 2
