"""Places on the Earth after which features are named.

The places are those that the IAU/USGS gazetteer gives as the origins of the names (public domain; read 2026-11); what
they are called today, or where they lie, is added where the gazetteer or any atlas says so.
"""

from __future__ import annotations

#: English, as the end of "It is named after ...".
PLACES: dict[str, str] = {
    "Mons Argaeus": "Mount Argaeus in Asia Minor, today Erciyes",
    "Mons Piton": "Mount Piton on Tenerife",
    "Mons Tai": "Mount Tai in China",
    "Mont Blanc": "Mont Blanc in the Alps",
    "Montes Alpes": "the Alps",
    "Montes Apenninus": "the Apennines in Italy",
    "Montes Carpatus": "the Carpathians",
    "Montes Caucasus": "the Caucasus",
    "Montes Haemus": "a mountain range of the Balkans",
    "Montes Jura": "the Jura Mountains between France and Switzerland",
    "Montes Pyrenaeus": "the Pyrenees",
    "Montes Riphaeus": "the Riphaean Mountains of old maps, today the Urals",
    "Montes Taurus": "the Taurus Mountains in Turkey",
    "Montes Teneriffe": "the island of Tenerife",
    "Promontorium Agarum": "a cape on the Sea of Azov",
    "Promontorium Archerusia": "a cape on the Black Sea",
    "Promontorium Taenarium": "Cape Matapan in Greece",
    "Rupes Altai": "the Altai Mountains in Asia",
}
