"""What a person says of two pictures that may be one: the routes behind the buttons of the picture's page."""

from __future__ import annotations

from flask import redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError
from moondesk.service.store import versions
from moondesk.service.web.access.sessions import actor, now
from moondesk.service.web.current import storage
from moondesk.service.web.desk.views import PICTURE_ID, desk

#: What a person may say, and what it is stored as.
SAID = {"same": "same", "different": "different", "undo": None}


@desk.post(f"/pictures/{PICTURE_ID}/pairs/<int(max=9007199254740991):pair_id>")
def say_of_pair(picture_id: int, pair_id: int) -> AnyResponse:
    """Note that two pictures are one, or are not; "undo" takes it back."""
    said = request.form.get("said", "")
    if said not in SAID:
        raise BadInputError("It was not said whether the two are one picture.", "Use one of the buttons.")
    versions.decide(storage(), pair_id, SAID[said], actor().name, now())  # type: ignore[arg-type]
    return redirect(url_for("desk.picture", picture_id=picture_id, _anchor="copies"), 303)
