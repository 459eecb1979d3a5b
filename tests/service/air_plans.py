"""The plan of the page on air, once its frames are made: they are drawn while the windows wait."""

from __future__ import annotations

import time
from typing import Any

from flask.testing import FlaskClient


def made_plan(client: FlaskClient, path: str) -> Any:
    """The plan when nothing is being made any more; after half a minute as it stands then."""
    until = time.monotonic() + 30
    while True:
        plan = client.get(path).json
        if not plan["making"] or time.monotonic() > until:
            return plan
        time.sleep(0.05)
