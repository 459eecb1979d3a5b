"""Rebuilds annotate/notes/data/namesakes.csv: after whom the Moon's features are named, as separate facts.

    python tests/builders/build_namesakes.py GAZETTEER.csv [--out annotate/notes/data/namesakes.csv]

GAZETTEER.csv: IAU/USGS Gazetteer of Planetary Nomenclature, Moon (public domain), with the columns name, feature_type
and origin. Facts carry over (given names, nation, occupation, years), the wording does not: nations and occupations
are brought to the lists of namesake_words.py, and what is on neither is left out. A row a person, so that a crater of
two people has two; lettered satellites have none, for they bear their parent's name. Years before Christ are negative.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
import unicodedata
from dataclasses import dataclass, field, replace
from pathlib import Path

import click
from namesake_words import MENDED, NAMES, NATIONS, NOT_PEOPLE, OCCUPATIONS, SAME_NATION, TITLES
from namesakes_corrected import CORRECTED

OUT = Path(__file__).resolve().parents[2] / "annotate" / "notes" / "data" / "namesakes.csv"
COLUMNS = ("name", "what", "given", "surname", "nations", "occupations", "born", "died", "flourished", "about")
_OCCUPATION = {word: ours for ours, words in OCCUPATIONS.items() for word in words}
PARTICLES = frozenset({"von", "van", "de", "du", "den", "der", "zu", "le"})
_YEARS = re.compile(r"\(([^()]*(?:\d|unkn|cent)[^()]*)\)")


@dataclass
class Row:
    """One person, or what a name is that is no person's. about: which of "b", "d", "f" are not exact years."""

    name: str
    what: str = ""
    given: str = ""
    surname: str = ""
    nations: list[str] = field(default_factory=list)
    occupations: list[str] = field(default_factory=list)
    born: int | None = None
    died: int | None = None
    flourished: int | None = None
    about: str = ""

    @property
    def complete(self) -> bool:
        years = any(y is not None for y in (self.born, self.died, self.flourished))
        return bool(self.what) or bool(self.surname and self.nations and self.occupations and years)


def folded(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text)
    return "".join(c for c in plain if c.isalpha()).casefold()


def what_of(origin: str) -> str:
    """What the name is where it is no person's; "" for a person."""
    for what, signs in NOT_PEOPLE:
        if any(sign in origin for sign in signs):
            return what
    if not _YEARS.search(origin) and not re.search(r"\d", origin):
        return "a name of another kind"
    return ""


def years_of(text: str) -> tuple[int | None, int | None, int | None, str]:
    """Born, died, flourished and which of them are about, of "c. 408-355 B.C.", "fl. 1513", "unkn-1648", ..."""
    before = bool(re.search(r"B\.?\s?C\.?", text))
    words = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "twelfth": 12}
    if "cent" in text:
        number = next((n for word, n in words.items() if re.search(rf"{word}\s+cent", text)), None)
        found = re.search(r"(\d+)(?:st|nd|rd|th)", text)
        number = int(found.group(1)) if found else number
        if number is None:
            return None, None, None, ""
        middle = 100 * number - 50
        return None, None, -middle if before else middle, "f"
    both_eras = before and bool(re.search(r"A\.?\s?D\.?", text))
    sides = re.split(r"\s*[-–]\s*", text, maxsplit=1)
    values: list[tuple[int | None, bool]] = []
    for side in sides:
        found = re.search(r"\d+", side)
        year = int(found.group()) if found else None
        early = ("B" in side) if both_eras else before
        if year is not None and early:
            year = -year
        values.append((year, bool(re.search(r"c\.|ca|\?|/|about", side))))
    if "fl" in text:
        year, _ = next((v for v in values if v[0] is not None), (None, False))
        return None, None, year, "f"
    if len(values) == 1:
        year, _ = values[0]
        if re.search(r"\bb\.|born", text):
            return year, None, None, "b" if values[0][1] else ""
        if re.search(r"\bd\.|died", text):
            return None, year, None, "d" if values[0][1] else ""
        return None, None, year, "f"
    (born, b), (died, d) = values
    if before and not both_eras and born is not None and died is not None and born > died:
        born = -born  # "20 B.C. - A.D. 30" written short
    return born, died, None, "b" * (b and born is not None) + "d" * (d and died is not None)


def nations_of(text: str) -> tuple[list[str], str]:
    """Nations that a description begins with, and what is left of it."""
    found: list[str] = []
    rest = text.strip()
    while rest:
        match = re.match(r"(New Zealander|New Zealand|South African|[A-Z][\w]+)((?:-born)?)(?:[\s,/-]+|$)", rest)
        if match is None:
            break
        word = SAME_NATION.get(match.group(1), match.group(1))
        if word not in NATIONS:
            break
        found.append(word + match.group(2))
        rest = rest[match.end() :]
    return found, rest


def occupations_of(text: str) -> list[str]:
    found = []
    for part in re.split(r"[,;/]|\band\b", text):
        word = part.strip(" .").casefold()
        _, bare = nations_of(part.strip())
        for candidate in (word, bare.strip(" .").casefold()):
            if candidate in _OCCUPATION:
                found.append(_OCCUPATION[candidate])
                break
        else:
            if "space shuttle" in word or "challenger" in word:
                found.append("astronaut")
            else:  # "agricultural chemist": the last word is the trade
                last = word.rpartition(" ")[2]
                if last in _OCCUPATION:
                    found.append(_OCCUPATION[last])
    return list(dict.fromkeys(found))


def names_of(feature: str, given: str) -> tuple[str, str]:
    """Given names and surname, of the feature's name and of what the gazetteer has before the nation."""
    last = re.sub(r"\s*\(.*?\)| Frères$", "", feature)
    last = re.sub(r"^(Mons|Montes|Dorsa|Dorsum|Vallis|Promontorium|Mare|Rima|Rimae) ", "", last)
    last = re.sub(r"^((?:[A-Z]\. ?)+)", "", last)  # "J. Herschel"
    given = " ".join(re.sub(r"\(.*?\)|\".*?\"", "", given).split()).strip(" ,;")
    given = re.sub(r"^(?:Sir|Count|Baron) ", "", given)
    head, comma, tail = given.partition(",")
    if comma and tail.split()[:1] and tail.split()[0].strip(".") in TITLES:
        given = head.strip()
    elif comma:  # "Bienewitz, Peter"
        return _with_particles(tail.split(), head.strip())
    if not given:
        return "", last
    if re.match(r"[Oo]f ", given):
        return "", f"{last} of {given[3:]}"
    words = given.split()
    at = next((k for k, w in enumerate(words) if folded(w) == folded(last.split()[0])), None)
    if at is None:
        return _with_particles(words, last)
    if at == 0:
        if len(words) == 1 or " of " in given:
            return "", given
        return words[0], " ".join(words[1:])
    return " ".join(words[:at]), " ".join(words[at:])


def _with_particles(given: list[str], surname: str) -> tuple[str, str]:
    """ "Otto von" and "Guericke" are Otto and von Guericke."""
    words = [w for w in given if w not in ("Freiherr", "Ritter", "Edler")]
    while len(words) > 1 and words[-1].casefold() in PARTICLES:
        surname = f"{words.pop()} {surname}"
    return " ".join(words), surname


def people_of(feature: str, origin: str) -> list[Row]:
    """The people of one origin; of what is no person one row that says so."""
    origin = unicodedata.normalize("NFC", origin.strip())
    for theirs, ours in MENDED:
        origin = origin.replace(theirs, ours)
    what = what_of(origin)
    if what:
        return [Row(feature, what)]
    if not _YEARS.search(origin):  # "Greek philosopher c.428-c.347 B.C."
        found = re.search(r"\s((?:c\.\s*)?\d.*)$", origin)
        if found is None:
            return [Row(feature, "a name of another kind")]
        origin = f"{origin[: found.start()]} ({found.group(1)})"
    rows = []
    start = 0
    for match in _YEARS.finditer(origin):
        text = origin[start : match.start()].strip(" ;,.")
        start = match.end()
        parts = [p.strip() for p in text.split(";") if p.strip()]
        told = next((k for k, p in enumerate(parts) if nations_of(p)[0]), None)
        given = ""
        if told is None:
            comma = re.search(r",\s*(?=[A-Z])", text)
            if comma and nations_of(text[comma.end() :])[0]:  # "John, British instrument maker"
                given, described = text[: comma.start()], text[comma.end() :]
            else:
                described = parts[-1] if parts else ""
                given = parts[0] if len(parts) > 1 else ""
        else:
            given, described = "; ".join(parts[:told]), ", ".join(parts[told:])
        nations, rest = nations_of(described)
        born, died, flourished, about = years_of(match.group(1))
        first, last = NAMES[feature] if feature in NAMES else names_of(feature, given)
        if not (nations or occupations_of(rest)):
            continue  # brackets that hold no person's years
        rows.append(Row(feature, "", first, last, nations, occupations_of(rest), born, died, flourished, about))
    return rows or [Row(feature, "a name of another kind")]


def build(gazetteer: bytes) -> tuple[str, list[Row]]:
    """The table's text, and its rows."""
    rows: list[Row] = []
    for source in csv.DictReader(io.StringIO(gazetteer.decode("utf-8-sig"))):
        if not source["feature_type"].startswith("Satellite"):
            name = source["name"].strip()
            changes = CORRECTED[name][0] if name in CORRECTED else {}
            rows.extend(replace(row, **changes) for row in people_of(name, source["origin"]))
    rows.sort(key=lambda r: (folded(r.name), r.name))
    out = io.StringIO()
    out.write("# After whom the Moon's features are named. Made by tests/builders/build_namesakes.py.\n")
    out.write(
        "# Facts from the IAU/USGS Gazetteer of Planetary Nomenclature (public domain), SHA-256 "
        f"{hashlib.sha256(gazetteer).hexdigest()}.\n"
    )
    out.write(f"# {len(CORRECTED)} put right, each by a second source (tests/builders/namesakes_corrected.py).\n")
    out.write("# Years before Christ are negative; about: which of b (born), d (died), f (flourished) are not exact.\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for r in rows:
        writer.writerow([r.name, r.what, r.given, r.surname, ";".join(r.nations), ";".join(r.occupations),
                         *("" if y is None else y for y in (r.born, r.died, r.flourished)), r.about])  # fmt: skip
    return out.getvalue(), rows


def coverage(gazetteer: bytes, rows: list[Row]) -> tuple[int, int, list[str]]:
    """Of the near side's craters of 15 km and more: how many have complete facts, of how many; names of the others."""
    whole = {r.name for r in rows} - {r.name for r in rows if not r.complete}
    wanted = [s["name"].strip() for s in csv.DictReader(io.StringIO(gazetteer.decode("utf-8-sig")))
              if s["feature_type"].startswith("Crater") and s["lon_east"] and float(s["diameter_km"] or 0) >= 15
              and abs((float(s["lon_east"]) + 180) % 360 - 180) <= 90]  # fmt: skip
    return sum(n in whole for n in wanted), len(wanted), [n for n in wanted if n not in whole]


@click.command(help="Rebuild the table of namesakes.")
@click.argument("gazetteer", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), default=OUT)
def main(gazetteer: Path, out: Path) -> None:
    data = gazetteer.read_bytes()
    text, rows = build(data)
    out.write_bytes(text.encode("utf-8"))
    got, of, missing = coverage(data, rows)
    click.echo(f"{len(rows)} rows; near side, craters of 15 km and more: {got} of {of} with complete facts")
    click.echo(f"not: {', '.join(missing)}")


if __name__ == "__main__":
    main()
