"""The programme's language: sentences of `moondesk.notes.messages` written through message catalogues (gettext).

To add a language: its catalogue, `data/CODE.po`, which `python -m tests.builders.build_messages CODE` makes and fills. The settings, the
desk and the commands find it there. A catalogue in `data/replies` holds the sentences of the replies and of frames alone: those
are also written in its language, and the programme is not offered it.
"""

from pathlib import Path

FOLDER = Path(__file__).resolve().parent / "data"
ENGLISH = "en"
#: Codes of the languages that there are: English, in which the sentences stand in the code, and those with a catalogue.
LANGUAGES = (ENGLISH, *sorted(path.stem for path in FOLDER.glob("*.po")))
#: Where the catalogues lie that hold the sentences of the replies and of frames alone; codes of all languages that those can be in.
REPLIES_FOLDER = FOLDER / "replies"
REPLY_LANGUAGES = (*LANGUAGES, *sorted({path.stem for path in REPLIES_FOLDER.glob("*.po")} - set(LANGUAGES)))


def own_name(code: str) -> str:
    """What a language is called in itself, by the Unicode Common Locale Data Repository; with a capital, as in a list."""
    from babel import Locale  # most that ask for the codes write nothing

    name = Locale.parse(code).get_display_name(code) or code
    return name[:1].upper() + name[1:]


def direction(code: str) -> str:
    """How a language is written: "ltr" or "rtl", as HTML says it; by the Unicode Common Locale Data Repository."""
    from babel import Locale

    return "rtl" if Locale.parse(code).character_order == "right-to-left" else "ltr"
