"""The books, papers and pages that the ideas rest on (titles and years from memory)."""

from moondesk.ideas.records import Source

SOURCEBOOK = Source(author="G. Heiken, D. Vaniman, B. French (eds.)", title="Lunar Sourcebook", year=1991)
ALGORITHMS = Source(author="J. Meeus", title="Astronomical Algorithms, 2nd ed.", year=1998)
NAMING = Source(author="E. A. Whitaker", title="Mapping and Naming the Moon", year=1999)
NASA_MOON = Source(author="NASA", title="Moon Facts (science.nasa.gov/moon/facts)", year=2024)
CANON = Source(
    author="F. Espenak, J. Meeus", title="Five Millennium Canon of Lunar Eclipses, NASA/TP-2009-214172", year=2009
)
GAZETTEER = Source(author="IAU/USGS", title="Gazetteer of Planetary Nomenclature", year=2025)
COORDINATES = Source(author="B. A. Archinal et al.", title="Report of the IAU Working Group on Cartographic Coordinates and "
                     "Rotational Elements: 2009", year=2011)  # fmt: skip
CONTROL = Source(author="M. E. Davies, T. R. Colvin, D. L. Meyer", title="A unified lunar control network: the near side",
                 year=1987)  # fmt: skip
OPEN_AIR = Source(author="M. Minnaert", title="The Nature of Light and Colour in the Open Air", year=1954)
ILLUSION = Source(author="H. Ross, C. Plug", title="The Mystery of the Moon Illusion", year=2002)
CRATERING = Source(author="H. J. Melosh", title="Impact Cratering: A Geologic Process", year=1989)
EARTHSHINE = Source(author="P. R. Goode et al.", title="Earthshine observations of the Earth's reflectance", year=2001)
ORIGIN = Source(author="R. M. Canup", title="Dynamics of Lunar Formation", year=2004)
CALENDARS = Source(author="N. Dershowitz, E. M. Reingold", title="Calendrical Calculations", year=1997)
DYNAMICS = Source(author="C. D. Murray, S. F. Dermott", title="Solar System Dynamics", year=1999)
TIDES = Source(author="D. T. Pugh", title="Tides, Surges and Mean Sea-Level", year=1987)
AGES = Source(author="D. Stöffler, G. Ryder", title="Stratigraphy and isotope ages of lunar geologic units", year=2001)
CRUST = Source(author="M. A. Wieczorek et al.", title="The crust of the Moon as seen by GRAIL", year=2013)
LANDINGS = Source(author="R. V. Wagner et al.", title="Coordinates of anthropogenic features on the Moon", year=2017)
MESSENGER = Source(author="Galileo Galilei", title="Sidereus Nuncius", year=1610)
ALMAGEST = Source(author="G. B. Riccioli", title="Almagestum Novum", year=1651)
