"""Frames for air: what a broadcast asks of every frame and layer, measured on the pixels where that is possible.

Limits are those of figures F: text inside x 192 to 1727 and y 54 to 1025 of 1920 x 1080 and in proportion, capitals 30
lines high at 1080 lines and 26 on an opaque plate, contrast 4.5 to 1 (WCAG 2.2, success criterion 1.4.3).
"""

from __future__ import annotations

import io
import itertools
import xml.etree.ElementTree as ET
from dataclasses import replace

import air_pictures
import exifread
import numpy as np
import pytest
from air_pictures import contrast, haversine_km, on_disc, on_moon, sample, truths
from PIL import Image
from scipy.ndimage import maximum_filter

from moondesk.drawing.broadcast import LAYERS, WORDS, flatten, frame_layers, layer_rgba
from moondesk.drawing.composition import ASIDE
from moondesk.drawing.frame import FORMATS, FrameRequest, Texts, Zoom
from moondesk.drawing.frame_names import LEADING
from moondesk.drawing.paint import paint, rgb_of
from moondesk.drawing.shapes import Fill, Path, RasterShape
from moondesk.drawing.svg import frame_svg
from moondesk.drawing.text import set_line
from moondesk.drawing.theme import NIGHTGLASS
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import pixel_to_surface, surface_to_pixel
from moondesk.records import NotFound

SIZES = {"hd": (1920, 1080), "uhd": (3840, 2160), "vertical": (1080, 1920)}
TEXTS = Texts(
    credit="Þórunn Vale und der Verein der Sternfreunde am See",
    lines=("102 mm achromat, 25 mm eyepiece, telephone on a bracket", "Day 8 of the lunation, 17 October 2026"),
)
NAMES = ("Copernicus", "Plato", "Tycho", "Clavius", "Ptolemaeus", "Aristoteles", "Theophilus", "Montes Apenninus")
#: Half lit and soft; burnt out and full; mirrored by a lens that bends; cut by the frame; in a bright sky.
CASES = {
    "half": ("20261017_211435.jpg", "hd", None, 0.0),
    "burnt out": ("20261025_013118.jpg", "hd", None, 0.0),
    "mirrored": ("IMG_0088.jpg", "vertical", None, 0.0),
    "low": ("moonrise_pier.jpg", "uhd", None, 37.0),
    "crescent": ("IMG_2231.jpg", "vertical", None, 300.0),
    "daylight": ("IMG_0457.jpg", "hd", None, 0.0),
    "close-up": ("20261025_013118.jpg", "hd", Zoom(9.6, -20.1, 600), 0.0),
    "upright close-up": ("moonrise_pier.jpg", "vertical", Zoom(-43.3, -11.2, 800), 120.0),
    "close-up, mirrored": ("IMG_0088.jpg", "hd", Zoom(51.6, -9.4, 700), 0.0),
}


def wanted(format_name, **more):
    return FrameRequest(format=FORMATS[format_name], texts=TEXTS, features=NAMES, **more)


#: Looked at by hand only (pytest -m slow).
SLOW = ("burnt out", "crescent", "close-up, mirrored")


@pytest.fixture(
    scope="module", ids=CASES, params=[pytest.param(k, marks=pytest.mark.slow) if k in SLOW else k for k in CASES]
)
def frame(request):
    name, format_name, zoom, north = CASES[request.param]
    found = frame_layers(*sample(name), wanted(format_name, zoom=zoom, north_screen_deg=north))
    assert not isinstance(found, NotFound), found
    return found


def boxes(frame):
    return [(layer, text) for layer in frame.layers for text in layer.texts]


def test_sizes_and_alpha(frame):
    width, height = SIZES[frame.format.name]
    assert flatten(frame).shape == (height, width, 3)
    picture, *others = frame.layers
    assert picture.name == "picture"
    assert picture.base
    assert (layer_rgba(frame, picture)[..., 3] == 255).all()
    for layer in others:
        pixels = layer_rgba(frame, layer)
        assert pixels.shape == (height, width, 4)
        assert pixels[..., 3].max() >= 200, layer.name
        assert (pixels[..., 3] == 0).mean() > (0.5 if layer.kind == "credit" else 0.9), layer.name


def test_layers_on_top_of_each_other_are_the_frame(frame):
    """By Pillow's own compositing."""
    canvas = Image.new("RGBA", SIZES[frame.format.name])
    for layer in frame.layers:
        canvas.alpha_composite(Image.fromarray(layer_rgba(frame, layer)))
    assert np.abs(np.asarray(canvas)[..., :3].astype(int) - flatten(frame)).max() <= 6  # rounded a few times


def test_text_keeps_inside_the_safe_area(frame):
    width, height = SIZES[frame.format.name]
    assert len(boxes(frame)) >= 6
    for _, text in boxes(frame):
        b = text.box
        assert b.x0 >= 192 / 1920 * width - 0.5, text
        assert b.x1 <= 1728 / 1920 * width + 0.5, text
        assert b.y0 >= 54 / 1080 * height - 0.5, text
        assert b.y1 <= 1026 / 1080 * height + 0.5, text


def test_boxes_are_where_the_letters_are(frame):
    """Pixels of the credit's own white lie in the stated boxes, and reach their edges."""
    layer = next(layer for layer in frame.layers if layer.name == "credit")
    white = [t for t in layer.texts if t.colour == layer.texts[0].colour]
    pixels = layer_rgba(frame, layer)
    y, x = np.nonzero((pixels[..., :3] == rgb_of(white[0].colour)).all(axis=2))
    assert x.min() == pytest.approx(min(t.box.x0 for t in white), abs=2.5)
    assert x.max() == pytest.approx(max(t.box.x1 for t in white), abs=2.5)
    assert y.min() == pytest.approx(min(t.box.y0 for t in white), abs=2.5)
    assert y.max() == pytest.approx(max(t.box.y1 for t in white), abs=2.5)


def test_letters_are_high_enough(frame):
    """Smaller ones on an opaque plate, or on the frame's own black sky: no pixel round them brighter than 40 of 255."""
    lines = min(SIZES[frame.format.name]) / 1080
    picture = layer_rgba(frame, frame.layers[0])[..., :3].max(axis=2)
    for layer, text in boxes(frame):
        b = text.box
        black = picture[int(b.y0) : int(b.y1) + 1, int(b.x0) : int(b.x1) + 1].max() <= 40
        assert text.cap_px >= (26 if text.plate or black else 30) * lines, text
        if text.plate:  # nothing shines through
            b = text.box
            under = layer_rgba(frame, layer)[int(b.y0) : int(b.y1) + 1, int(b.x0) : int(b.x1) + 1, 3]
            assert (under == 255).all(), text


def test_contrast_of_every_text_against_its_own_ground(frame):
    """The worst pixel of the frame without letters, and with every layer below: 4.5 to 1 at least. Of bare letters with
    a dark edge: the pixels that touch them, with their edges drawn and they themselves in the edge's colour."""
    canvas = np.zeros((frame.format.height, frame.format.width, 4), np.uint8)
    for layer in frame.layers:
        letters = [s for s in layer.shapes if isinstance(s, Fill) and s.says]
        edges = [replace(s, colour=s.halo) for s in letters if s.halo]
        paint(canvas, [*(s for s in layer.shapes if not (isinstance(s, Fill) and s.says)), *edges])
        for text in layer.texts:
            b = text.box
            part = np.s_[int(b.y0) : int(np.ceil(b.y1)), int(b.x0) : int(np.ceil(b.x1))]
            ground = canvas[part][..., :3]
            if text.halo:
                own = np.zeros_like(canvas)
                paint(own, [replace(s, halo="") for s in letters if s.says == text.text])
                ink = own[part][..., 3]
                ground = ground[(maximum_filter(ink, 5) > 127) & (ink < 250)]
            assert contrast(rgb_of(text.colour), ground).min() >= 4.5, (layer.name, text)


def test_no_text_touches_another(frame):
    for (one, a), (other, b) in itertools.combinations(boxes(frame), 2):
        assert not a.box.touches(b.box), (one.name, a.text, other.name, b.text)


def test_no_text_is_hidden_by_what_is_revealed_later(frame):
    """As many pixels of its own colour in the whole frame as in its layer."""
    whole = flatten(frame)
    for layer in frame.layers:
        pixels = layer_rgba(frame, layer) if layer.texts else None
        for text in layer.texts:
            b = text.box
            part = slice(int(b.y0), int(b.y1) + 1), slice(int(b.x0), int(b.x1) + 1)
            shown, own = ((p[part][..., :3] == rgb_of(text.colour)).all(axis=2).sum() for p in (whole, pixels))
            assert own > 50
            assert shown >= 0.99 * own, (layer.name, text)


def test_every_line_leads_to_the_feature_it_names(frame):
    """Its end lies nearest to that feature of all that are shown, by the published formula; it runs through no other's
    ring."""
    places = {f.name: f for f in all_features()}
    at = {}
    for layer in frame.layers:
        if layer.kind == "feature" and places[layer.title].kind == "crater":
            u, v = on_disc(
                places[layer.title].lat_deg,
                places[layer.title].lon_deg,
                frame.pose.libration_lat_deg,
                frame.pose.libration_lon_deg,
            )
            t = np.radians(frame.pose.north_screen_deg)
            r = frame.pose.radius_px
            at[layer.title] = np.array(
                [frame.pose.x + r * (u * np.cos(t) - v * np.sin(t)), frame.pose.y - r * (u * np.sin(t) + v * np.cos(t))]
            )
    for layer in frame.layers:
        if layer.title not in at:
            continue
        lines = [np.array(s.points) for s in layer.shapes if isinstance(s, Path) and s.layer == LEADING]
        for line in lines:
            assert min(at, key=lambda name: np.hypot(*(at[name] - line[0]))) == layer.title
        for start, end in (pair for line in lines for pair in itertools.pairwise(line)):
            for other in set(at) - {layer.title}:
                t = np.clip((at[other] - start) @ (end - start) / max((end - start) @ (end - start), 1e-9), 0, 1)
                ring = places[other].size_km / 2 / 1737.4 * frame.pose.radius_px
                assert np.hypot(*(start + t * (end - start) - at[other])) > 0.6 * ring, (layer.title, other)


def test_one_svg_with_a_group_for_each_layer(frame):
    root = ET.fromstring(frame_svg(frame))
    width, height = SIZES[frame.format.name]
    assert (root.get("width"), root.get("height")) == (str(width), str(height))
    space = "{http://www.w3.org/2000/svg}"
    assert [g.get("id") for g in root.findall(f"{space}g")] == [layer.name for layer in frame.layers]
    assert not list(root.iter(f"{space}text"))  # letters are outlines: no typeface is wanted
    assert not list(root.iter(f"{space}script"))
    for image in root.iter(f"{space}image"):
        assert image.get("href").startswith("data:image/")
    said = {p.get("aria-label") for p in root.iter(f"{space}path")}
    assert {t.text for _, t in boxes(frame)} <= said


def test_no_metadata_of_the_photograph(frame):
    """The picture within the SVG, read by two libraries: none of the sample's EXIF is in it."""
    import base64

    for image in ET.fromstring(frame_svg(frame)).iter("{http://www.w3.org/2000/svg}image"):
        data = base64.b64decode(image.get("href").partition(",")[2])
        opened = Image.open(io.BytesIO(data))
        assert not opened.getexif()
        assert not set(opened.info) - {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
        assert not exifread.process_file(io.BytesIO(data))


def test_the_same_wish_gives_the_same_frame():
    rgb, annotation = sample("20261017_211435.jpg")
    one, other = (flatten(frame_layers(rgb, annotation, wanted("hd"))) for _ in range(2))
    assert (one == other).all()


@pytest.mark.parametrize("name", ["IMG_0088.jpg", "20261017_211435.jpg", "moonrise_pier.jpg"])
def test_upright_whatever_the_picture_was(name):
    """Mirrored with a lens that bends, turned, flattened: brightness at the features' places by the published formula
    and the scene's true libration is that of the picture at their true pixels, and not that of the mirror image's."""
    import cv2

    moon = truths()[name]["moon"]
    rgb, annotation = sample(name)
    frame = frame_layers(rgb, annotation, wanted("hd"))
    picture = frame.layers[0].shapes[0]
    assert isinstance(picture, RasterShape)
    places = {m.feature.name: m.feature for m in annotation.features}
    blurred = [
        cv2.GaussianBlur(a.mean(axis=2), (0, 0), s)
        for a, s in ((rgb, 4.0), (picture.pixels, 4.0 * frame.pose.radius_px / moon["limb"]["radius"]))
    ]
    pairs, mirrored = [], []
    for feature, (x, y) in moon["features"].items():
        if feature not in places:
            continue
        u, v = on_disc(places[feature].lat_deg, places[feature].lon_deg, *moon["sub_observer"])
        if u * u + v * v > 0.95:
            continue
        there = blurred[0][round(y), round(x)]
        r = frame.pose.radius_px
        pairs.append((there, blurred[1][round(frame.pose.y - r * v), round(frame.pose.x + r * u)]))
        mirrored.append((there, blurred[1][round(frame.pose.y - r * v), round(frame.pose.x - r * u)]))
    assert len(pairs) > 40
    assert np.corrcoef(np.array(pairs).T)[0, 1] > 0.985
    assert np.corrcoef(np.array(mirrored).T)[0, 1] < 0.8


def test_the_eyes_view_is_turned_by_that_angle():
    """North 40 degrees to the left of up: there the compass's first arrow points, and the N stands at its end."""
    frame = frame_layers(*sample("20261017_211435.jpg"), wanted("hd", north_screen_deg=40.0))
    layer = next(x for x in frame.layers if x.name == "directions")
    foot, tip = np.array(next(s.points for s in layer.shapes if isinstance(s, Path)))
    letter = np.array(next(t.box.middle for t in layer.texts if t.text == "N")) - 0.5
    for x, y in (tip - foot, letter - foot):
        assert np.degrees(np.arctan2(-x, -y)) == pytest.approx(40.0, abs=1.0)


@pytest.mark.parametrize(
    ("name", "zoom"),
    [
        ("20261017_211435.jpg", None),
        ("20261025_013118.jpg", Zoom(9.6, -20.1, 500)),
        ("moonrise_pier.jpg", Zoom(-43.3, 30.0, 900)),
    ],
)
def test_the_scale_bar_is_as_long_as_it_says(name, zoom):
    """Its own pixels laid level on the middle of the disc, or of the frame: by Snyder's inverse and haversines."""
    frame = frame_layers(*sample(name), wanted("hd", zoom=zoom))
    layer = next(x for x in frame.layers if x.name == "scale")
    pixels = layer_rgba(frame, layer)
    white = (pixels[..., :3] == rgb_of(NIGHTGLASS.soft)).all(axis=2) & (pixels[..., 3] == 255)
    row = int(np.argmax(white.sum(axis=1)))  # the bar's own line is the longest row
    x = np.flatnonzero(white[row])
    length = x.max() - x.min() + 1
    pose = frame.pose
    middle = (pose.x, pose.y) if zoom is None else (1919 / 2, 1079 / 2)
    ends = [
        on_moon(
            (middle[0] + side * length / 2 - pose.x) / pose.radius_px,
            (pose.y - middle[1]) / pose.radius_px,
            pose.libration_lat_deg,
            pose.libration_lon_deg,
        )
        for side in (-1, 1)
    ]
    said = float(layer.texts[0].text.split()[0])
    assert haversine_km(*ends[0], *ends[1]) == pytest.approx(said, rel=0.02)


def test_a_close_up_is_about_the_place_asked_for():
    """Kilometres across the shorter side, the place near the middle, and the inset's box where that lies on the disc."""
    zoom = Zoom(9.6, -20.1, 500)
    rgb, annotation = sample("20261025_013118.jpg")
    frame = frame_layers(rgb, annotation, wanted("hd", zoom=zoom))
    pose = frame.pose
    at = surface_to_pixel(pose, zoom.lat_deg, zoom.lon_deg)
    assert abs(float(at.x) - 1919 / 2) <= ASIDE[0] * 1920 + 1
    assert abs(float(at.y) - 1079 / 2) <= ASIDE[1] * 1080 + 1
    assert 1080 / pose.radius_px * 1737.4 == pytest.approx(max(500, 1080 / (4 * annotation.pose.radius_px) * 1737.4))
    layer = next(x for x in frame.layers if x.name == "inset")
    pixels = layer_rgba(frame, layer)
    y, x = np.nonzero((np.abs(pixels[..., :3].astype(int) - rgb_of("#ffd36b")) < 12).all(axis=2))
    disc = 192 + 112, 54 + 112
    assert ((x.min() + x.max()) / 2 - disc[0]) / 112 == pytest.approx((1919 / 2 - pose.x) / pose.radius_px, abs=0.03)
    assert ((y.min() + y.max()) / 2 - disc[1]) / 112 == pytest.approx((1079 / 2 - pose.y) / pose.radius_px, abs=0.03)


def test_a_close_up_leans_to_the_light():
    """At the limb and beside the terminator the place stands where more of the frame is lit; amid the light, halfway."""
    half = frame_layers(
        *sample("20261017_211435.jpg"), wanted("hd", zoom=Zoom(-11.4, 26.4, 900))
    )  # waxing, lit in the east
    at = surface_to_pixel(half.pose, -11.4, 26.4)
    assert half.pose.north_screen_deg == pytest.approx(0.0, abs=0.1)
    assert float(at.x) <= 1919 / 2 + 1


def test_a_foot_has_a_plate_or_a_veil_and_lines_fade_into_a_veil(frame):
    """A veil is pixels under the credit; a full line of the Moon's that ends above it gets fainter piece by piece."""
    credit = next(layer for layer in frame.layers if layer.kind == "credit")
    veils = [shape for shape in credit.shapes if isinstance(shape, RasterShape)]
    assert not (veils and any(text.plate for text in credit.texts))
    if not veils:
        return
    full = [
        shape
        for layer in frame.layers
        for shape in layer.shapes
        if layer.kind == "terminator" and isinstance(shape, Path) and len(shape.points) > 2
    ]
    low = [shape.opacity for shape in sorted(full, key=lambda s: np.mean([y for _, y in s.points]))]
    assert low == sorted(low, reverse=True)


def test_a_camera_of_ones_own_moves_picture_and_names_alike():
    """The standard view given back as the camera is the same frame; half as far away everything lies half as far."""
    rgb, annotation = sample("20261017_211435.jpg")
    standard = frame_layers(rgb, annotation, wanted("hd"))
    again = frame_layers(rgb, annotation, wanted("hd", camera=standard.pose))
    assert (flatten(again) == flatten(standard)).all()
    near = replace(standard.pose, x=700.0, y=300.0, radius_px=2 * standard.pose.radius_px)
    close = frame_layers(rgb, annotation, wanted("hd", camera=near))
    assert close.pose == near
    assert [layer.kind for layer in close.layers if layer.base] == ["picture", "credit", "scale"]


def test_what_is_not_in_the_light_or_the_frame_is_told_and_not_drawn():
    frame = frame_layers(*sample("20261017_211435.jpg"), wanted("hd"))  # seven days old: the west is dark
    told = " ".join(n.reason for n in frame.left_out)
    assert "Copernicus is not in the light of this picture." in told
    assert not any("copernicus" in layer.name for layer in frame.layers)
    assert any("theophilus" in layer.name for layer in frame.layers)


def test_a_part_that_the_picture_lacks_cannot_be_shown():
    found = frame_layers(*sample("moonrise_pier.jpg"), wanted("hd", zoom=Zoom(0.0, 179.0, 500)))
    assert isinstance(found, NotFound)
    assert "not in this picture" in found.reason


def test_where_the_placing_is_not_certain_the_frame_says_so_and_not_in_the_senders_words():
    rgb, annotation = sample("20261017_211435.jpg")

    def words(found, kind):
        return [t.text for layer in found.layers if layer.base and layer.kind == kind for t in layer.texts]

    sure = frame_layers(rgb, annotation, wanted("hd"))
    unsure = frame_layers(rgb, replace(annotation, sure=False), wanted("hd"))
    assert WORDS["caution"] not in words(sure, "scale")
    assert WORDS["caution"] in words(unsure, "scale")  # from the start, whatever is revealed
    assert words(unsure, "credit") == words(sure, "credit")
    without = frame_layers(rgb, replace(annotation, sure=False), FrameRequest(texts=Texts()))
    assert WORDS["caution"] in words(without, "scale")


def test_a_layer_is_one_row_and_its_words_are_given_by_key():
    for values in (
        [row.kind for row in LAYERS],
        [row.claims for row in LAYERS],
        [k for row in LAYERS for k in row.words],
    ):
        assert len(set(values)) == len(values)
    texts = replace(TEXTS, words={"equator": "Екватор"})
    frame = frame_layers(*sample("20261017_211435.jpg"), replace(wanted("hd"), texts=texts))
    lines = next(layer for layer in frame.layers if layer.kind == "lines")
    assert lines.title == "Екватор, Zero meridian"
    assert "Екватор" in [text.text for text in lines.texts]


def test_the_sender_is_named_from_the_first_step():
    frame = frame_layers(*sample("20261017_211435.jpg"), wanted("hd"))
    assert [layer.kind for layer in frame.layers if layer.base] == ["picture", "credit", "scale"]
    assert TEXTS.credit in frame.layers[1].title


def test_a_close_up_chooses_its_features_after_it_is_cut():
    """A stretch round Theophilus fills the frame; what is best seen of the whole disc lies outside of it."""
    rgb, whole = sample("20261017_211435.jpg")
    x0, y0 = (int(k) for k in (whole.pose.x - 0.3 * whole.pose.radius_px, whole.pose.y + 0.38 * whole.pose.radius_px))
    width, height = int(0.75 * whole.pose.radius_px), int(0.45 * whole.pose.radius_px)
    part = np.ascontiguousarray(rgb[y0 : y0 + height, x0 : x0 + width])
    pose = replace(whole.pose, x=whole.pose.x - x0, y=whole.pose.y - y0)
    marks = tuple(replace(m, x=m.x - x0, y=m.y - y0) for m in whole.features)
    close = replace(whole, width=part.shape[1], height=part.shape[0], pose=pose, features=marks)
    ranked = sorted(
        (m for m in marks if m.feature.kind == "crater" and m.seen >= 0.3 and m.lit_fraction > 0.3),
        key=lambda m: -m.prominence * m.seen,
    )
    beyond = [m for m in ranked if not (0 <= m.x < close.width and 0 <= m.y < close.height)]
    offered = tuple(m.feature.name for m in (*beyond, *(m for m in ranked if m not in beyond)))
    assert len(beyond) >= 6
    frame = frame_layers(part, close, FrameRequest(format=FORMATS["hd"], texts=TEXTS, offered=offered))
    named = [layer.title for layer in frame.layers if layer.kind == "feature"]
    assert 2 <= len(named) <= 6  # none stands on the ground of the foot
    assert not {m.feature.name for m in beyond} & set(named)
    assert frame.left_out == ()


def test_the_sea_of_cold_is_not_named_on_the_sea_of_rains():
    """South of Plato (51.6 N) lies the Sea of Rains (common practice), though the other's circle reaches there."""
    rgb, annotation = sample("20261025_013118.jpg")
    asked = FrameRequest(format=FORMATS["vertical"], zoom=Zoom(38.0, -15.0, 600), texts=TEXTS, seas=9)
    made = frame_layers(rgb, annotation, asked)
    for name in (t for layer in made.layers for t in layer.texts if "Frigoris" in t.text):
        x, y = name.box.middle
        lat, _ = pixel_to_surface(made.pose, np.array([x - 0.5]), np.array([y - 0.5]))
        assert np.isnan(lat[0]) or lat[0] > 51.6


def test_a_picture_that_is_not_placed_is_shown_with_its_credit_alone():
    rgb, annotation = sample("20261022_211502.jpg")
    assert annotation.pose is None
    frame = frame_layers(rgb, annotation, wanted("hd"))
    assert [layer.name for layer in frame.layers] == ["picture", "credit"]
    assert isinstance(frame_layers(rgb, annotation, wanted("hd", zoom=Zoom(0, 0, 500))), NotFound)


@pytest.mark.parametrize("name", ["20261017_211435.jpg", "IMG_0457.jpg", "20261022_211502.jpg"])
def test_no_edge_of_the_photograph_is_seen(name):
    """Along the photograph's own edge the frame's brightness steps no more than it does elsewhere in the sky."""
    rgb, annotation = sample(name)
    frame = frame_layers(rgb, annotation, wanted("hd"))
    grey = frame.layers[0].shapes[0].pixels.mean(axis=2)
    import cv2

    soft = cv2.GaussianBlur(grey, (0, 0), 6.0)
    steps = np.hypot(cv2.Sobel(soft, cv2.CV_64F, 1, 0), cv2.Sobel(soft, cv2.CV_64F, 0, 1)) / 8
    left = steps[100:500, 60:560]  # beside the Moon, where the photograph ends in all of these
    assert left.max() < 1.5  # grey levels a pixel; a rectangle on another ground steps by its whole contrast


def test_a_sign_that_no_face_has_stops_the_frame_and_names_it():
    rgb, annotation = sample("20261017_211435.jpg")
    found = frame_layers(rgb, annotation, FrameRequest(texts=Texts(credit="Zo\U0001f319")))
    assert isinstance(found, NotFound)
    assert "Zo" in found.reason
    assert "U+1F319" in found.reason
    assert found.advice


def test_heights_of_letters_are_what_they_are_drawn_as():
    """The ink of an H, which is what a line's `cap_px` states."""
    line = set_line("H", 100.0)
    assert line.ink.height == pytest.approx(line.cap_px, abs=1.0)


def test_helpers_of_these_tests_agree_with_published_values():
    """WCAG 2.2: black on white is 21; figures F: yellow F0E442 on D0D0D0 is 1.17, white on 808080 3.95."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert contrast(rgb_of("#f0e442"), (208, 208, 208)) == pytest.approx(1.17, abs=0.01)
    assert contrast((255, 255, 255), (128, 128, 128)) == pytest.approx(3.95, abs=0.01)
    lat, lon = on_moon(*on_disc(20.0, 30.0, 5.0, -4.0), 5.0, -4.0)
    assert (lat, lon) == (pytest.approx(20.0), pytest.approx(30.0))
    assert air_pictures.haversine_km(0, 0, 0, 1) == pytest.approx(30.32, abs=0.01)  # figures, head: km a degree
