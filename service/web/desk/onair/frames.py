"""Frames for air of the pictures in a rundown: their pages, files and layers.

What the page on air builds on; E is the edition's number, I the item's id, each address takes ?format=hd|uhd|vertical
(hd), &view=upright|eye (upright), &zoom=NAME (a feature, or
latitude, longitude and km across, parted by commas; the whole disc without it) and &feature=NAME, as often as
wanted (what is best seen without it):

    GET /rundown/E/items/I/frame               the page: the frame, its layers, all files
    GET /rundown/E/items/I/frame/layers.json   {"item": I, "picture": id, "format": "hd", "width": 1920,
                                                "height": 1080, "mark": "<16 hex>", "notice": "", "left_out": [...],
                                                "layers": [{"name", "title", "kind", "base", "url"}, ...]}
    GET /rundown/E/items/I/frame/NAME.png      one layer with alpha, of the frame's size; they lie on top of each other
    GET /rundown/E/items/I/frame/whole.png     all layers in one, without alpha
    GET /rundown/E/items/I/frame/whole.svg     all layers, a group with the layer's name as its id for each

Layers come in the order of revealing, which is also that of lying over each other. base: it stands from the start (the
picture; the credit too where the placing is not certain). kind: picture, spotlight, directions, terminator, lines, seas, feature,
scale, inset or credit; a spotlight is the shade that leaves the light on the feature of the same title alone. title: what is revealed, in the programme's language. A url names the mark, so a layer may be
kept as long as one likes. Where no frame can be made (no consent, taken back, a letter that no typeface has), layers is
empty and notice says why; the files answer 404 with the same sentence. In code: `studio.frames.frame_of`.
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from flask import Blueprint, Response, jsonify, make_response, redirect, request, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.drawing.frame import FORMATS
from moondesk.notes.messages import in_english
from moondesk.records import NotFound
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.jobs.frame_files import DRAWING, WHOLE, MadeFrame
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.frame_request import MOST_FEATURES, FrameOptions, layer_title, read_asked
from moondesk.service.settings.config import Programme
from moondesk.service.store import rundowns
from moondesk.service.store.editions import read_edition
from moondesk.service.store.frame_choices import FrameChoice, choose_frame
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.studio.frames import frame_of, options_of
from moondesk.service.studio.notes import notes_for
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, render, storage
from moondesk.service.web.desk.rundown.rundown import ITEM
from moondesk.service.web.making import studio

frames = Blueprint("frames", __name__)

GONE = "This picture is not in the rundown any more."
KEPT_SECONDS = 86_400
FORMAT_WORDS = {"hd": "1920 × 1080", "uhd": "3840 × 2160", "vertical": "1080 × 1920, upright"}
VIEW_WORDS = {"upright": "Upright: the Moon's north up", "eye": "As the eye sees it from the programme's place"}


@dataclass(frozen=True)
class LayerView:
    """A layer on the page. words: what it is; url: its PNG."""

    name: str
    words: str
    base: bool
    url: str


@dataclass(frozen=True, kw_only=True)
class FramePage:
    """notice: why there is no frame, else empty. zoom: as typed; chosen: names, as typed."""

    programme: Programme
    edition: int
    item_id: int
    picture_id: int
    sender: str
    notice: str
    left_out: tuple[str, ...]
    layers: tuple[LayerView, ...]
    width: int
    height: int
    whole: str
    drawing: str
    formats: tuple[tuple[str, str], ...]
    views: tuple[tuple[str, str], ...]
    format: str
    view: str
    zoom: str
    chosen: str
    #: Whether it is shown like this on air; themes: (title, names of features) that this picture allows.
    on_air: bool
    themes: tuple[tuple[str, str], ...]


@frames.get(f"{ITEM}/frame")
def page(number: int, item_id: int) -> Response:
    item, listed = find_item(number, item_id)
    asked, on_air = _read_address(item), options_of(storage(), item_id, _one("format", "hd", FORMATS))
    made = _make(item, listed)
    here = url_for("frames.layers", number=number, item_id=item_id)
    shown = asked if isinstance(asked, FrameOptions) else on_air
    told = made if isinstance(made, NotFound) else None
    found = made if isinstance(made, MadeFrame) else None
    page = FramePage(
        programme=config().programme,
        edition=number,
        item_id=item_id,
        picture_id=listed.picture.id,
        sender=sender_of(listed.picture.submission.arrival),
        notice=f"{told.reason} {told.advice}".strip() if told is not None else "",
        left_out=found.left_out if found else (),
        layers=tuple(
            LayerView(
                x.name, x.title or layer_title(x.kind), x.base, _url(number, item_id, f"{x.name}.png", found.mark)
            )
            for x in found.layers
            if x.kind != "spotlight"
        )
        if found
        else (),
        width=found.width if found else 0,
        height=found.height if found else 0,
        whole=_url(number, item_id, WHOLE, found.mark) if found else here,
        drawing=_url(number, item_id, DRAWING, found.mark) if found else here,
        formats=tuple(FORMAT_WORDS.items()),
        views=tuple(VIEW_WORDS.items()),
        format=shown.format,
        view=shown.view,
        zoom=shown.zoom,
        chosen=", ".join(shown.features)[:400],
        on_air=asked == on_air,
        themes=_themes(listed, number),
    )
    return make_response(render("frame.html", page))


@frames.get(f"{ITEM}/frame/layers.json")
def layers(number: int, item_id: int) -> Response:
    item, listed = find_item(number, item_id)
    made = _make(item, listed)
    if isinstance(made, NotFound):
        return jsonify(
            item=item_id,
            picture=listed.picture.id,
            layers=[],
            left_out=[],
            notice=f"{made.reason} {made.advice}".strip(),
        )
    return jsonify(
        item=item_id,
        picture=listed.picture.id,
        format=made.format,
        width=made.width,
        height=made.height,
        mark=made.mark,
        notice="",
        left_out=made.left_out,
        layers=[
            {
                "name": x.name,
                "title": x.title,
                "kind": x.kind,
                "base": x.base,
                "url": _url(number, item_id, f"{x.name}.png", made.mark),
            }
            for x in made.layers
        ],
    )


@frames.get(f"{ITEM}/frame/<name>")
def file(number: int, item_id: int, name: str) -> Response:
    """A layer, or the whole."""
    item, listed = find_item(number, item_id)
    made = _make(item, listed)
    if isinstance(made, NotFound):
        raise NotStoredError(made.reason, made.advice)
    path = made.file(name)
    if path is None or not path.is_file():
        raise NotStoredError("The frame has no such layer.", "Go back to the frame's page.")
    saved = f"edition-{number}-{item_id}-{made.format}-{name}" if request.args.get("save") else None
    response = send_file(
        path, conditional=True, max_age=KEPT_SECONDS, as_attachment=saved is not None, download_name=saved
    )
    response.headers["Cache-Control"] = f"private, max-age={KEPT_SECONDS}"
    return response


def find_item(number: int, item_id: int) -> tuple[RundownItem, ListedPicture]:
    """A rundown's item with its picture. Raises NotStoredError."""
    found = rundowns.rundown(storage(), read_edition(storage(), number).id).item(item_id)
    listed = list_by_id(storage(), [found.picture_id]) if found else ()
    if found is None or not listed:
        raise NotStoredError(GONE, "Go back to the rundown.")
    return found, listed[0]


def _make(item: RundownItem, listed: ListedPicture) -> MadeFrame | NotFound:
    asked = _read_address(item)
    if not isinstance(asked, FrameOptions):
        return asked
    return frame_of(studio(), item, listed, asked)


def _read_address(item: RundownItem) -> FrameOptions | NotFound:
    """What the address asks for; where it says nothing but the format, what was chosen for air."""
    if not any(name in request.args for name in ("view", "zoom", "feature")):
        return options_of(storage(), item.id, _one("format", "hd", FORMATS))
    return read_asked(request.args, _read_features())


def _themes(listed: ListedPicture, number: int) -> tuple[tuple[str, str], ...]:
    """Themes to choose the features by; landing places are no features."""
    notes = notes_for(studio(), listed.picture.id, number)
    if isinstance(notes, NotFound):
        return ()
    return tuple(
        (in_english(t.title), ", ".join(t.features[:MOST_FEATURES]))
        for t in notes.themes
        if t.features and not t.key.startswith("places:")
    )


@frames.post(f"{ITEM}/frame/choice")
def choose(number: int, item_id: int) -> AnyResponse:
    """Show the picture on air as the form says."""
    item, _ = find_item(number, item_id)
    names = [name for name in request.form.get("feature", "").split(",") if name.strip()]
    asked = read_asked(request.form, names)
    if not isinstance(asked, FrameOptions):
        raise BadInputError(asked.reason, asked.advice)
    choose_frame(
        storage(), item.id, FrameChoice(asked.view, asked.zoom, asked.features), sessions.actor().name, sessions.now()
    )
    return redirect(url_for("frames.page", number=number, item_id=item_id, format=asked.format), 303)


def _read_features() -> list[str]:
    """Features by name; one field of the page's form may hold several, parted by commas."""
    return [name for text in request.args.getlist("feature") for name in text.split(",") if name.strip()]


def _url(number: int, item_id: int, name: str, mark: str) -> str:
    told = [(k, v) for k, v in request.args.items(multi=True) if k in ("format", "view", "zoom", "feature") and v]
    return f"{url_for('frames.file', number=number, item_id=item_id, name=name)}?{urlencode([*told, ('v', mark)])}"


def _one(name: str, default: str, known: object) -> str:
    text = request.args.get(name, default)
    return text if text in known else default  # type: ignore[operator]
