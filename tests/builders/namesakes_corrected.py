"""Facts on namesakes that the gazetteer has wrong, short or doubtful, as a second source gives them.

Feature -> (fields of the table that change, source). A field that nobody knows is None. BEA: Biographical Encyclopedia
of Astronomers (Hockey and others, Springer 2007, 2nd edition 2014), entry of the person; DSB: Dictionary of Scientific
Biography (Gillispie, Scribner 1970-1980). What is marked "from memory" was written from that work without opening it.
"""

from __future__ import annotations

from typing import Any

CORRECTED: dict[str, tuple[dict[str, Any], str]] = {
    "Alexander": ({"nations": ["Macedonian"], "occupations": ["ruler"]}, "Encyclopaedia Britannica, from memory"),
    "Almanon": (
        {"given": "", "surname": "al-Ma'mun", "nations": ["Arab"], "occupations": ["ruler"], "about": ""},
        "BEA, caliph in Baghdad; from memory",
    ),
    "Ansgarius": (
        {"nations": ["Frankish"], "occupations": ["bishop"], "born": 801, "died": 865, "about": ""},
        "Encyclopaedia Britannica (archbishop of Hamburg, missionary), from memory",
    ),
    "Aristoteles": ({"born": -384, "occupations": ["philosopher"]}, "DSB (384 to 322 BC), from memory"),
    "Cleomedes": (
        {"born": None, "died": None, "flourished": None, "about": ""},
        "DSB: between the first century BC and the second AD, others say the fourth",
    ),
    "Cyrillus": (
        {"surname": "Saint Cyril of Alexandria", "occupations": ["bishop"], "born": 376, "died": 444, "about": "b"},
        "The Coptic Encyclopedia: patriarch of Alexandria 412 to 444",
    ),
    "Dionysius": (
        {"given": "", "surname": "Saint Dionysius the Areopagite", "occupations": ["bishop"]},
        "Acts of the Apostles 17:34; bishop by tradition (Eusebius, Church History 3.4)",
    ),
    "Eratosthenes": ({"born": -276, "died": -194, "about": "bd"}, "DSB, from memory"),
    "Fabricius": (
        {"given": "David", "surname": "Fabricius", "nations": ["German"]},
        "BEA (born at Esens, Frisia), from memory",
    ),
    "Gutenberg": (
        {"given": "Johannes", "surname": "Gutenberg", "born": 1400, "about": "b"},
        "Encyclopaedia Britannica, from memory",
    ),
    "Hagecius": (
        {"given": "Tadeáš", "surname": "Hájek", "nations": ["Czech"], "occupations": ["physician", "astronomer"]},
        "BEA, from memory",
    ),
    "Hippalus": (
        {"nations": ["Greek"], "occupations": ["navigator"], "died": None, "flourished": None, "about": ""},
        "Periplus of the Erythraean Sea, 57, which gives no date",
    ),
    "Langrenus": (
        {"given": "Michael Florent", "nations": ["Flemish"], "born": 1598, "about": ""},
        "baptised in Amsterdam on 27 April 1598: P. van der Krogt, Cartographica Helvetica 11 (1995)",
    ),
    "Manilius": ({"occupations": ["writer"], "died": None, "flourished": 10, "about": "f"}, "BEA: flourished Rome, 10"),
    "Mercator": ({"given": "Gerard", "nations": ["Flemish"]}, "DSB (Rupelmonde, Flanders), from memory"),
    "Ptolemaeus": ({"born": 100, "died": 170, "about": "bd"}, "DSB, from memory"),
    "Schiller": (
        {"born": 1580, "died": 1627, "flourished": None, "about": "b", "occupations": ["jurist", "cartographer"]},
        "BEA (died Augsburg 1627); birth from memory",
    ),
    "Stevinus": ({"nations": ["Flemish"]}, "DSB (Bruges), from memory"),
    "Thebit": (
        {"nations": ["Mesopotamian"], "occupations": ["astronomer", "mathematician"]},
        "DSB (Harran in Mesopotamia, Baghdad), from memory",
    ),
    "Theophilus": (
        {
            "surname": "Saint Theophilus of Alexandria",
            "nations": ["Egyptian"],
            "occupations": ["bishop"],
            "died": 412,
            "about": "",
        },
        "M. L. Bierbrier, Historical Dictionary of Ancient Egypt: patriarch of Alexandria, died 412",
    ),
    "Vieta": ({"given": "François", "surname": "Viète"}, "DSB, from memory"),
}
