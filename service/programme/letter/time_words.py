r"""When a picture was taken, as its sender tells it: a small grammar that reads days, parts of the day and clocks. Pure.

A language's words are its file's table [time]. All keys are optional. A value of words or patterns is either a class
(words parted by white space, `_` inside one standing for a space) or a list of patterns (`lexicons.patterns`); all that
is said of `*`, `<class>`, `(a|b)?`, `..` there holds here. What is read is put together by rules that are no language's:
a day, a part of the day and a clock that stand near each other are one time; order does not matter, and one word may be
several things ("Samstagabend" is a weekday and a part). A clock of twelve hours is the one of the part of the day, or
the evening's; nothing is later than the letter.

    [time]                            English                            German
    order = "dmy"                     of numeric dates: dmy, mdy, ymd; years in front are seen without it
    today                             "today tonight tonite"             "heute heut"
    yesterday                         "yesterday last_night"             "gestern"
    before_yesterday                  "day_before_yesterday"             "vorgestern"
    last_night                        "last_night"                       "gestern_nacht letzte_nacht"
                                      the evening and night before the letter: also list in it what is one word for both
                                      (bg "снощи", es "anoche", ja "昨夜 昨晩")
    on_day                            ["(on|the) {d}(st|nd|rd|th)"]      ["am {d}"]      a day of the month without month
    date_joins                        "of the st nd rd th"               "den"           between day, month and year
    overnight                         "to into going_into and"           "auf"           "Sunday into Monday": the night
    eve_of                            ""                                 ""              bg "срещу": the night before it
    am                                "am a.m."                          ""
    pm                                "pm p.m."                          ""
    about                             "about around ish -ish nearly"     "etwa circa ca gegen ungefähr so_um"
    taken                             "took taken shot snapped captured" "aufgenommen fotografiert gemacht geknipst"
                                      words of taking a picture: a time beside them is the picture's
    elsewhere                         "sent mailed show programme episode watched born tomorrow next bought"
                                      words or patterns beside which a time is NOT the picture's: sending, the programme,
                                      its hour, birthdays, appointments, what is to come
    never                             ["for # years", "# years old", "# minutes (exposure|later)", "# degrees"]
                                      struck out before anything is read: durations, ages, exposures, temperatures.
                                      Figures with mm, x, s, %, °, ISO, f/ before or behind are struck out in any language
    suffix = "ला|च्या"                 a regular expression of endings that a number or hour word may carry

    [time.weekdays]   monday = "monday mon", tuesday = ..., up to sunday
    [time.months]     january = "january jan", february = ..., up to december
    [time.parts]      words of each part of the day; what a language does not part is left out
                      dawn      "dawn daybreak before_sunrise small_hours"   "morgengrauen"
                      morning   "morning"                                    "früh morgens heute_morgen *morgen"
                      forenoon  "forenoon"                                   "vormittag*"
                      noon      "noon midday"                                "mittag*"
                      afternoon "afternoon"                                  "nachmittag* *nachmittag"
                      dusk      "dusk sunset nightfall twilight"             "dämmerung sonnenuntergang"
                      evening   "evening tonight"                            "abend* *abend"
                      night     "night tonight"                              "nacht *nacht nachts"
                      midnight  "midnight"                                   "mitternacht"
    [time.part_hours] evening = [16, 20]    from, to: only where this language means other hours than 3-7, 5-11, 8-12,
                                            11-14, 12-18, 16-20, 18-24, 18-30 (6 in the morning after) and 23-25
    [time.hours]      words that are numbers only of hours, beside [numbers]: ar "التاسعة" = 9, "الحادية_عشرة" = 11
    [time.clocks]     a pattern and what it makes of its {h} and {m}: minutes, or "+m", "-m", "+m+30", or of a fixed time
                      "{h} o'clock" = 0,  "half past {h}" = 30,  "quarter to {h}" = -15,  "{m} (minutes)? past {h}" = "+m"
                      "halb {h}" = -30,  "{m} vor halb {h}" = "-m-30",  "{h} uhr {m}" = "+m",  "kurz nach {h}" = 10
                      "just before midnight" = "24:00-15",  "noon" = "12:00".  "साढ़े {h} (बजे)?" = 30,  "{h}時半" = 30
                      9:30, 21.45, 21h30, 21h, 9pm, 9.30 p.m., 21 Uhr-like figures with a colon need no pattern
                      {h}, {m} are figures or words of [numbers] and [time.hours]; joined words as re:साडे\s*{h}
    [time.bare_hours] the same, of what may also be something else: counts only beside a day, a part of the day, am, pm
                      "(at|around|about|by|towards) {h}" = 0,  "(um|gegen|so um) {h}" = 0
    [time.ago]        a pattern and minutes, of each {n} where it stands
                      "{n} hours ago" = 60, "half an hour ago" = 30, "an hour ago" = 60, "{n} days ago" = 1440
                      "vor {n} stunden" = 60, "vor einer halben stunde" = 30, "vor {n} tagen" = 1440

A language's table [place] serves `place_words`; towns come from a gazetteer, so no town is written here:

    before            "in at from near outside over above"  "in aus bei über nahe"     a town's name follows
    after             ""                                    ""       it stands before: hi "में से के_पास", ja "で から にて"
    suffix            ""                                    ""       a regular expression of endings joined to the name:
                                                                     mr "ला|हून|मध्ये|त|च्या", ja "市|町|村|区"
    kinds             "town village city"                   "stadt dorf ort"           may stand between ("гр.", "с.")
    regions           "county district province state near" "kreis landkreis"          what follows is larger than a town
    never             "may reading nice orange"             "essen singen"  words that are towns somewhere, but not here
    elsewhere         "born studied moved brother_in"       "geboren"       beside these it is not the picture's place
    [place.countries] GB = "england scotland wales"         DE = "deutschland"   beside what Unicode's CLDR names them
"""
