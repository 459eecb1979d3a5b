"""The JSON line and the stored form. The keys are those of the published contract, written out here by hand."""

from __future__ import annotations

import json
import math
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from moondesk import records
from moondesk.codec import annotation_from_json, annotation_to_json
from moondesk.drawing import labels_of
from moondesk.exports.json_line import json_line, pose_of
from moondesk.sentences import SENTENCES, sentence, sentences_of

UTC_TIME = datetime(2026, 3, 25, 19, 4, 5, 250000, tzinfo=UTC)


def mark(name: str, *, size: float = 90.0, parent: str | None = None, x: float = 400.123, cos_view: float = 0.9):
    feature = records.Feature(name=name, kind="crater", lat_deg=9.7, lon_deg=-20.0, size_km=size, parent=parent)
    return records.FeatureMark(
        feature=feature,
        x=x,
        y=300.456,
        sigma_px=0.4567,
        radius_px=21.0,
        sun_altitude_deg=12.34,
        cos_view=cos_view,
        lit_fraction=1.0,
        seen=0.87654,
        prominence=0.9,
    )


def annotation() -> records.Annotation:
    candidate = records.TimeCandidate(UTC_TIME, 1.0, "exif+offset", 2.0)
    pose = records.Pose(
        x=500.004,
        y=400.0,
        radius_px=350.0,
        north_screen_deg=12.5,
        mirrored=True,
        libration_lat_deg=4.5,
        libration_lon_deg=-3.25,
        sub_solar_lat_deg=1.1,
        sub_solar_lon_deg=30.0,
        parameters=("x", "radius_px"),
        covariance=(0.04, 0.0, 0.0, 0.09),
    )
    return records.Annotation(
        status=records.Status.ANNOTATED,
        sure=True,
        width=1000,
        height=800,
        taken=records.TimeReadings(
            candidates=(candidate,), earliest_utc=None, latest_utc=None, local_text="2026:03:25 21:04:05"
        ),
        time=candidate,
        clock=records.Clock(records.ClockVerdict.AGREES, UTC_TIME, float("nan")),
        limb=records.Limb(
            x=501.0,
            y=400.0,
            radius_px=351.0,
            sigma_px=0.5,
            covariance=(1.0,) * 9,
            rms_px=0.2,
            arc_deg=190.0,
            n_points=800,
            edge_width_px=2.0,
        ),
        pose=pose,
        terminator=records.Terminator(80.0, 0.58, 270.0, 0.5),
        aspect=records.Aspect(
            when_utc=UTC_TIME,
            place=records.Place(48.0, 16.0),
            libration_lat_deg=4.5,
            libration_lon_deg=-3.2,
            sub_solar_lat_deg=1.1,
            sub_solar_lon_deg=30.0,
            axis_pa_deg=10.0,
            bright_limb_pa_deg=280.0,
            parallactic_deg=None,
            phase_angle_deg=80.0,
            illuminated_fraction=0.58,
            elongation_deg=99.0,
            semidiameter_arcsec=950.0,
            distance_km=384000.0,
            altitude_deg=None,
            azimuth_deg=None,
            colongitude_deg=60.0,
        ),
        features=(
            mark("Copernicus"),
            mark("Copernicus B", parent="Copernicus"),
            mark("Tiny", size=14.9),
            mark("Mösting A", size=12.7),
            mark("Off frame", x=1000.0),
            mark("Far side", cos_view=-0.1),
        ),
        flags=("time zone assumed",),
    )


def test_every_key_of_the_contract_is_present_and_nothing_else():
    line = json_line("a.jpg", "00ff", annotation())
    assert set(line) == {
        "schema",
        "file",
        "sha256",
        "status",
        "sure",
        "reason",
        "advice",
        "frame",
        "image",
        "taken",
        "clock",
        "evening",
        "limb",
        "shape",
        "field",
        "terminator",
        "pose",
        "features",
    }
    assert set(line["taken"]) == {"utc", "source", "sigma_minutes"}
    assert set(line["clock"]) == {"verdict", "picture_utc", "sigma_hours"}
    assert set(line["evening"]) == {"verdict", "reason", "advice"}
    assert set(line["limb"]) == {"x", "y", "radius", "sigma_px", "arc_deg"}
    assert set(line["shape"]) == {
        "flattening",
        "flattening_screen_deg",
        "tilt",
        "tilt_screen_deg",
        "tangential",
        "tangential_screen_deg",
        "radial_k1",
        "axis_x",
        "axis_y",
        "axis_scale_px",
    }
    assert set(line["terminator"]) == {"phase_angle_deg", "illuminated_fraction", "bright_limb_screen_deg", "sigma_deg"}
    assert set(line["pose"]) == {
        "x",
        "y",
        "radius_px",
        "distance_radii",
        "parameters",
        "covariance",
        "mirrored",
        "north_screen_deg",
        "sub_observer",
        "sub_solar",
        "sigma_pct_radius",
        "score",
        "rival_score",
    }
    assert set(line["features"][0]) == {
        "name",
        "kind",
        "lat",
        "lon",
        "diameter_km",
        "x",
        "y",
        "sigma_px",
        "radius_px",
        "sun_altitude_deg",
        "lit_fraction",
        "seen",
        "labelled",
        "label_x",
        "label_y",
    }


def test_values_are_rounded_and_nan_becomes_null():
    line = json_line("a.jpg", "00ff", annotation())
    json.dumps(line, allow_nan=False)
    assert line["taken"] == {"utc": "2026-03-25T19:04:05Z", "source": "exif+offset", "sigma_minutes": 1.0}
    assert line["clock"]["sigma_hours"] is None
    assert line["pose"]["score"] is None
    assert line["pose"]["sub_observer"] == [4.5, -3.25]
    copernicus = line["features"][0]
    assert (copernicus["x"], copernicus["y"], copernicus["sigma_px"]) == (400.12, 300.46, 0.457)
    label = next(k for k in labels_of(annotation()) if k.name == "Copernicus")
    at = (round(label.x, 2), round(label.y, 2))
    assert (copernicus["labelled"], copernicus["label_x"], copernicus["label_y"]) == (True, *at)


def test_the_disc_is_the_solved_one_with_its_own_sigma():
    line = json_line("a.jpg", "00ff", annotation())
    assert line["limb"] == {"x": 500.0, "y": 400.0, "radius": 350.0, "sigma_px": 0.3, "arc_deg": 190.0}
    only_limb = json_line("a.jpg", "00ff", replace(annotation(), pose=None, status=records.Status.DISC_ONLY))
    assert (only_limb["limb"]["radius"], only_limb["limb"]["sigma_px"], only_limb["pose"]) == (351.0, 0.5, None)


def test_the_line_tells_the_whole_pose_with_its_covariance():
    line = json_line("a.jpg", "00ff", annotation())
    assert (line["image"], line["frame"]) == ({"width": 1000, "height": 800}, "IAU_2015:30100")
    assert (line["pose"]["parameters"], line["pose"]["covariance"]) == (["x", "radius_px"], [[0.04, 0.0], [0.0, 0.09]])
    before, after = annotation().pose, pose_of(json.loads(json.dumps(line)))
    nans = {"score": 0.0, "rival_score": 0.0, "sigma_pct_radius": 0.0}  # nan is not equal to itself
    assert replace(after, **nans) == replace(before, **nans)


def test_named_features_of_15_km_in_the_frame_and_always_moesting_a():
    names = [f["name"] for f in json_line("a.jpg", "00ff", annotation())["features"]]
    assert names == ["Copernicus", "Mösting A"]


def test_an_annotation_with_only_a_reason_has_every_key_too():
    bare = records.Annotation(
        status=records.Status.UNREADABLE,
        sure=False,
        reasons=(sentence("few_compared", count=9), *sentences_of("The file is cut short.")),
        advices=sentences_of("Send it again."),
        width=0,
        height=0,
        taken=records.TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=records.Clock(records.ClockVerdict.NO_CLOCK, None, None),
    )
    line = json_line("b.jpg", "01", bare)
    assert line["taken"] == {"utc": None, "source": None, "sigma_minutes": None}
    assert (line["limb"], line["shape"], line["terminator"], line["pose"], line["features"]) == (None,) * 4 + ([],)
    assert line["reason"] == "Only 9 places could be compared. The file is cut short."
    assert annotation_from_json(annotation_to_json(bare)) == bare
    assert "Only" not in annotation_to_json(bare)


def test_reasons_of_the_time_when_they_were_kept_in_words_are_read():
    kept = json.loads(annotation_to_json(annotation()))
    del kept["reasons"], kept["advices"]
    old = annotation_from_json(json.dumps(kept | {"reason": "Only 9 places.", "advice": SENTENCES["check_names"]}))
    assert (old.reason, old.advice) == ("Only 9 places.", SENTENCES["check_names"])
    assert [s.code for s in (*old.reasons, *old.advices)] == ["", "check_names"]
    assert annotation_from_json(json.dumps(kept)).reasons == ()


def test_the_stored_form_keeps_everything():
    before = annotation()
    after = annotation_from_json(annotation_to_json(before))
    assert after.clock.sigma_hours is None  # a nan where None is allowed
    assert math.isnan(after.pose.score)
    nans = {"score": 0.0, "rival_score": 0.0, "sigma_pct_radius": 0.0}  # nan is not equal to itself
    plain = [replace(a, clock=replace(a.clock, sigma_hours=0.0), pose=replace(a.pose, **nans)) for a in (before, after)]
    assert plain[0] == plain[1]
    assert after.time.utc == UTC_TIME


def test_offsets_and_numpy_numbers_survive():
    odd = replace(
        annotation(),
        time=records.TimeCandidate(UTC_TIME.astimezone(timezone(timedelta(hours=5.5))), np.float64(3.5), "told"),
        terminator=records.Terminator(np.float32(80.5), 0.5, 270.0, 0.5),
    )
    back = annotation_from_json(annotation_to_json(odd))
    assert back.time.utc == UTC_TIME
    assert type(back.terminator.phase_angle_deg) is float


@pytest.mark.parametrize("number", [math.inf, math.nan])
def test_a_number_that_could_not_be_read_back_is_not_written(number):
    odd = replace(annotation(), terminator=records.Terminator(80.5, 0.5, number, 0.5))
    assert json_line("a.jpg", "00", odd)["terminator"]["bright_limb_screen_deg"] is None
    with pytest.raises(ValueError, match="bright_limb_screen_deg"):
        annotation_to_json(odd)


def test_an_infinity_that_an_older_version_wrote_is_read():
    plain = json.loads(annotation_to_json(annotation()))
    plain["terminator"]["bright_limb_screen_deg"] = "inf"
    assert annotation_from_json(json.dumps(plain)).terminator.bright_limb_screen_deg == math.inf


def test_an_older_record_reads_with_defaults_and_a_newer_key_is_passed_over():
    plain = json.loads(annotation_to_json(annotation()))
    del plain["flags"]
    plain["invented_later"] = {"a": 1}
    assert annotation_from_json(json.dumps(plain)).flags == ()


@pytest.mark.parametrize("text", ["[]", "{}", '{"status": "annotated"}', "3", "nonsense"])
def test_what_is_no_record_is_a_value_error(text):
    with pytest.raises(ValueError, match=r"."):
        annotation_from_json(text)


def test_every_field_of_the_annotation_is_in_the_stored_form():
    plain = json.loads(annotation_to_json(annotation()))
    assert set(plain) == {f.name for f in fields(records.Annotation)}
