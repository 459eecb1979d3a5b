"""The blueprint of the desk's own pages: the inbox and each picture's; other rooms have theirs."""

from __future__ import annotations

from importlib.resources import files

from flask import Blueprint, Response

desk = Blueprint("desk", __name__)

#: What the store can hold as a number; anything larger is no address.
PICTURE_ID = "<int(max=9007199254740991):picture_id>"
LETTER_ID = "<int(max=9007199254740991):letter_id>"
FONT = "DejaVuSansCondensed-Bold.ttf"


@desk.get("/font/" + FONT)
def font() -> Response:
    """The face in which the labels were measured."""
    with files("moondesk").joinpath("data", FONT).open("rb") as file:
        return Response(file.read(), mimetype="font/ttf", headers={"Cache-Control": "private, max-age=86400"})
