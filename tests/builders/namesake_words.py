"""Words that the gazetteer uses of people, and the small list of occupations and nations that they are brought to."""

from __future__ import annotations

#: Our occupation -> words of the gazetteer that mean it, or a special branch of it.
OCCUPATIONS: dict[str, tuple[str, ...]] = {
    "astronomer": ("astronomer", "radio astronomer", "astronomer royal", "discoverer of asteroid"),
    "astrophysicist": ("astrophysicist", "solar physicist", "cosmologist", "spectroscopist"),
    "selenographer": ("selenographer", "lunar scientist"),
    "planetary scientist": ("planetary scientist", "space scientist", "astrogeologist", "meteorite researcher"),
    "mathematician": ("mathematician", "geometer", "geometrician", "statistician"),
    "physicist": ("physicist", "nuclear physicist", "mathematical physicist", "quantum physicist",
                  "otological physicist", "aurora research"),
    "chemist": ("chemist", "biochemist", "organic chemist", "physical chemist", "agricultural biochemist",
                "metallurgist"),
    "physician": ("doctor", "physician", "surgeon", "pathologist", "ophthalmologist", "bacteriologist",
                  "phototherapist", "pharmacologist", "psychoanalyst"),
    "biologist": ("biologist", "zoologist", "botanist", "physiologist", "neurophysiologist", "microbiologist",
                  "microscopist", "anthropologist"),
    "naturalist": ("naturalist", "natural scientist", "natural historian", "natural philosopher", "scientist",
                   "founder of the scientific study of natural history"),
    "geologist": ("geologist", "earth scientist", "mineralogist", "paleontologist", "micropaleontologist",
                  "petrologist", "petrographer", "sedimentary petrographer", "stratigrapher", "crystallographer",
                  "geochemist", "cosmochemist", "volcanologist", "geoscientist", "geological engineer"),
    "geophysicist": ("geophysicist", "seismologist", "oceanographer", "hydrographer"),
    "meteorologist": ("meteorologist",),
    "explorer": ("explorer", "antarctic explorer", "polar explorer", "artic explorer", "arctic explorer"),
    "navigator": ("navigator",),
    "geographer": ("geographer", "polar geographer"),
    "cartographer": ("cartographer", "geodesist"),
    "philosopher": ("philosopher", "scientific philosopher", "theologian"),
    "scholar": ("scholar", "humanitarian"),
    "historian": ("historian", "chronologist", "chronologer", "archaeologist", "egyptologist", "philologist",
                  "grammarian", "historian of science", "encyclopaedist", "decipherer of linear b cretan script"),
    "engineer": ("engineer", "civil engineer", "mechanical engineer", "electrical engineer", "chemical engineer",
                 "radio engineer", "soil engineer", "heat engineer", "aeronautical engineer", "aeronautic engineer",
                 "aeronautical scientist", "technologist", "space flight engineer"),
    "rocket engineer": ("rocketry scientist", "rocket scientist", "rocketry engineer", "rocket engineer",
                        "rocket designer", "rocket builder", "rocket pioneer"),
    "inventor": ("inventor",),
    "optician": ("optician", "instrument maker", "telescope manufacturer", "telescope designer", "horologist",
                 "specialist in optics and detectors"),
    "aviator": ("aviator", "aeronaut", "test pilot", "balloonist"),
    "astronaut": ("astronaut", "of the challenger crew", "member of the challenger crew",
                  "school teacher member of the challenger crew", "civilian member of the challenger crew"),
    "cosmonaut": ("cosmonaut", "student-cosmonaut"),
    "writer": ("writer", "scientific writer", "poet", "biographer"),
    "artist": ("artist", "photographer", "composer", "architect"),
    "patron": ("benefactor", "philanthropist", "astronomy patron"),
    "psychologist": ("psychologist",),
    "jurist": ("jurist",),
    "ruler": ("ruler", "emperor"),
    "bishop": ("bishop", "patriarch"),
    "astrologer": ("astrologer",),
}  # fmt: skip

#: The gazetteer's adjective -> ours, where they differ.
SAME_NATION = {
    "Argentine": "Argentinean", "Ukranian": "Ukrainian", "Rumanian": "Romanian", "Czechoslovakian": "Czechoslovak",
    "Arabic": "Arab", "Anglo": "English", "New Zealander": "New Zealand", "Bohemian": "Czech",
}  # fmt: skip

NATIONS = frozenset({
    "American", "Arab", "Argentinean", "Armenian", "Australian", "Austrian", "Babylonian", "Belgian", "Brazilian",
    "British", "Bulgarian", "Canadian", "Carthaginian", "Chinese", "Colombian", "Croatian", "Czech", "Czechoslovak",
    "Danish", "Dutch", "Egyptian", "English", "Finnish", "Flemish", "Frankish", "French", "German", "Greek",
    "Hungarian", "Indian", "Iraqi", "Irish", "Israeli", "Italian", "Japanese", "Jewish", "Macedonian",
    "Mesopotamian", "Mexican", "Mongolian", "Moroccan", "New Zealand", "Norwegian", "Persian", "Polish",
    "Portuguese", "Roman", "Romanian", "Russian", "Scottish", "Slovenian", "South African", "Soviet", "Spanish",
    "Swedish", "Swiss", "Syrian", "Taiwanese", "Turkish", "Ukrainian", "Yugoslavian",
})  # fmt: skip

#: What a name is, where it is no person's.
NOT_PEOPLE = (
    ("first name", ("male name", "female name", "first name")),
    ("a neighbour's name", ("Named from nearby", "Named for nearby", "Within crater")),
    ("a place on the Earth", ("Named from terrestrial", "Named for terrestrial", "Named from peak", "Named from Mt.",
                              "Named for range", "Named from range", "Named from cape")),
    ("a name that astronauts gave", ("Astronaut-named", "Astronaut named")),
    ("a myth or legend", ("Mytholog", "mythical", "mythological", "mythology", "Legendary", "mythical messenger")),
    ("a name of the Chinese sky", ("ancient Chinese", "Ancient Chinese", "Chinese ancient")),
    ("a space flight", ("Apollo missions", "Apollo 8", "landing site", "landing area")),
)  # fmt: skip

#: Titles after a comma that are no given names.
TITLES = ("Freiherr", "Baron", "Graf", "Count", "Comte", "Vicomte", "Lord", "Sir", "Chevalier", "Marquis", "Duke",
          "Duc", "Jr", "Ritter", "Landgrave", "Earl", "Prince", "Viscount", "Marchese", "II", "III", "IV")  # fmt: skip

#: Of the same people as the gazetteer's, in its own order of words: what it leaves out or writes in another way.
MENDED = (
    ("Georges: French", "Georges; French"), ("(?)", "?"), (" (optics)", ""),
    ("American scientist of Serbian origin", "American scientist"),
    ("Roman emperor, introduced the Julian calendar", "Roman emperor"),
    ("Egor Ivanovich, Russian", "Egor Ivanovich; Russian"), ("Wernher, German", "Wernher; German"),
    ("; member of the Challenger", "; American member of the Challenger"),
    ("; Member of the Challenger", "; American member of the Challenger"),
    ("; civilian school teacher member", "; American school teacher member"),
    ("Marie; Geologist", "Marie; American geologist"), (" of German origin, discoverer of asteroid (21) Lutetia", ""),
    (", and Robert", "; Robert"),
    ("United Kingdom-born", "British-born"), ("navigator(unkn", "navigator (unkn"),
)  # fmt: skip

#: Given names and surname where the gazetteer's order of words, or a Latin form of the name, does not give them.
NAMES = {
    "Abenezra": ("Abraham ben Meir", "Ibn Ezra"), "Abulfeda": ("Ismail", "Ibn Abū al-Fidā"),
    "Abul Wáfa": ("", "Abū al-Wafā al-Būzajāni"), "Al-Bakri": ("Abū Ubayd Abdallāh", "al-Bakri"),
    "Albategnius": ("Muhammed", "al-Battānī"), "Alexander": ("", "Alexander the Great"),
    "Alhazen": ("Abū Ali al-Hasan", "Ibn al-Haitham"), "Almanon": ("Abdalla", "al-Mamun"),
    "Alphonsus": ("", "Alfonso X"), "Ansgarius": ("", "Saint Ansgar"), "Ariadaeus": ("", "Philip III of Macedonia"),
    "Arzachel": ("", "al-Zarqālī"), "Avicenna": ("Abu Ali al-Hussein", "Ibn Abdallah, Avicenna"),
    "Capuanus": ("Francesco", "Capuano di Manfredonia"), "Catharina": ("", "Saint Catherine of Alexandria"),
    "Cichus": ("Francesco", "degli Stabili"), "Clavius": ("Christopher", "Clavius"),
    "Cusanus": ("Nikolaus", "Krebs of Cusa"), "Cyrillus": ("", "Saint Cyril"),
    "Fernelius": ("Jean François", "Fernel"), "Firmicus": ("", "Julius Firmicus Maternus"),
    "Hyginus": ("Gaius Julius", "Hyginus"), "Ibn Yunus": ("", "Ibn Yunus"),
    "Ibn-Rushd": ("Abu al-Walîd", "Ibn Rushd"), "Isidorus": ("", "Saint Isidore of Seville"),
    "Kidinnu": ("", "Kidinnu"), "Langrenus": ("Michel Florent", "van Langren"), "Lilius": ("Luigi", "Giglio"),
    "Longomontanus": ("Christian", "Sørensen Longomontanus"), "Lovelace": ("William Randolph", "Lovelace"),
    "Messala": ("", "Masha'allah"), "Metius": ("Adriaan", "Adriaanszoon Metius"), "Mutus": ("Vincente", "Mut"),
    "Nasireddin": ("", "Nasir al-Din"), "Nearch": ("", "Nearchus of Crete"),
    "Nonius": ("Pedro", "Nuñez"), "Omar Khayyam": ("", "Omar Khayyam"), "Orontius": ("Oronce", "Fine"),
    "Paracelsus": ("Theophrastus von Hohenheim,", "Paracelsus"), "Promontorium Heraclides":
    ("", "Heraclides Ponticus"), "Promontorium Kelvin": ("William", "Thomson, Lord Kelvin"),
    "Proclus": ("", "Proclus Diadochos"), "Vitello": ("", "Witelo"),
    "Rabbi Levi": ("Levi", "ben Gershon"), "Rayleigh": ("John William", "Strutt, Lord Rayleigh"),
    "Rhaeticus": ("Georg Joachim", "Rhaeticus"), "Rheita": ("Anton Maria", "Schyrle of Rheita"),
    "Rosse": ("William", "Parsons, Earl of Rosse"), "Sacrobosco": ("", "John of Holywood"),
    "Shi Shen": ("", "Shi Shen"), "St. John": ("Charles Edward", "St. John"),
    "Taruntius": ("Lucius", "Taruntius Firmanus"), "Teisserenc": ("Léon-Philippe", "Teisserenc de Bort"),
    "Thebit": ("", "Thābit Ibn Qurra"), "Wilhelm": ("", "Wilhelm IV of Hesse"),
    "Zagut": ("Abraham ben Samuel", "Zagut"),
    "Aepinus": ("Franz Maria Ulrich Theodor", "Aepinus"), "Regiomontanus": ("Johann Müller,", "Regiomontanus"),
}  # fmt: skip
