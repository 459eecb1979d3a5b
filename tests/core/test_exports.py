"""FITS and GeoJSON read back by astropy and by Python's json, against a pinhole camera of OpenCV and scenes' truth."""

from __future__ import annotations

import io
import json
import math
import warnings
from dataclasses import replace
from datetime import UTC, datetime

import cv2
import numpy as np
import pytest
from air_pictures import sample, truths
from astropy.io import fits
from astropy.time import Time
from astropy.wcs import WCS

from moondesk.exports.fits import fits_file
from moondesk.exports.geojson import feature_collection
from moondesk.exports.wcs import celestial
from moondesk.moon.catalogue import find
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import NotFound, Pose

#: Latitude and longitude of well-known places (NASA RP 1097 and older lists, from memory, to a tenth of a degree).
PLACES = np.array([(-43.3, -11.4), (9.6, -20.1), (51.6, -9.4), (8.1, -38.0), (23.7, -47.4), (-58.4, -14.4),
                   (41.8, 59.0), (-8.9, 61.1), (14.0, 59.1), (27.7, 11.8), (-70.6, -5.8), (74.0, 3.4)])  # fmt: skip
WIDTH, HEIGHT = 1600, 1200
POSE = Pose(
    x=830.0,
    y=610.0,
    radius_px=480.0,
    north_screen_deg=37.0,
    mirrored=False,
    libration_lat_deg=5.1,
    libration_lon_deg=-6.3,
    sub_solar_lat_deg=1.0,
    sub_solar_lon_deg=60.0,
    distance_radii=215.0,
)


def camera(pose: Pose, lat_deg, lon_deg):
    """Pixels by a pinhole camera that looks at the Moon's centre: OpenCV's own projection and lens model (k1).

    In perspective the limb stands at asin(1/d) from the centre; the focal length makes it the disc's radius.
    """
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    points = np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=1)
    b, l0, t = (math.radians(v) for v in (pose.libration_lat_deg, pose.libration_lon_deg, pose.north_screen_deg))
    east = np.array([-math.sin(l0), math.cos(l0), 0.0])
    north = np.array([-math.sin(b) * math.cos(l0), -math.sin(b) * math.sin(l0), math.cos(b)])
    down = -np.array([math.cos(b) * math.cos(l0), math.cos(b) * math.sin(l0), math.sin(b)])
    right = math.cos(t) * east - math.sin(t) * north  # north stands t counter-clockwise from up
    low = -math.sin(t) * east - math.cos(t) * north
    turn = np.stack([right, low, down])
    d = pose.distance_radii
    focal = pose.radius_px / math.tan(math.asin(1 / d))
    # the lens bends about its axis, not about the disc: the disc stands aside, a hair in angle
    k1 = pose.radial_k1 * (focal / pose.axis_scale_px) ** 2
    matrix = np.array([[focal, 0, pose.axis_x], [0, focal, pose.axis_y], [0, 0, 1.0]])
    aside = np.array([(pose.x - pose.axis_x) / focal * d, (pose.y - pose.axis_y) / focal * d, d])
    found, _ = cv2.projectPoints(points, cv2.Rodrigues(turn)[0], aside, matrix, np.array([k1, 0, 0, 0, 0.0]))
    return found[:, 0, 0], found[:, 0, 1]


def wcs_of(cards) -> WCS:
    header = fits.Header()
    header["NAXIS"], header["NAXIS1"], header["NAXIS2"] = 2, WIDTH, HEIGHT
    for name, value, _ in cards:
        header[name] = value
    return WCS(header)


def read_back(wcs: WCS, lat_deg, lon_deg, height: int):
    x, y = wcs.all_world2pix(np.asarray(lon_deg, float), np.asarray(lat_deg, float), 0)
    return x, height - 1 - y


@pytest.mark.parametrize("turned", [0.0, 37.0, 200.0])
def test_a_camera_of_another_library_puts_every_place_on_the_same_pixel(turned):
    pose = replace(POSE, north_screen_deg=turned, axis_x=830.0, axis_y=610.0)
    x, y = read_back(wcs_of(celestial(pose, WIDTH, HEIGHT).cards), PLACES[:, 0], PLACES[:, 1], HEIGHT)
    cx, cy = camera(pose, PLACES[:, 0], PLACES[:, 1])
    assert np.hypot(x - cx, y - cy).max() < 1e-3  # px


def test_a_lens_is_approximated_to_a_hundredth_of_a_percent_and_says_how_well():
    """Half a percent at the corner is more than eyepieces and telephones leave (common practice)."""
    pose = replace(POSE, radial_k1=0.05, axis_x=(WIDTH - 1) / 2, axis_y=(HEIGHT - 1) / 2, axis_scale_px=1000.0)
    found = celestial(pose, WIDTH, HEIGHT)
    x, y = read_back(wcs_of(found.cards), PLACES[:, 0], PLACES[:, 1], HEIGHT)
    cx, cy = camera(pose, PLACES[:, 0], PLACES[:, 1])
    away = np.hypot(cx - POSE.x, cy - POSE.y)
    plain = read_back(wcs_of(celestial(replace(pose, radial_k1=0.0), WIDTH, HEIGHT).cards), *PLACES.T, HEIGHT)
    assert np.hypot(plain[0] - cx, plain[1] - cy).max() > 2  # the term matters here
    # OpenCV's camera sees the disc a little from the side, by at most 0.001 of its radius
    assert np.hypot(x - cx, y - cy).max() < 0.001 * POSE.radius_px
    assert found.residual_px < 0.0001 * POSE.radius_px
    assert away.max() < POSE.radius_px * 1.05
    back = wcs_of(found.cards).all_pix2world(x, HEIGHT - 1 - y, 0)
    assert np.abs((back[0] - PLACES[:, 1] + 180) % 360 - 180).max() < 0.01
    foc = wcs_of(found.cards)
    px = np.stack([x, HEIGHT - 1 - y], axis=1)
    there = foc.sip.foc2pix(foc.sip.pix2foc(px, 0), 0)  # AP and BP, for readers that do not iterate
    assert np.abs(there - px).max() < 0.02


def test_a_picture_taken_askew_is_approximated_and_says_how_well():
    pose = replace(POSE, tilt=0.06, tilt_screen_deg=140.0, tangential=0.02, tangential_screen_deg=300.0)
    found = celestial(pose, WIDTH, HEIGHT)
    x, y = read_back(wcs_of(found.cards), PLACES[:, 0], PLACES[:, 1], HEIGHT)
    at = surface_to_pixel(pose, PLACES[:, 0], PLACES[:, 1])
    assert np.hypot(at.x - x, at.y - y).max() < 0.002 * POSE.radius_px
    assert found.residual_px < 0.002 * POSE.radius_px


def test_a_mirror_image_and_a_flattened_disc():
    plain, mirrored = celestial(POSE, WIDTH, HEIGHT), celestial(replace(POSE, mirrored=True), WIDTH, HEIGHT)
    assert np.sign(np.linalg.det(plain.matrix)) == -np.sign(np.linalg.det(mirrored.matrix))
    flat = replace(POSE, north_screen_deg=0.0, flattening=0.02, flattening_screen_deg=0.0)  # upright, shorter upwards
    x, y = read_back(wcs_of(celestial(flat, WIDTH, HEIGHT).cards), PLACES[:, 0], PLACES[:, 1], HEIGHT)
    cx, cy = camera(replace(flat, axis_x=POSE.x, axis_y=POSE.y), PLACES[:, 0], PLACES[:, 1])
    assert np.abs(x - cx).max() < 1e-3
    assert np.abs((y - POSE.y) - 0.98 * (cy - POSE.y)).max() < 1e-3


@pytest.mark.parametrize("name", ["DSC_0412.jpg", "zenit-diagonal.jpg", "moonrise_pier.jpg"])
def test_features_of_a_placed_sample_are_where_its_scene_has_them(name):
    """Plain, mirrored, and flattened near the horizon; the bar is 0.3 %R."""
    rgb, annotation = sample(name)
    data = fits_file(rgb, annotation, "Ilse from Graz")
    assert not isinstance(data, NotFound), data
    with fits.open(io.BytesIO(data), checksum=True) as hdus:
        header, light = hdus[0].header, hdus[0].data
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        wcs = WCS(header)
    moon = truths()[name]["moon"]
    names = list(moon["features"])
    true = np.array([moon["features"][n] for n in names])
    found = [find(n) for n in names]
    x, y = read_back(wcs, [f.lat_deg for f in found], [f.lon_deg for f in found], header["NAXIS2"])
    off = 100 * np.hypot(x - true[:, 0], y - true[:, 1]) / moon["limb"]["radius"]
    assert len(names) > 100
    assert off.max() < 0.3
    assert header["OBJECT"] == "MOON"
    assert header["A_RADIUS"] == header["C_RADIUS"] == 1_737_400
    assert header["WCSNAME"] == "IAU_2015:30100"
    assert header["CTYPE1"].startswith("SELN-AZP")
    assert header["AUTHOR"] == "Ilse from Graz"
    assert light.shape == rgb.shape[:2]
    grey = rgb[::-1].astype(float).mean(axis=2)
    assert np.corrcoef(light[::7, ::7].ravel(), grey[::7, ::7].ravel())[0, 1] > 0.9  # upright, the same picture


def test_what_is_not_known_is_not_written():
    rgb, annotation = sample("DSC_0412.jpg")
    for given in (replace(annotation, sure=False), replace(annotation, pose=None)):
        assert isinstance(fits_file(rgb, given, ""), NotFound)
        assert isinstance(feature_collection(given), NotFound)
    undated = fits_file(rgb, replace(annotation, time=None), "Čáp")
    assert not isinstance(undated, NotFound)
    header = fits.getheader(io.BytesIO(undated))
    assert "DATE-OBS" not in header
    assert "AUTHOR" not in header
    assert "letters" in str(header["COMMENT"])
    with pytest.raises(ValueError, match="is wanted"):
        fits_file(rgb[:-1], annotation, "")


def test_a_date_is_utc_with_its_uncertainty():
    rgb, annotation = sample("DSC_0412.jpg")
    assert annotation.time is not None
    when = datetime(2026, 10, 20, 19, 4, 5, tzinfo=UTC)
    data = fits_file(rgb, replace(annotation, time=replace(annotation.time, utc=when, sigma_minutes=2.0)), "")
    assert not isinstance(data, NotFound)
    header = fits.getheader(io.BytesIO(data))
    assert (header["DATE-OBS"], header["TIMESYS"], header["TIMRDER"]) == ("2026-10-20T19:04:05", "UTC", 120.0)
    assert abs(header["MJD-OBS"] - Time(when).mjd) < 1e-5
    assert not {"OBSGEO-B", "OBSGEO-L", "SITELAT"} & set(header)  # nobody's garden


def test_geojson_says_that_it_is_the_moon():
    """RFC 7946: sections 3.1.2 and 4 (longitude first), 6.1 (foreign members); the terminator by the Sun's height."""
    _, annotation = sample("DSC_0412.jpg")
    told = feature_collection(annotation)
    assert not isinstance(told, NotFound)
    told = json.loads(json.dumps(told, allow_nan=False))
    assert told["type"] == "FeatureCollection"
    assert told["frame"]["crs"] == "IAU_2015:30100"
    # RFC 7946 has taken that member away; GDAL reads it all the same, and takes the Earth without it
    assert told["crs"] == {"type": "name", "properties": {"name": "urn:ogc:def:crs:IAU:2015:30100"}}
    points = {f["properties"]["name"]: f for f in told["features"] if f["geometry"]["type"] == "Point"}
    lon, lat = points["Copernicus"]["geometry"]["coordinates"]
    assert (round(lat, 1), round(lon, 1)) == (9.6, -20.1)  # gazetteer: 9.62 N, 20.08 W
    (line,) = [f["geometry"]["coordinates"] for f in told["features"] if f["geometry"]["type"] == "LineString"]
    assert len(line) > 90
    pose = annotation.pose
    assert pose is not None
    sun = np.radians([pose.sub_solar_lat_deg, pose.sub_solar_lon_deg])
    lon_, lat_ = np.radians(np.array(line)).T
    cosine = np.sin(lat_) * np.sin(sun[0]) + np.cos(lat_) * np.cos(sun[0]) * np.cos(lon_ - sun[1])
    assert np.abs(cosine).max() < 1e-4
    steps = np.hypot(*np.diff(np.array(line), axis=0).T)
    assert np.median(steps) < 3  # in order, from limb to limb
