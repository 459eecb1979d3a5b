"""The invented submissions of sample_submissions/, as data: who sent what, when, and how the picture came about.

Lantern Hour goes out at eight every evening from the invented harbour town of Averim. The lunation is that of October
2026: new Moon on the 10th, full on the 26th (as told by the almanacs); clocks go back in the night to the 25th.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from moondesk.records import Place
from tests.scenes.spec import FieldStop, FileTags, Film, Optics, Sky

ZONE = "Europe/Lisbon"
PLAIN_OPTICS, PLAIN_SKY, PLAIN_FILM, PLAIN_TAGS = Optics(), Sky(), Film(), FileTags()
HOME = Place(37.80, -8.72, 40.0)

PROGRAMME_TOML = f"""\
# Settings for the sample submissions; programme and town are invented.
[programme]
name = "Lantern Hour"
zone = "{ZONE}"
latitude = {HOME.latitude_deg}
longitude = {HOME.longitude_deg}
height_m = 40

[edition]
number = 412
kind = "live"
air_utc = 2026-11-02T20:00:00Z
evenings = [2026-11-02]
"""


@dataclass(frozen=True)
class Mail:
    file: str
    sender: str
    address: str
    subject: str
    text: str


@dataclass(frozen=True)
class Case:
    """One submission. disc: x, y, radius_px. told_*: what the table says beyond the picture. other: not the Moon.

    tilt_deg: camera against the vertical, counter-clockwise; 180 for a reflector's upside-down view.
    """

    file: str
    family: str
    taken_utc: datetime
    received_after_h: float
    seed: int
    name: str
    note: str
    disc: tuple[float, float, float] = (0.0, 0.0, 1.0)
    size: tuple[int, int] = (1600, 1200)
    told_position: Place | None = None
    told_time: bool = False
    place: str = ""
    credit: str = ""
    equipment: str = ""
    consent: str = ""
    tilt_deg: float = 0.0
    mirrored: bool = False
    low: bool = False
    other: str = ""
    status: str = "annotated"
    also: tuple[str, ...] = ()
    optics: Optics = PLAIN_OPTICS
    sky: Sky = PLAIN_SKY
    film: Film = PLAIN_FILM
    tags: FileTags = PLAIN_TAGS
    mail: Mail | None = None

    @property
    def position(self) -> Place:
        return self.told_position or HOME

    @property
    def received_utc(self) -> datetime:
        return (self.taken_utc + timedelta(hours=self.received_after_h)).replace(microsecond=0)


def _utc(month: int, day: int, hour: int, minute: int, second: int) -> datetime:
    return datetime(2026, month, day, hour, minute, second, 412_000, tzinfo=UTC)


YES = "Yes, you may show it on the programme and on your page."

CASES = (
    Case(
        "IMG_2231.jpg", "crescent", _utc(10, 14, 18, 22, 51), 1.1, 101, "Íris Quental",
        "Crescent with earthshine; stored on its side (EXIF orientation 6).",
        (610, 830, 330), (1200, 1600), told_position=HOME, place="Averim, above the harbour",
        credit="Íris Quental, Averim", equipment="80 mm refractor, 25 mm eyepiece, phone on a bracket", consent=YES,
        tilt_deg=8, also=("unplaced", "disc_only"), optics=Optics(1.2),
        sky=Sky(0.003, (0.8, 0.9, 1.15), earthshine=0.011),
        film=Film(1.5, bloom=0.1, contrast=0.15, shot=0.014, read=0.0012, cast=(1.04, 1.0, 0.93)),
        tags=FileTags(quality=82, orientation=6, model="C7"),
    ),
    Case(
        "lua-1.webp", "noexif", _utc(10, 16, 19, 21, 8), 0.7, 102, "Τάσος Ραμνής",
        "WebP from a messenger: no EXIF, no time; only the date of receipt bounds it.",
        (655, 470, 350), (1280, 960), told_position=Place(37.74, -8.66), place="Vale do Tordo",
        credit="Τάσος Ραμνής", equipment="130 mm reflector, phone held by hand", consent="Yes, gladly.", tilt_deg=171,
        optics=Optics(1.4), film=Film(0.95, contrast=0.3, sharpen=0.5, cast=(1.03, 1.0, 0.97)),
        tags=FileTags("webp", 84, time=False, offset=False, place=False, make=None, model=None),
    ),
    Case(
        "20261017_211435.jpg", "soft", _utc(10, 17, 20, 14, 35), 13.2, 103, "Oda Ekvåg-Lindø",
        "Through binoculars, a little shaken and out of focus.",
        (840, 560, 300), place="Costa Marnel", credit="Oda Ekvåg-Lindø", equipment="15x70 binoculars on a fence post",
        consent=YES, tilt_deg=-14, optics=Optics(3.2, motion_px=3.0, motion_screen_deg=60),
        film=Film(1.05, contrast=0.2, sharpen=0.6, shot=0.02, read=0.0015, cast=(0.98, 1.0, 1.03)),
        tags=FileTags(quality=85, place=False, model="C5"),
    ),
    Case(
        "moon_dob_18oct.jpg", "eyepiece", _utc(10, 18, 19, 31, 12), 1.9, 104, "Noé Albarrão",
        "First quarter through a reflector: turned by half, the eyepiece's field stop around it.",
        (760, 590, 330), tilt_deg=196, optics=Optics(1.2),
        sky=Sky(0.0004, field_stop=FieldStop(812, 604, 497, 2.6, 0.014)),
        film=Film(0.95, contrast=0.25, sharpen=0.7, cast=(1.02, 1.0, 0.96)), tags=FileTags(quality=86, model="C7"),
        mail=Mail(
            "first_quarter.eml", "Noé Albarrão", "noe.albarrao@casa-albarrao.example", "Tonight's Moon from the roof",
            """Dear Lantern Hour,

here is the Moon from our roof in Averim, about half past eight this evening. I held
my phone to the eyepiece of a 6 inch Dobsonian (25 mm eyepiece), so south is up.
The row of craters along the shadow was as sharp as I have ever seen it.

You may show the picture on air and on your web page. Please credit it as
"N. Albarrão, Averim".

Good night from the harbour
Noé
""",
        ),
    ),
    Case(
        "IMG_0457.jpg", "daylight", _utc(10, 19, 16, 52, 40), 2.4, 105, "Marit Sjöwall-Pereira",
        "Before sunset on a blue sky.", (930, 520, 236), told_position=Place(37.86, -8.70),
        place="Sant Ilvo lighthouse",
        credit="Marit Sjöwall-Pereira", equipment="Camera with a 600 mm lens, tripod", consent="yes", tilt_deg=3,
        optics=Optics(1.1),
        sky=Sky(0.17, (0.6, 0.84, 1.16), 0.25, 20.0), film=Film(0.5, contrast=0.25, sharpen=0.5, shot=0.006),
        tags=FileTags(quality=88, make="Ostrel", model="K2 D"),
    ),
    Case(
        "zenit-diagonal.jpg", "mirrored", _utc(10, 19, 20, 33, 5), 0.6, 106, "Štěpán Hruška-Vale",
        "Mirrored by a star diagonal.", (800, 610, 440), told_position=HOME, place="Averim",
        credit="Štěpán Hruška-Vale", equipment="90 mm Maksutov with a star diagonal, 20 mm eyepiece", consent=YES,
        tilt_deg=21, mirrored=True, optics=Optics(1.3), sky=Sky(0.0022),
        film=Film(0.9, contrast=0.2, sharpen=0.5, cast=(1.0, 1.0, 1.02)), tags=FileTags(quality=84, model="C6"),
    ),
    Case(
        "DSC_0412.jpg", "clean", _utc(10, 20, 20, 5, 17), 22.5, 107, "Марко Велин",
        "A camera without place or zone: the local time alone is known.",
        (760, 640, 405), place="Monte Gralho", credit="Марко Велин",
        equipment="80/600 apochromat, camera at prime focus",
        consent="Да. You may broadcast it.", tilt_deg=-33, optics=Optics(1.0), sky=Sky(0.0018),
        film=Film(0.92, contrast=0.15, sharpen=0.6, shot=0.008, read=0.0006),
        tags=FileTags(quality=88, offset=False, place=False, make="Ostrel", model="K2 D", software="Ostrel 1.04"),
    ),
    Case(
        "promenade.jpg", "other", _utc(10, 20, 20, 11, 44), 1.3, 25, "Benedita Corvo",
        "Not the Moon: a lamp on the promenade.", size=(1280, 960), told_position=HOME, place="Averim promenade",
        credit="Benedita Corvo", equipment="phone", consent="Yes, show it!", other="lamp", status="not_moon",
        also=("unplaced",), tags=FileTags(quality=82, model="C4"),
    ),
    Case(
        "терминатор-21-10.jpg", "closeup", _utc(10, 21, 20, 58, 2), 11.0, 109, "Лидия Караманова",
        "A stretch of the terminator; the limb hardly shows.", (300, 890, 1280), tilt_deg=187,
        also=("unplaced", "disc_only"), optics=Optics(1.6), sky=Sky(0.0012),
        film=Film(0.95, contrast=0.2, sharpen=0.8, sharpen_px=2.0, shot=0.008),
        tags=FileTags(quality=84, make="Ostrel", model="P1"),
        mail=Mail(
            "terminator.eml", "Лидия Караманова", "lidia@karamanova.example", "Снимка: the terminator on 21 October",
            """Good morning,

attached is one frame of the terminator from last night, 21 October, a few minutes
before ten. Telescope: 200 mm Newtonian, f/5, on a driven mount, camera with a
2x Barlow lens. Taken from Monte Gralho, the seeing was fair.

I agree to the picture being broadcast and kept in your archive; the credit line
should read "Лидия Караманова".

With kind regards
Лидия Караманова
""",
        ),
    ),
    Case(
        "Moon crop final.png", "noexif", _utc(10, 21, 20, 41, 0), 24.0, 110, "Y\u0131ld\u0131z Erdemir",
        "PNG saved by an image editor: no EXIF; the sender told the time.",
        (360, 352, 322), (720, 720), told_position=Place(37.69, -8.75), told_time=True, place="Ponta Arvela",
        credit="Y\u0131ld\u0131z Erdemir", equipment="102 mm achromat, camera", consent="Yes", tilt_deg=0,
        optics=Optics(1.0), sky=Sky(0.0002),
        film=Film(0.95, contrast=0.35, sharpen=0.5, shot=0.003, read=0.0001, grain_px=0.9),
        tags=FileTags("png", time=False, offset=False, place=False, make=None, model=None),
    ),
    Case(
        "20261022_211502.jpg", "tiny", _utc(10, 22, 20, 15, 2), 0.4, 111, "João Pé-Leve",
        "Hand-held wide shot with skyline and lens ghost: too small to place.", (1010, 300, 11.5), told_position=HOME,
        place="Averim, from the quay", credit="João Pé-Leve", equipment="phone, hand-held", consent=YES, tilt_deg=-4,
        status="unplaced", also=("disc_only", "not_moon"),
        optics=Optics(1.3, motion_px=2.5, motion_screen_deg=110),
        sky=Sky(0.012, (0.95, 0.97, 1.08), 0.5, 180.0, 0.05, 1.6, skyline=0.16, ghost=0.03, stars=8),
        film=Film(6.0, bloom=0.3, shot=0.02, read=0.002, contrast=0.15), tags=FileTags(quality=80, model="C4"),
    ),
    Case(
        "IMG_3310.jpg", "cut", _utc(10, 22, 20, 47, 26), 1.6, 112, "Åsa Thorvaldsen",
        "The disc runs out of the frame at the bottom and left.", (520, 830, 620), told_position=Place(37.81, -8.69),
        place="Vale do Tordo", credit="Åsa Thorvaldsen",
        equipment="150 mm Schmidt-Cassegrain, phone at a 32 mm eyepiece",
        consent="You are welcome to use it.", tilt_deg=37, optics=Optics(1.4), sky=Sky(0.002),
        film=Film(0.95, contrast=0.2, sharpen=0.4, cast=(1.03, 1.0, 0.95)), tags=FileTags(quality=82, model="C7"),
    ),
    Case(
        "IMG_3342.jpg", "wrongclock", _utc(10, 23, 21, 2, 33), 0.9, 113, "Benedek Szőke",
        "The phone's clock runs 26 hours and a half behind.", (700, 560, 420), told_position=HOME, place="Averim",
        credit="Szőke Benedek", equipment="114 mm reflector, phone", consent=YES, tilt_deg=164,
        optics=Optics(1.1), sky=Sky(0.0025), film=Film(0.9, contrast=0.25, sharpen=0.6),
        tags=FileTags(quality=84, clock_error_h=-26.5, model="C3"),
    ),
    Case(
        "Moon_by_Clara.jpg", "small", _utc(10, 23, 19, 44, 9), 1.2, 114, "Helena Marçal",
        "Small disc by a child of eleven; consent by her mother.", (880, 520, 96), (1600, 1200), tilt_deg=5,
        optics=Optics(1.0), sky=Sky(0.003), film=Film(0.95, contrast=0.15, sharpen=0.5, shot=0.014),
        tags=FileTags(quality=80, model="C5"),
        mail=Mail(
            "clara_11.eml", "Helena Marçal", "helena.marcal@vale-do-tordo.example", "My daughter's first Moon picture",
            """Hello,

my daughter Clara is eleven and took this tonight at a quarter to nine from our
garden in Vale do Tordo, with her grandfather's camera (300 mm lens) on the wall.

I am her mother and I agree that you show her picture in the programme and on the
page. Please say only "Clara, 11, Vale do Tordo".

Helena Marçal
""",
        ),
    ),
    Case(
        "haze.jpg", "haze", _utc(10, 24, 20, 26, 50), 0.8, 115, "Ruaridh Dunlevy",
        "Through thin cloud, with a glow; nothing is said about consent.", (790, 585, 335), tilt_deg=-9,
        optics=Optics(1.6), sky=Sky(0.02, (1.0, 0.96, 0.9), 0.8, 300.0, 0.35, 0.5),
        film=Film(1.0, contrast=0.1, sharpen=0.3, shot=0.014), tags=FileTags(quality=80, model="C7"),
        mail=Mail(
            "thin_cloud.eml", "Ruaridh Dunlevy", "ruaridh@dunlevy.example", "moon in the clouds",
            """Hi all,

got it through a gap just now, 72 mm refractor on the balcony in Costa Marnel and
the phone at the eyepiece. Hope you like it!

Ruaridh
Sent from my C7
""",
        ),
    ),
    Case(
        "20261025_013118.jpg", "over", _utc(10, 25, 0, 31, 18), 9.4, 116, "Inês Fârrow",
        "Overexposed; its local time came twice that night, when the clocks went back.", (850, 630, 385),
        told_position=HOME, place="Averim", credit="Inês Fârrow", equipment="70 mm spotting scope, phone", consent=YES,
        tilt_deg=12, optics=Optics(1.5), sky=Sky(0.004),
        film=Film(2.3, bloom=0.3, contrast=0.1, sharpen=0.3), tags=FileTags(quality=84, offset=False, model="C6"),
    ),
    Case(
        "moonrise_pier.jpg", "low", _utc(10, 26, 18, 19, 37), 1.0, 117, "Þóra Vindal",
        "Just risen: reddened and flattened.", (800, 575, 390), told_position=HOME, place="Averim, the old pier",
        credit="Þóra Vindal", equipment="Camera with 500 mm lens and 2x converter", consent="Yes, with my name.",
        tilt_deg=-2, low=True, optics=Optics(1.9, dispersion_px=1.2), sky=Sky(0.004, (1.0, 0.78, 0.6)),
        film=Film(0.95, contrast=0.15, sharpen=0.4, cast=(1.0, 0.76, 0.47)),
        tags=FileTags(quality=84, make="Ostrel", model="K2 D"),
    ),
    Case(
        "IMG_0088.jpg", "eyepiece", _utc(11, 2, 5, 43, 20), 3.5, 118, "Ümit Șerban",
        "Last quarter at dawn, mirrored, with field stop and lens distortion.", (790, 640, 345), told_position=HOME,
        place="Averim", credit="Ümit Șerban", equipment="60 mm refractor with diagonal, phone clamp", consent=YES,
        tilt_deg=-27, mirrored=True, optics=Optics(1.3, radial_k1=0.03),
        sky=Sky(0.0006, field_stop=FieldStop(774, 622, 470, 3.5, 0.022)),
        film=Film(0.95, contrast=0.2, sharpen=0.5, cast=(0.97, 1.0, 1.04)),
        tags=FileTags(quality=84, orientation=3, model="C5"),
    ),
)  # fmt: skip
