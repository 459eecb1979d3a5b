"""The shell's records: who sent what for which edition, and what was made of it. `annotate` need not know them.

    Arrival (with its Enclosures)  -> Submission, SentPicture -> StoredAnnotation + Derived files -> pages

Times are timezone-aware UTC datetimes; evenings are calendar dates in the programme's zone (an evening runs from noon
to noon). An id is the store's row number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Literal

from moondesk.sentences import Sentence, join_words
from moondesk.service.arrivals import ARRIVAL_WAYS, Way
from moondesk.service.store.messages import StoredMessage

if TYPE_CHECKING:  # the command line needs these records before, and often without, the core
    from moondesk.records import Annotation, ClockVerdict, EveningVerdict, Known, Place, Status, TimeCandidate

EditionKind = Literal["live", "recorded"]


@dataclass(frozen=True, kw_only=True)
class EditionPlan:
    """One edition of the programme as the editors plan it."""

    number: int
    kind: EditionKind = "live"
    #: When it is recorded (None when live) and when it goes on air; None while not settled.
    recording_utc: datetime | None = None
    air_utc: datetime | None = None
    #: The evening or evenings whose Moon it is about. Words for air take the day from a picture's own evening.
    evenings: tuple[date, ...] = ()
    #: The programme's day of the lunation on the (first) evening; None while no evening is settled.
    day_number: int | None = None


@dataclass(frozen=True)
class Edition:
    """An edition in the store. Submissions, and later picks, notes and history, refer to its id."""

    id: int
    plan: EditionPlan


@dataclass(frozen=True, kw_only=True)
class Enclosure:
    """One file of an arrival: a picture, or something refused."""

    #: Name as the sender gave it; text only, never a path.
    given_name: str
    size_bytes: int
    #: Key of the original in the media store; None where its bytes were not kept.
    sha256: str | None
    #: As sniffed from the bytes, never as declared; None where unknown.
    media_type: str | None
    #: Why it cannot be used, and what to do; none for a picture.
    refusal: tuple[Sentence, ...] = ()

    @property
    def refused(self) -> str | None:
        return join_words(self.refusal) or None


SuggestedField = Literal[
    "aperture_mm",
    "eyepiece_mm",
    "equipment_kind",
    "camera",
    "consent",
    "minor",
    "guardian",
    "withdrawal",
    "credit",
    "unnamed",
    "forwarded",
    "place",
    "taken",
    "language",
    "story",
]


@dataclass(frozen=True)
class Suggestion:
    """Something read from words by a rule: to be shown with its words and its source, and never taken for told."""

    field: SuggestedField
    value: str
    #: The words it was read from, as they were written.
    words: str
    #: Where they stand: "mail" (the sender's own words in it), "form" (ticked or told there), "answer" (a later mail).
    source: str
    #: Read back from the store only: of an answer the submission that it is, when it was stored, and its Message-ID.
    letter_id: int | None = None
    noted_utc: datetime | None = None
    message_id: str = ""


@dataclass(frozen=True)
class Answer:
    """What a mail says about the picture of the one that it answers. bare: a yes or no that says of nothing else what it
    is about, so that it counts only where the question was asked."""

    state: Literal["suggested", "refused", "unclear"]
    words: str
    bare: bool = False


@dataclass(frozen=True)
class Bounce:
    """That one of these mails, by their Message-IDs, could not be delivered, and why, as the server words it."""

    message_ids: tuple[str, ...]
    why: str


#: Whether the words of what came in were understood. "none": there were no words; "": nobody has looked, as in what an
#: older release stored. The programme's own terms count only with "none" and "understood".
WordsRead = Literal["", "none", "understood", "not_understood"]
#: "letter": a mail that a person must read, and that holds its sender's pictures until then; "machine": written by a
#: program (a bounce, an absence), which holds nothing; "": neither.
LetterKind = Literal["", "letter", "machine"]


PartKind = Literal["own", "quoted", "signature"]


@dataclass(frozen=True)
class LetterPart:
    """A stretch of a mail's text, as plain text of several lines."""

    kind: PartKind
    text: str


ConsentState = Literal["given", "refused", "asked"]
ConsentKind = Literal["form", "mail", "phone", "person", "table"]


@dataclass(frozen=True, kw_only=True)
class ConsentRecord:
    """What somebody has said, or was asked, about showing a picture. Records are added, never changed.

    kind: how it came; "asked" is a state: the question went out by that way. A record of what a mail's words suggest
    is made only when a person has read them.
    """

    state: ConsentState
    kind: ConsentKind
    #: The sentence, word for word; the name of the form and its version.
    evidence: str = ""
    #: Of the mail that the sentence stands in.
    message_id: str = ""
    #: Who noted it: a person of the programme, "the sender" on a form, the name of a table.
    noted_by: str = ""
    #: None: when it is stored.
    noted_utc: datetime | None = None
    #: The picture that it is about; None: all of its submission.
    picture_id: int | None = None
    #: Said by a guardian of the child that took it.
    guardian: bool = False
    #: Whether a child took it, where this record says so; None: it says nothing.
    minor: bool | None = None


#: What a sender is asked by a link, see `programme.questions`.
QuestionKind = Literal["consent", "guardian", "name", "taken"]


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """What came in, before it is stored: one mail, or one loose picture with its row of the table."""

    #: Recognises the same thing on a second run: "mail:", "file:" or "form:" and the SHA-256 of its bytes.
    key: str
    #: Name of the way by which it came, see `way`.
    source: str
    #: File it was taken from, relative to the folder.
    origin: str
    enclosures: tuple[Enclosure, ...]
    received_utc: datetime | None = None
    sender_name: str = ""
    sender_address: str = ""
    #: Where answers go, if elsewhere.
    answer_to: str = ""
    #: Credit exactly as to be shown; empty: the sender's name.
    credit_line: str = ""
    subject: str = ""
    message_id: str = ""
    #: Time of the exposure where somebody has said so.
    taken_utc: datetime | None = None
    place: Place | None = None
    place_name: str = ""
    equipment: str = ""
    #: What the presenter may tell of it, as kept at the desk.
    story: str = ""
    #: Words in which the sender agreed to be shown; empty: nobody has said so yet.
    consent: str = ""
    #: Sentences about what could not be read of it (a bad date, a header in an unknown alphabet ...).
    remarks: tuple[Sentence, ...] = ()
    #: Read from what the sender wrote.
    suggestions: tuple[Suggestion, ...] = ()
    #: Where else it was sent or shown, as typed at the desk: the channel's name, and a link to it.
    channel: str = ""
    link: str = ""
    #: SHA-256 of the token in the sender's receipt link; None where no receipt was given.
    receipt: str | None = None
    #: What came with it as told, a form's tick or a table's cell; read back from the store: all that was noted since.
    consents: tuple[ConsentRecord, ...] = ()
    #: Of a mail: whether its words were understood, its text, and whether it is (also) a letter to be read.
    words_read: WordsRead = ""
    text: tuple[LetterPart, ...] = ()
    letter: LetterKind = ""
    #: Message-IDs of what it answers; the addresses that it comes from, answers go to, or whose mail it forwards. service:
    #: that of a form or list which passed it on, in whose mails others write too.
    answers: tuple[str, ...] = ()
    addresses: tuple[str, ...] = ()
    service: str = ""
    #: What it says about what it answers; which mails it says could not be delivered.
    answer: Answer | None = None
    bounce: Bounce | None = None
    #: SHA-256 of those of its pictures that are as small as a signature's.
    small: tuple[str, ...] = ()
    #: Read back from the store only: ids of letters from its sender that nobody has read yet.
    held_by: tuple[int, ...] = ()
    #: Who at the desk told `taken_utc`; empty: it came with the picture. How well it is known where a night was named.
    taken_by: str = ""
    taken_sigma_minutes: float | None = None

    @property
    def way(self) -> Way:
        return ARRIVAL_WAYS[self.source]

    def known(self, zones: tuple[str, ...] = ()) -> Known:
        """What the placing may take for granted."""
        from moondesk.records import Known

        known = Known(
            received_utc=self.received_utc,
            taken_utc=self.taken_utc,
            place=self.place,
            zones=zones,
            letter=next((time_in_letter(s.value) for s in self.suggestions if s.field == "taken"), None),
        )
        return (
            known if self.taken_sigma_minutes is None else replace(known, taken_sigma_minutes=self.taken_sigma_minutes)
        )


def time_in_letter(value: str) -> TimeCandidate | None:
    """A suggestion of `taken` as a reading: "2026-11-24T21:30+02:00 ±15 min"; None for anything else."""
    from moondesk.records import TimeCandidate

    read = re.fullmatch(r"(\S+) ±(\d+(?:\.\d+)?) min", value)
    try:
        at = datetime.fromisoformat(read[1]) if read else None
    except ValueError:
        return None
    if at is None or read is None or at.tzinfo is None:
        return None
    offset = at.utcoffset()
    return TimeCandidate(
        at.astimezone(UTC),
        max(1.0, float(read[2])),
        "letter",
        offset.total_seconds() / 3600 if offset is not None else None,
    )


@dataclass(frozen=True)
class Submission:
    """An arrival in the store."""

    id: int
    edition_id: int
    stored_utc: datetime
    arrival: Arrival


@dataclass(frozen=True)
class SentPicture:
    """One enclosure in the store."""

    id: int
    submission: Submission
    enclosure: Enclosure


@dataclass(frozen=True, kw_only=True)
class StoredAnnotation:
    """An annotation and who made it when; a picture's newest one counts, older ones are kept."""

    picture_id: int
    annotation: Annotation
    engine_version: str
    made_utc: datetime
    #: Folder of the pictures derived with it (see `media.Media.derived_folder`).
    derived_key: str
    #: What was measured of the picture, see `measured`; empty where nothing was.
    quality: str = ""


@dataclass(frozen=True, kw_only=True)
class AnnotationSummary:
    """What a list shows of an annotation, read without unpacking it."""

    status: Status
    sure: bool
    reason: str
    taken_utc: datetime | None
    time_source: str
    clock_verdict: ClockVerdict
    #: Names of what is best seen, best first.
    best_seen: tuple[str, ...]
    derived_key: str
    quality: str = ""
    #: As the file names it; empty where it does not.
    camera: str = ""
    #: `EveningKnowledge.verdict`; None: placed by a release that did not tell it.
    evening: EveningVerdict | None = None


@dataclass(frozen=True, eq=False)  # rows that did not change give the same record: what follows from it is kept by it
class ListedPicture:
    """A picture with its summary; None while it waits to be placed (or was refused)."""

    picture: SentPicture
    summary: AnnotationSummary | None
    #: How many other versions of it are stored, and what the tool asks about them.
    versions: int = 0
    asked: tuple[str, ...] = ()
    #: Others that are the same picture, or may be, and of which nobody has said that they are not.
    twins: tuple[SentPicture, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ListedSubmission:
    """A submission with all it holds, in the mail's order; the text is the newest annotation's status, None: waits."""

    submission: Submission
    edition_number: int
    pictures: tuple[tuple[Enclosure, str | None], ...]
    #: All of its consent records, the oldest first.
    consents: tuple[ConsentRecord, ...] = ()
    #: Ids of `pictures`, in their order, and why each is put aside; "" where it is not.
    picture_ids: tuple[int, ...] = ()
    quarantined: tuple[str, ...] = ()
    #: SHA-256 of the picture that each is a version of, the best one; None for that itself.
    version_of: tuple[str | None, ...] = ()
    #: What the tool asks about each: sentences.
    asked: tuple[tuple[str, ...], ...] = ()
    #: Others that are the same as one of its pictures, or may be, and of which nobody has said that they are not.
    twins: tuple[SentPicture, ...] = ()
    #: Whether it is a letter, and who has read it when.
    letter: LetterKind = ""
    letter_read_utc: datetime | None = None
    letter_read_by: str = ""


@dataclass(frozen=True, kw_only=True)
class SketchRow:
    """What is kept of a picture to find its copies. stance: the fields of `moondesk.duplicates.fingerprint.ViewingGeometry`, None where
    the placement is not sure. clock: as `TimeReadings.local_text`. What follows it is read only: told with the submission."""

    picture_id: int
    sketch: bytes
    stance: tuple[float, bool, float, float, float] | None = None
    clock: str | None = None
    sha256: str = ""
    sender_address: str = ""
    sender_name: str = ""
    channel: str = ""


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two pictures that the tool takes for one ("version_of"), or about which it asks ("ask"), and what a person said.

    message: why, for the presenter. unexplained: see `moondesk.duplicates.likeness`; None for the same bytes.
    """

    picture_id: int
    other_id: int
    kind: Literal["version_of", "ask"]
    better_id: int
    message: StoredMessage
    unexplained: float | None = None
    id: int = 0
    decided: Literal["same", "different"] | None = None
    decided_by: str = ""
    decided_utc: datetime | None = None

    @property
    def words(self) -> str:
        return self.message.words()

    @property
    def stands(self) -> bool:
        """Whether the two count as one picture."""
        return self.decided == "same" or (self.decided is None and self.kind == "version_of")

    @property
    def open(self) -> bool:
        """Whether it waits for a person."""
        return self.decided is None and self.kind == "ask"


@dataclass(frozen=True, kw_only=True)
class Lease:
    """A picture that one worker has for itself until `until_utc`."""

    picture: SentPicture
    owner: str
    until_utc: datetime
    #: How often it was leased for this version of the engine, this time included, and how often it failed.
    attempts: int
    failures: int


@dataclass(frozen=True)
class QueueCounts:
    """How many pictures wait, are being placed, are put aside."""

    waiting: int
    leased: int
    quarantined: int


@dataclass(frozen=True)
class ReceiptPicture:
    """A picture as its sender is told of it. status: the newest annotation's, None while it waits."""

    given_name: str
    refused: str | None
    status: Status | None
    aired_utc: datetime | None


@dataclass(frozen=True, kw_only=True)
class Receipt:
    """What a receipt link shows. submission_id None: all of it was erased at `erased_utc`."""

    submission_id: int | None
    stored_utc: datetime | None = None
    credit: str = ""
    pictures: tuple[ReceiptPicture, ...] = ()
    erased_utc: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Counts:
    """How many of an edition's pictures stand where."""

    total: int = 0
    sure: int = 0
    unsure: int = 0
    not_placed: int = 0
    refused: int = 0
    waiting: int = 0


@dataclass(frozen=True, kw_only=True)
class Appearance:
    """A picture that was on air. sender: see `sender_key`."""

    picture_id: int
    sender: str
    edition_number: int
    aired_utc: datetime
    #: Name of the place that it was sent from; empty where none was told.
    place_name: str = ""


StepKind = Literal["picture", "plan_b", "blank", "nothing"]


@dataclass(frozen=True, kw_only=True)
class LoggedStep:
    """What stood on air from then on. layers: (kind, title) over the photograph; credit: as it stood, "" where no name
    was shown. picture_id None: no picture, or its sender was forgotten. other_...: of the second picture of a view with
    two."""

    begin_utc: datetime
    kind: StepKind
    item_id: int | None = None
    picture_id: int | None = None
    view: str = ""
    feature: str = ""
    layers: tuple[tuple[str, str], ...] = ()
    credit: str = ""
    other_item_id: int | None = None
    other_picture_id: int | None = None
    other_credit: str = ""


@dataclass(frozen=True)
class OnAirTime:
    """From when to when an edition was on air. end_utc None: it is; who: noted it, "" where it is the edition's plan."""

    begin_utc: datetime
    end_utc: datetime | None
    who: str = ""


def sender_key(address: str, name: str) -> str:
    """Who sent it, as two submissions are compared: by address, or by name where no address is known."""
    return (address or name).strip().casefold()
