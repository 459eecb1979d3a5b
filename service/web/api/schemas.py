"""What the JSON of the API looks like, in JSON Schema 2020-12: every field of every object, with its units. Pure.

Nothing is left out of an object: what is not known is null, or "" where it is a text. Objects hold no other fields.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, get_args

from moondesk.ephemeris.rise_and_set import SunCaution
from moondesk.notes.claim_verdicts import Verdict
from moondesk.notes.records import Topic
from moondesk.records import EveningVerdict, Status
from moondesk.service.arrivals import ARRIVAL_WAYS
from moondesk.service.programme.certainty_words import Tone
from moondesk.service.programme.consent.wording import Kind, State
from moondesk.service.programme.rundown import ANSWERS, CREDIT, NOTE, PRONUNCIATION, WAYS, WORDS
from moondesk.service.store.media import SHOWN
from moondesk.service.store.records import ConsentKind, ConsentState, EditionKind, LetterKind, PartKind
from moondesk.service.store.rundown_items import MOST_SECONDS

Schema = Mapping[str, Any]
MOST_ID = 9007199254740991
MESSAGE_ID = 1_000


def of(kind: str, words: str = "", **more: Any) -> dict[str, Any]:
    """A value of one kind, with what it means."""
    return {"type": kind, **({"description": words} if words else {}), **more}


def text(words: str = "", **more: Any) -> dict[str, Any]:
    return of("string", words, **more)


def number(words: str = "", **more: Any) -> dict[str, Any]:
    return of("number", words, **more)


def one_of(values: Any, words: str = "") -> dict[str, Any]:
    """One of these texts, or of those that a Literal allows; "" is told as null, see `or_null`."""
    return text(words, enum=[str(value) for value in get_args(values) or values if value])


def when(words: str = "") -> dict[str, Any]:
    return text(words, format="date-time")


def or_null(schema: Schema) -> dict[str, Any]:
    """The same, or null where it is not known."""
    if "$ref" in schema:
        return {"anyOf": [schema, {"type": "null"}]}
    known = {**schema, "type": [schema["type"], "null"]}
    return {**known, "enum": [*schema["enum"], None]} if "enum" in schema else known


def list_of(schema: Schema, words: str = "") -> dict[str, Any]:
    return of("array", words, items=schema)


def ref(name: str) -> dict[str, Any]:
    return {"$ref": f"#/components/schemas/{name}"}


def record(words: str, /, **fields: Schema) -> dict[str, Any]:
    """An object that holds just these fields, all of them."""
    return of("object", words, properties=fields, required=list(fields), additionalProperties=False)


def request_body(words: str, needed: tuple[str, ...], /, **fields: Schema) -> dict[str, Any]:
    """The body of a request: an object that holds some of these fields."""
    return of(
        "object",
        words,
        properties=fields,
        additionalProperties=False,
        **({"required": list(needed)} if needed else {"minProperties": 1}),
    )


ID = of("integer", "Its number in the store.", minimum=1, maximum=MOST_ID)
IDS = list_of(ID)
FLAG = of("boolean")
COUNT = of("integer", minimum=0)
SHARE = number("A share, 0 to 1.", minimum=0, maximum=1)
EDITION = of("integer", "The edition's number.", minimum=0)
SHA256 = or_null(text("SHA-256 of the file's bytes; null where they were not kept.", pattern="^[0-9a-f]{64}$"))
STATUS = one_of(
    ("refused", "waiting", *Status),
    "Where it stands. refused: no file that can be used; waiting: to be placed; else that of its placement.",
)
SURE = of("boolean", "Whether its names stand where they belong; when it was taken is `evening`.")
VERDICT = or_null(
    one_of(EveningVerdict, "How well it is known when it was taken, as in a placement; null: not judged yet.")
)
PIXELS = "Pixels of the picture as displayed, x right, y down, (0, 0) the centre of the top-left pixel."
SCREEN = "Degrees from up, counter-clockwise on the screen."

_NAMED = {
    "name": text("As the IAU lists it."),
    "kind": text(),
    "lat": number("Latitude, degrees."),
    "lon": number("Longitude, degrees, east positive, mean-Earth frame."),
    "diameter_km": or_null(number()),
}

_PLACEMENT = record(
    "A picture's placement, schema 3: keys never change their meaning. See limb, pose and features for the frames.",
    schema=of("integer", enum=[3]),
    file=text(),
    sha256=text(),
    status=text(),
    sure=FLAG,
    reason=or_null(text()),
    advice=or_null(text()),
    frame=text("Body and sphere; longitude east positive, mean-Earth frame."),
    image=record("The picture as displayed; 0 where it could not be read.", width=of("integer"), height=of("integer")),
    evening=record(
        "When it was taken, apart from where the Moon lies, of which sure, reason and advice speak. sure: a "
        "clock, GPS or the days before it came agree with the picture; told: somebody or the file says so, "
        "and nothing contradicts it; unsure: a time with a doubt; unknown: none.",
        verdict=one_of(EveningVerdict),
        reason=or_null(text()),
        advice=or_null(text()),
    ),
    taken=record(
        "When it was taken, as believed.",
        utc=or_null(when()),
        source=or_null(text()),
        sigma_minutes=or_null(number("One standard deviation.")),
    ),
    clock=record(
        "The clock against what light and libration say.",
        verdict=text(),
        picture_utc=or_null(when()),
        sigma_hours=or_null(number()),
    ),
    limb=or_null(
        record(
            f"The disc. {PIXELS}",
            x=or_null(number()),
            y=or_null(number()),
            radius=or_null(number()),
            sigma_px=or_null(number()),
            arc_deg=or_null(number()),
        )
    ),
    shape=or_null(
        record(
            "How the picture departs from a circle.",
            flattening=or_null(number()),
            flattening_screen_deg=or_null(number(SCREEN)),
            tilt=or_null(number()),
            tilt_screen_deg=or_null(number(SCREEN)),
            tangential=or_null(number()),
            tangential_screen_deg=or_null(number(SCREEN)),
            radial_k1=or_null(number("r_seen = r (1 + k1 (r / axis_scale_px)^2) about the axis.")),
            axis_x=or_null(number()),
            axis_y=or_null(number()),
            axis_scale_px=or_null(number()),
        )
    ),
    field=or_null(
        record(
            "An eyepiece's field, outside of which nothing shows; null where none is seen.",
            x=or_null(number()),
            y=or_null(number()),
            radius=or_null(number()),
        )
    ),
    terminator=or_null(
        record(
            "The light's edge.",
            phase_angle_deg=or_null(number("0 full, 180 new.")),
            illuminated_fraction=or_null(number()),
            bright_limb_screen_deg=or_null(number(SCREEN)),
            sigma_deg=or_null(number()),
        )
    ),
    pose=or_null(
        record(
            "How the Moon lies in the picture: with shape all that leads from the Moon to a pixel.",
            x=or_null(number("Centre of the undistorted disc, pixels.")),
            y=or_null(number()),
            radius_px=or_null(number("Its radius.")),
            distance_radii=or_null(number("Of the observer from the Moon's centre, in radii of the Moon.")),
            mirrored=FLAG,
            north_screen_deg=or_null(number(SCREEN)),
            sub_observer=list_of(or_null(number()), "Latitude and longitude, degrees."),
            sub_solar=list_of(or_null(number()), "Latitude and longitude, degrees."),
            sigma_pct_radius=or_null(number("Percent of the disc's radius.")),
            score=or_null(number()),
            rival_score=or_null(number()),
            parameters=list_of(text(), "What was solved for."),
            covariance=list_of(list_of(number()), "Of the parameters, in their units: a row for each."),
        )
    ),
    features=list_of(ref("Feature")),
)

_FEATURE = record(
    f"A feature in the picture. {PIXELS}",
    **_NAMED,
    x=or_null(number()),
    y=or_null(number()),
    sigma_px=or_null(number()),
    radius_px=or_null(number()),
    sun_altitude_deg=or_null(number("Height of the Sun over it; below 0 it is night there.")),
    lit_fraction=or_null(number("Share of it in the light, 0 to 1.")),
    seen=or_null(number("Chance that it can be made out here, 0 to 1.")),
    labelled=FLAG,
    label_x=or_null(number()),
    label_y=or_null(number()),
)

_CONSENT = record(
    "The consent that counts. suggested: words of a mail that nobody has confirmed; they never count by themselves.",
    state=one_of(State),
    kind=or_null(one_of(Kind, "How it came.")),
    evidence=text("Word for word."),
    minor=of("boolean", "A child seems to have taken the picture."),
    guardian=of("boolean", "A guardian said so."),
    noted_by=text(),
    may_be_shown=of("boolean", "Whether it may go on air, by this and by all else that the desk asks."),
    stops=list_of(text(), "Why it may not: sentences."),
    held_by=list_of(ID, "Letters from its sender that nobody has read; their submissions' ids."),
)

_SUBMISSION = record(
    "What one sender sent at once, as `moondesk list --jsonl` tells it.",
    id=ID,
    source=one_of(ARRIVAL_WAYS),
    message_id=or_null(text()),
    subject=text(),
    sender_name=text(),
    sender_address=text("Personal data: for the programme's own use."),
    credit_line=text("As the sender is to be named."),
    received_utc=or_null(when()),
    stored_utc=when(),
    equipment=ref("Equipment"),
    consent=record("The consent for all of it.", state=one_of(State), kind=or_null(one_of(Kind)), evidence=text()),
    may_go_on_air=of("boolean", "By what was said of all of it."),
    held_by=list_of(ID, "Letters from its sender that nobody has read."),
    letter=or_null(
        record(
            "A mail that a person must read. machine: written by a program; it holds nothing.",
            kind=one_of(LetterKind),
            read_utc=or_null(when("null: nobody has read it.")),
            read_by=or_null(text()),
        )
    ),
    flags=list_of(text(), "What could not be read, or needs a look."),
    pictures=list_of(
        record(
            "",
            id=ID,
            sha256=SHA256,
            given_name=text(),
            media_type=or_null(text()),
            status=STATUS,
            version_of=or_null(text("SHA-256 of the best version of it; null for that itself.")),
            refused=or_null(text("Why it cannot be used.")),
        )
    ),
    edition=EDITION,
)

_ROW = record(
    "A picture in a list.",
    id=ID,
    submission_id=ID,
    edition=or_null(EDITION),
    given_name=text(),
    sender_name=text(),
    credit_line=text(),
    place_name=text(),
    received_utc=or_null(when()),
    status=STATUS,
    sure=SURE,
    evening=VERDICT,
    reason=or_null(text()),
    taken_utc=or_null(when()),
    taken_source=or_null(text()),
    clock_verdict=or_null(text()),
    best_seen=list_of(text(), "Features best seen in it, best first."),
    other_versions=COUNT,
    questions=list_of(text(), "What the tool asks about copies of it."),
)

_PICTURE = record(
    "All that is known of one picture.",
    id=ID,
    submission_id=ID,
    edition=EDITION,
    given_name=text(),
    media_type=or_null(text()),
    size_bytes=COUNT,
    sha256=SHA256,
    status=STATUS,
    refused=or_null(text("Why it cannot be used.")),
    sender_name=text(),
    sender_address=text("Personal data: for the programme's own use."),
    credit_line=text(),
    received_utc=or_null(when()),
    place_name=text(),
    place=or_null(
        record(
            "As told, or as set by hand.",
            latitude_deg=number(),
            longitude_deg=number("East positive."),
            height_m=number(),
        )
    ),
    equipment=ref("Equipment"),
    placement=or_null(ref("Placement")),
    placed=or_null(record("Who placed it.", utc=when(), engine=text())),
    width_px=or_null(COUNT),
    height_px=or_null(COUNT),
    certainty=list_of(
        record("", tone=one_of(Tone), about=text(), words=text()), "What the tool is sure of and what not."
    ),
    clock_words=text("The verdict on the clock, in words."),
    time_candidates=list_of(
        record(
            "",
            utc=when(),
            sigma_minutes=or_null(number()),
            source=text(),
            hours_after_picture=or_null(number("Against what the picture itself shows.")),
        ),
        "Readings of when it was taken, likeliest first.",
    ),
    evenings=list_of(
        record("", utc=when(), sigma_hours=or_null(number()), probability=or_null(SHARE)),
        "Where no date is known: instants that fit, likeliest first.",
    ),
    versions=record(
        "Copies of it.",
        best_id=ID,
        ids=IDS,
        questions=list_of(
            record("", pair_id=ID, other_picture_id=ID, words=text()), "Pairs that a person is to decide about."
        ),
    ),
    decisions=list_of(
        record("", id=ID, kind=text(), what=of("object", "By its kind."), made_by=text(), made_utc=when()),
        "Decisions of people that stand.",
    ),
    consent=ref("Consent"),
    consents=list_of(ref("ConsentRecord"), "All that was noted of it, the oldest first."),
    images=of(
        "object",
        "Addresses of pictures made of it, by name; no original is given out.",
        properties={name: text() for name in SHOWN},
        additionalProperties=False,
    ),
)

_ITEM = record(
    "A picture in the rundown.",
    id=ID,
    place=of("integer", "1 for the first.", minimum=1),
    picture_id=ID,
    seconds=COUNT,
    credit_line=or_null(text('As written here; null: it follows the sender\'s; "": no name is shown.')),
    credit_shown=text('Exactly as it will be shown; "": no name.'),
    credit_missing=FLAG,
    pronunciation=text(),
    note=text(),
    may_go_on_air=FLAG,
    stops=list_of(text(), "Why it cannot go on air."),
    cautions=list_of(text(), "What to look at before it does."),
    consent=ref("Consent"),
    status=STATUS,
    sure=SURE,
    evening=VERDICT,
    best_seen=list_of(text()),
    aired_utc=or_null(when()),
    aired_before=list_of(EDITION),
    better_picture_id=or_null(ID),
    added_by=text(),
    added_utc=when(),
)

_EVENING = record(
    "An evening to come, at the programme's air time.",
    evening=text(format="date"),
    day_number=or_null(of("integer", "Day of the lunation by the programme's rule.")),
    edition=or_null(EDITION),
    air_utc=when(),
    illuminated_fraction=SHARE,
    waxing=FLAG,
    phase_angle_deg=number("0 full, 180 new."),
    elongation_deg=number("From the Sun."),
    altitude_deg=or_null(number("Without refraction; null while the programme's place is not set.")),
    azimuth_deg=or_null(number("From north by east.")),
    sub_observer=ref("SelenographicPoint"),
    sub_solar=ref("SelenographicPoint"),
    sun_caution=one_of(
        SunCaution, "near: the Sun must have set before anybody looks for the Moon; lost: nobody is to look for it."
    ),
    cautions=list_of(text(), "To be passed on with every request for pictures."),
    near_terminator=list_of(
        record("", **_NAMED, sun_altitude_deg=or_null(number()), lit_fraction=or_null(number())),
        "Features within 8 degrees of the terminator, best first.",
    ),
)

SCHEMAS: Mapping[str, Schema] = MappingProxyType(
    {
        "Problem": of(
            "object",
            "What is wrong (RFC 9457).",
            properties={
                "type": text(format="uri-reference"),
                "title": text(),
                "status": of("integer", minimum=400, maximum=599),
                "detail": text("What is wrong, and what to do."),
                "errors": list_of(
                    record(
                        "",
                        where=text('"query limit", "header If-Match", or a JSON pointer into the body.'),
                        words=text(),
                    )
                ),
            },
            required=["type", "title", "status", "detail"],
        ),
        "Edition": record(
            "One edition of the programme.",
            number=EDITION,
            kind=one_of(EditionKind),
            recording_utc=or_null(when()),
            air_utc=or_null(when()),
            evenings=list_of(text(format="date")),
            day_number=or_null(of("integer", "Day of the lunation on its first evening.")),
        ),
        "Editions": record("", editions=list_of(ref("Edition"), "The newest number first.")),
        "EditionCounts": record(
            "An edition and where its pictures stand; several versions of one count once.",
            edition=ref("Edition"),
            pictures=record("", total=COUNT, sure=COUNT, unsure=COUNT, not_placed=COUNT, refused=COUNT, waiting=COUNT),
        ),
        "Equipment": record(
            "What it was taken with, as told or as a mail's words suggest.",
            aperture_mm=or_null(number()),
            eyepiece_mm=or_null(number()),
            kind=or_null(text()),
            words=text(),
        ),
        "Submission": _SUBMISSION,
        "Letter": record(
            "The text of a mail, as it was written.",
            submission_id=ID,
            kept=of("boolean", "false: the text was not kept, or was erased after its time."),
            parts=list_of(
                record("", kind=one_of(PartKind, "quoted: what it repeats of other mails."), text=text()),
                "In their order.",
            ),
        ),
        "LetterRead": request_body(
            "", ("read",), read=of("boolean", "false: it is to be read again, and holds again.")
        ),
        "Submissions": record(
            "One page.",
            submissions=list_of(ref("Submission"), "In the order in which they were stored."),
            next_after=or_null(of("integer", "`after` of the next page; null: this is the last.")),
        ),
        "PictureRow": _ROW,
        "Pictures": record(
            "One page.",
            pictures=list_of(ref("PictureRow"), "The last received first."),
            next_offset=or_null(of("integer", "`offset` of the next page; null: this is the last.")),
        ),
        "Picture": _PICTURE,
        "Placement": _PLACEMENT,
        "Feature": _FEATURE,
        "Features": record(
            "",
            picture_id=ID,
            status=STATUS,
            sure=of("boolean", "Whether they stand at their places."),
            features=list_of(ref("Feature"), "Those best made out first."),
        ),
        "Notes": record(
            "Sentences to speak, each true of this picture, in the programme's language.",
            picture_id=ID,
            language=text(),
            problem=or_null(text("Why there are none, and what to do.")),
            notes=list_of(
                record(
                    "",
                    topic=one_of(Topic),
                    about=or_null(text("The feature, as the IAU lists it; null: the Moon as a whole.")),
                    text=text(),
                ),
                "Cautions first, then the Moon, then feature by feature.",
            ),
            themes=list_of(
                record(
                    "Choices of what it shows.",
                    key=text(),
                    title=text(),
                    features=list_of(
                        text(), "In an order for revealing them; landing places are called by their missions."
                    ),
                    sentences=list_of(text(), "One on the whole, then one on each."),
                )
            ),
            claim=or_null(
                record(
                    "The claim that was asked about.",
                    claim=text(),
                    verdict=one_of(Verdict),
                    text=text("How it is, with the number."),
                    tolerance=or_null(text()),
                )
            ),
        ),
        "Consent": _CONSENT,
        "ConsentRecord": record(
            "What somebody said, or was asked, as it was noted.",
            state=one_of(ConsentState),
            kind=one_of(ConsentKind),
            evidence=text(),
            message_id=text(),
            noted_by=text(),
            noted_utc=or_null(when()),
            guardian=FLAG,
            minor=or_null(FLAG),
            picture_id=or_null(of("integer", "null: it is about the whole submission.")),
        ),
        "ConsentNoted": record("", consent=ref("Consent"), consents=list_of(ref("ConsentRecord"))),
        "ConsentNote": request_body(
            "What a sender answered, or that the question went out.",
            ("state", "kind"),
            state=one_of(ANSWERS, "given wants the words of a clear yes."),
            kind=one_of(dict(WAYS), "How it came; mail: in writing."),
            evidence=text("The sentence, word for word.", maxLength=WORDS),
            message_id=text("Of the mail that it stands in.", maxLength=MESSAGE_ID),
            guardian=of("boolean", "A guardian of the child that took it said so."),
            whole_submission=of("boolean", "It is about all that came with the picture."),
        ),
        "RundownItem": _ITEM,
        "Rundown": record(
            "What goes on air, in its order.",
            edition=EDITION,
            version=COUNT,
            seconds_for_pictures=or_null(COUNT),
            items=list_of(ref("RundownItem")),
            taken_out=list_of(
                record("", id=ID, picture_id=ID, out_utc=or_null(when()), out_by=text()), "The last one first."
            ),
            withdrawn=of("integer", "Pictures that stood here and were erased at their senders' wish.", minimum=0),
        ),
        "RundownPick": request_body("", ("picture_id",), picture_id=ID),
        "RundownEdit": request_body(
            "What is to be changed.",
            (),
            seconds=of("integer", minimum=1, maximum=MOST_SECONDS),
            credit_line=or_null(text('null: as the sender wishes; "": no name is shown.', maxLength=CREDIT)),
            pronunciation=text(maxLength=PRONUNCIATION),
            note=text(maxLength=NOTE),
        ),
        "RundownPlace": request_body(
            "",
            ("after_item_id",),
            after_item_id=of("integer", "The item after which it is to stand; 0: first.", minimum=0, maximum=MOST_ID),
        ),
        "SelenographicPoint": record("", latitude_deg=number(), longitude_deg=number("East positive.")),
        "Evening": _EVENING,
        "Evenings": record(
            "", place_known=of("boolean", "Whether the programme's place is set."), evenings=list_of(ref("Evening"))
        ),
        "Progress": record(
            "How the placing stands.",
            waiting=COUNT,
            being_placed=COUNT,
            put_aside=of("integer", "Given up; their pages say why.", minimum=0),
            placed_last_minute=COUNT,
        ),
    }
)
