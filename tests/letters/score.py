"""How well letters are read: the corpus in `corpus`, its truth, and a table per language and field.

    python -m tests.letters.score [open|practice|further|fifth|sixth|seventh|ninth|eighth|apart|unseen] [CODE ...] [--misses] [--field NAME]

The corpus was written before the code, as people write, by who did not write the code; its people are invented, its
towns are towns. Of each language the half "open" may be looked at by who writes the words of that language; the half
"apart" is only ever measured: --misses is refused there. "practice" is by a third hand, later, and looked at too.
"seventh" (whole mails) and "ninth" (clauses) are by later hands and may be learnt from; "eighth", by other voices, is
only measured, and nothing is trained on it. A sentence counts as a mail of its own, received on Wednesday
25 November 2026 at 10:00 of the sender's clock.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from moondesk.service.gazetteer.towns import towns_named
from moondesk.service.programme.letter.reading import LetterReading, read_letter
from moondesk.service.programme.letter.time_signs import TimeInWords
from moondesk.service.programme.mail_text import MailBody, parts_of

CORPUS = Path(__file__).parent / "corpus"
HALVES = ("open", "practice", "further", "fifth", "sixth", "seventh", "ninth", "eighth", "apart", "unseen")
#: Of some languages only: "fifth" and "sixth" by who wrote the words, each before a change to them.
OWN = ("fifth", "sixth", "seventh", "ninth", "eighth")
#: Nobody who writes words may read these.
MEASURED_ONLY = ("eighth", "apart", "unseen")
LANGUAGES = ("en", "bg", "de", "fr", "es", "pt", "hi", "mr", "ja", "ar")
WRITTEN = datetime.fromisoformat("2026-11-25T10:00:00+01:00")
FIELDS = (
    "refusal",
    "withdrawal",
    "child",
    "consent",
    "name",
    "unnamed",
    "aperture",
    "eyepiece",
    "kind",
    "place",
    "time",
)  # fmt: skip


@dataclass
class Count:
    """right, wrong: read so and true or not; missed: true and not read so; negatives: where there is nothing to read.

    held: of the missed, those that somebody must read before anything is shown."""

    right: int = 0
    wrong: int = 0
    missed: int = 0
    held: int = 0
    negatives: int = 0
    alarms: int = 0
    misses: list[str] = field(default_factory=list, repr=False)  # of MEASURED_ONLY nobody is to read them

    def add(self, other: Count) -> None:
        for name in ("right", "wrong", "missed", "held", "negatives", "alarms"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.misses += other.misses

    @property
    def precision(self) -> float:
        return self.right / (self.right + self.wrong) if self.right + self.wrong else 1.0

    @property
    def recall(self) -> float:
        return self.right / (self.right + self.missed) if self.right + self.missed else 1.0


@dataclass(frozen=True)
class Case:
    id: str
    language: str
    text: str
    subject: str
    sender: str
    written: datetime
    truth: dict[str, Any]
    is_mail: bool

    @property
    def body(self) -> MailBody:
        return parts_of(self.text)


def cases(half: str, language: str) -> Iterator[Case]:
    """half: one of HALVES; language: a code, or "unlisted" for mails in languages without a list."""
    name = f"{language}.jsonl" if language == "unlisted" else f"{language}.{half}.jsonl"
    if half in OWN and not (CORPUS / name).exists():
        return
    for line in (CORPUS / name).read_text(encoding="utf-8").splitlines():
        one = json.loads(line)
        mail = "body" in one
        yield Case(
            one["id"],
            one["truth"].get("language", language),
            one["body"] if mail else one["text"],
            one.get("subject", ""),
            one.get("from", "").partition("<")[0].strip(' "'),
            datetime.fromisoformat(one["received"]) if mail else WRITTEN,
            one["truth"],
            mail,
        )


def read(case: Case) -> LetterReading:
    return read_letter(case.subject, case.sender, case.body, case.written)


def is_ready(found: LetterReading) -> bool:
    """Whether nobody would have to look, were the programme's terms of entry consent."""
    quiet = found.consent.state == "none" and not found.consent.minor and not found.consent.withdrawal
    return quiet and found.words_read in ("none", "understood")


def judge(case: Case, found: LetterReading) -> dict[str, Count]:
    """What was read of a case, against its truth."""
    truth, said = case.truth, found.consent
    counts = {name: Count() for name in FIELDS}
    held = not is_ready(found)

    def note(name: str, wanted: object, got: object, same: bool) -> None:
        count = counts[name]
        if wanted:
            count.right += bool(got and same)
            count.missed += not (got and same)
            count.held += not (got and same) and held
        else:
            count.negatives += 1
            count.alarms += bool(got)
        count.wrong += bool(got) and not (wanted and same)
        if (wanted or got) and not (wanted and got and same):
            count.misses.append(f"{case.id} {name}: {wanted!r}, read {got!r}: {case.text!r}")

    refused = said.state == "refused" and not (truth.get("withdrawal") and truth.get("consent") != "no")
    note("refusal", truth.get("consent") == "no", refused, True)  # a withdrawal is a no, and is counted by itself
    note("withdrawal", truth.get("withdrawal", False), said.withdrawal, True)
    note("child", truth.get("child", False), said.minor, True)
    note("consent", truth.get("consent") == "yes", said.state == "suggested", True)
    name = found.value("credit")
    note("name", truth.get("name"), name, _fold(name) == _fold(truth.get("name", "")))
    note("unnamed", truth.get("unnamed"), found.value("unnamed"), True)
    for label, field_name in (("aperture", "aperture_mm"), ("eyepiece", "eyepiece_mm")):
        got = found.value(field_name)
        wanted = truth.get(field_name)
        note(
            label,
            wanted,
            got,
            bool(got and wanted) and abs(float(got) - float(wanted)) <= max(0.6, 0.004 * float(wanted)),
        )
    kind = found.value("equipment_kind")
    note("kind", truth.get("kind"), kind, kind == truth.get("kind"))
    place = found.value("place")
    note("place", truth.get("place"), place, _same_town(place, truth.get("place", ())))
    note("time", truth.get("time"), found.taken is not None, is_time(case, found.taken))
    return counts


def _same_town(place: str, names: Iterable[str]) -> bool:
    """Whether a place that was read is one of the towns that are meant: by its name, or one that bears the name too.

    Of a name it counts as one of its three largest towns: Vienna where the truth says Wien, Varanasi where Banaras."""
    if not place:
        return False
    name, _, country = place.partition(" (")[0].rpartition(", ")
    return any(
        _fold(name) == _fold(one) or any((t.name, t.country) == (name, country) for t in towns_named(one)[:3])
        for one in names
    )


def is_time(case: Case, told: TimeInWords | None) -> bool:
    """Within two of the sigmas told of what a careful reader says, and not told wider than he would."""
    if told is None or "time" not in case.truth:
        return False
    truth = case.truth["time"]
    at = datetime.fromisoformat(truth["at"]).replace(tzinfo=case.written.tzinfo)
    within = float(truth["within_min"])
    off = abs(told.at - at) / timedelta(minutes=1)
    return off <= 2 * told.sigma_minutes + 0.5 * within and told.sigma_minutes <= max(45.0, 1.5 * within)


def _fold(text: object) -> str:
    return " ".join(str(text or "").casefold().replace(".", "").split())


def table(half: str, languages: Iterable[str]) -> tuple[dict[str, dict[str, Count]], int]:
    """Counts by language and field, and how many with a refusal, withdrawal or child would be ready by themselves."""
    found: dict[str, dict[str, Count]] = {}
    ready = 0
    for language in languages:
        sums = {name: Count() for name in FIELDS}
        for case in cases(half, language):
            reading = read(case)
            for name, count in judge(case, reading).items():
                sums[name].add(count)
            grave = case.truth.get("consent") == "no" or case.truth.get("withdrawal") or case.truth.get("child")
            if grave and is_ready(reading):
                ready += 1
                sums["refusal"].misses.append(f"READY {case.id}: {case.text!r}")
        found[language] = sums
    return found, ready


def main(arguments: list[str]) -> None:
    halves = [a for a in arguments if a in HALVES] or list(HALVES)
    languages = [a for a in arguments if a in LANGUAGES] or list(LANGUAGES)
    only = arguments[arguments.index("--field") + 1] if "--field" in arguments else ""
    written = [HEAD]
    for half in halves:
        found, ready = table(half, languages)
        lines = _lines(half, found, ready)
        print("", *lines, sep="\n")
        written += ["", *lines]
        if "--misses" in arguments and half not in MEASURED_ONLY:
            for sums in found.values():
                for name, count in sums.items():
                    if not only or name == only:
                        print(*count.misses, sep="\n")
    if "--record" in arguments:
        unlisted = [case for case in cases("", "unlisted") if is_ready(read(case))]
        count = sum(1 for _ in cases("", "unlisted"))
        written += ["", f"Mails in languages without a list: {count}, ready by themselves: {len(unlisted)}.", ""]
        (CORPUS.parent / "RESULTS.md").write_text("\n".join(written), encoding="utf-8")


def _lines(half: str, found: dict[str, dict[str, Count]], ready: int) -> list[str]:
    total = {name: Count() for name in FIELDS}
    for sums in found.values():
        for name in FIELDS:
            total[name].add(sums[name])
    return [
        f"## {half.capitalize()}",
        "",
        f"| | {' | '.join(FIELDS)} |",
        f"| --- | {' | '.join(['---'] * len(FIELDS))} |",
        *(
            f"| {language} | {' | '.join(_cell(name, sums[name]) for name in FIELDS)} |"
            for language, sums in {**found, "all": total}.items()
        ),
        "",
        f"With a refusal, withdrawal or child, and ready by itself: {ready}.",
    ]


HEAD = """# How well letters are read

`python -m tests.letters.score --record`. Of refusal, withdrawal and child: recall in %, in how many % somebody must read
the letter before anything is shown, false alarms in % of the letters without one. Of the others: precision/recall in %.
In brackets how many there are to find. "open", and "practice" and "further" by other hands, were looked at by who wrote the
words of their language, "fifth" and "sixth" by themselves; "apart" and "unseen" were only measured (the yeses missed in English and Spanish
of "unseen" were read once, when no word was changed any more)."""


def _cell(name: str, count: Count) -> str:
    wanted = count.right + count.missed
    if name in ("refusal", "withdrawal", "child"):
        alarms = 100 * count.alarms / count.negatives if count.negatives else 0.0
        kept = 100 * (count.right + count.held) / wanted if wanted else 100.0
        return f"{100 * count.recall:.0f} {kept:.0f} {alarms:.0f} ({wanted})"
    return f"{100 * count.precision:.0f}/{100 * count.recall:.0f} ({wanted})"


if __name__ == "__main__":
    main(sys.argv[1:])
