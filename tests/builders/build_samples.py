"""Rebuilds sample_submissions/: pictures rendered from seeds, a table, mails, and an index with the truth.

    python -m tests.builders.build_samples [--out sample_submissions]

Everybody and everything in it is invented: the programme, its town and country, the senders, the makers of their
instruments. Only the coordinates are real, of open land on a real coast, so that zones and skies are plausible. Pixels,
and with them the hashes, can differ in a few values where the libraries' versions differ.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from moondesk.ephemeris.aspect import aspect_at
from tests.builders.sample_cases import CASES, HOME, PROGRAMME_TOML, ZONE, Case
from tests.scenes import Scene, north_on_screen, render, render_other, sky_north_held_upright
from tests.scenes.families import flattening_at
from tests.scenes.spec import SceneSpec

COLUMNS = ("file", "received_utc", "taken_utc", "latitude", "longitude", "place", "name", "credit", "equipment",
           "consent")  # fmt: skip
STUDIO = "Lantern Hour <moon@lanternhour.example>"


def spec_for(case: Case) -> SceneSpec:
    """The scene of a case: held as an observer there would hold it, tilted and mirrored as the case says."""
    aspect = aspect_at(case.taken_utc, case.position)
    assert aspect.altitude_deg is not None
    sky_north = sky_north_held_upright(aspect, case.tilt_deg)
    optics = case.optics
    if case.low:
        zenith = -case.tilt_deg if case.mirrored else case.tilt_deg
        optics = replace(optics, flattening=flattening_at(aspect.altitude_deg), flattening_screen_deg=zenith % 180)
    local = case.taken_utc.astimezone(ZoneInfo(ZONE)).utcoffset()
    assert local is not None
    return SceneSpec(
        case.taken_utc, case.position, *case.disc, north_on_screen(aspect, sky_north, case.mirrored), case.mirrored,
        *case.size, family=case.family, seed=case.seed, optics=optics, sky=case.sky, film=case.film,
        tags=replace(case.tags, zone_hours=local.total_seconds() / 3600), received_utc=case.received_utc,
    )  # fmt: skip


def picture_of(case: Case) -> tuple[bytes, Scene | None]:
    if case.other:
        local = case.taken_utc.astimezone(ZoneInfo(ZONE)).utcoffset()
        assert local is not None
        tags = replace(case.tags, zone_hours=local.total_seconds() / 3600)
        return render_other(case.other, case.seed, *case.size, tags, case.taken_utc, case.position), None
    scene = render(spec_for(case))
    return scene.data, scene


def mail_of(case: Case, data: bytes) -> bytes:
    """The mail in which a case came: plain text and one attachment, as mail programs write it."""
    assert case.mail is not None
    message = EmailMessage(policy=SMTP)
    via = f"from mx.{case.mail.address.split('@')[1]} by post.lanternhour.example; "
    message["Received"] = via + format_datetime(case.received_utc)
    message["From"] = f"{case.mail.sender} <{case.mail.address}>"
    message["To"] = STUDIO
    message["Subject"] = case.mail.subject
    message["Date"] = format_datetime((case.received_utc - timedelta(seconds=8)).astimezone(ZoneInfo(ZONE)))
    message["Message-ID"] = f"<{hashlib.sha256(data).hexdigest()[:20]}@{case.mail.address.split('@')[1]}>"
    message.set_content(case.mail.text, cte="quoted-printable")
    message.add_attachment(data, maintype="image", subtype="jpeg", filename=case.file)
    message.set_boundary("=_" + hashlib.sha256(case.file.encode()).hexdigest()[:24])
    return message.as_bytes()


def index_row(case: Case, file: str, data: bytes, scene: Scene | None) -> dict[str, Any]:
    row: dict[str, Any] = {
        "file": file, "attachment": case.file if case.mail else None, "licence": "CC0-1.0",
        "sha256": hashlib.sha256(data).hexdigest(), "family": case.family, "status": case.status,
        "also_acceptable": list(case.also), "note": case.note, "taken_utc": case.taken_utc.isoformat(),
        "clock_error_h": case.tags.clock_error_h,
    }  # fmt: skip
    if scene is None:
        return {**row, "moon": None}
    truth = scene.truth
    keys = ("width", "height", "limb", "mirrored", "north_screen_deg", "phase_angle_deg", "flattening", "radial_k1")
    marks = [f for f in truth["features"] if f["diameter_km"] >= 80 and f["sun_alt_deg"] > 2]
    return {
        **row,
        "moon": {k: truth[k] for k in keys}
        | {
            "sub_observer": truth["sub_observer_lat_lon"],
            "sub_solar": truth["sub_solar_lat_lon"],
            "features": {f["name"]: [f["x"], f["y"]] for f in marks},
        },
    }


def build(out: Path) -> Iterator[str]:
    """Writes everything; yields a line for each file."""
    out.mkdir(parents=True, exist_ok=True)
    index, table = [], []
    for case in CASES:
        data, scene = picture_of(case)
        name = case.mail.file if case.mail else case.file
        written = mail_of(case, data) if case.mail else data
        (out / name).write_bytes(written)
        row = index_row(case, name, data, scene)
        if case.mail:
            row["sha256_of_mail"] = hashlib.sha256(written).hexdigest()
        else:
            at = case.told_position
            table.append([
                name, case.received_utc.isoformat(),
                case.taken_utc.isoformat(timespec="seconds") if case.told_time else "",
                at.latitude_deg if at else "", at.longitude_deg if at else "", case.place, case.name, case.credit,
                case.equipment, case.consent,
            ])  # fmt: skip
        index.append(row)
        yield f"{name}  {len(written) / 1e3:.0f} kB"
    with (out / "submissions.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(table)
    heading = {
        "about": "Invented submissions to an invented programme. Every picture is rendered (tests/scenes) and its "
        "truth known. Screen angles count from up, counter-clockwise; pixels are those of the picture as displayed.",
        "licence": "CC0-1.0", "licence_url": "https://creativecommons.org/publicdomain/zero/1.0/",
        "author": "the moondesk project",
        "data": "Rendered from Clementine UVVIS 750 nm albedo (NASA/USGS) and LRO LOLA heights (NASA), public domain",
        "zone": ZONE, "home": [HOME.latitude_deg, HOME.longitude_deg],
    }  # fmt: skip
    # a line for each file: readable, and a change shows where it belongs
    lines = ",\n".join("  " + json.dumps(row, ensure_ascii=False) for row in index)
    top = json.dumps(heading, ensure_ascii=False, indent=1).removesuffix("\n}")
    text = top + ',\n "files": [\n' + lines + "\n ]\n}\n"
    (out / "index.json").write_text(text, encoding="utf-8")
    (out / "programme.toml").write_text(PROGRAMME_TOML, encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.builders.build_samples", description=__doc__)
    parser.add_argument("--out", type=Path, default=Path(__file__).resolve().parents[2] / "sample_submissions")
    for line in build(parser.parse_args().out):
        print(line, flush=True)


if __name__ == "__main__":
    main()
