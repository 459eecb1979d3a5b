"""Bodies of requests that carry pictures: how large they may be, and where their files are put while they come in."""

from __future__ import annotations

import errno
import tempfile
from pathlib import Path
from typing import IO, cast

from flask import Flask, Request, current_app, request
from werkzeug.exceptions import RequestEntityTooLarge

from moondesk.service.store.media import ARRIVING

#: Typed text of one form, all fields together; more is no form of ours.
TEXT_BYTES = 100_000
#: Of a file that is being received; what is larger goes to the disk.
IN_MEMORY = 500_000
#: Fields of a form beside its files.
OTHER_PARTS = 40


def limit_bodies(app: Flask, data_dir: Path, files: int, file_bytes: int) -> None:
    """Set an application's limits: files of one form, and bytes of all of them together."""
    app.request_class = _request_class(data_dir / ARRIVING)
    app.config["MAX_CONTENT_LENGTH"] = file_bytes + TEXT_BYTES
    app.config["MAX_FORM_MEMORY_SIZE"] = TEXT_BYTES
    app.config["MAX_FORM_PARTS"] = files + OTHER_PARTS


def is_disk_full(error: OSError) -> bool:
    return error.errno in (errno.ENOSPC, errno.EDQUOT)


def check_body() -> None:
    """Raise 413 by the stated length, before anything is read.

    Forms without files have the limit of text: the library reads them whole into memory, whatever they hold.
    """
    most = current_app.config["MAX_CONTENT_LENGTH"] if request.mimetype == "multipart/form-data" else TEXT_BYTES
    if (request.content_length or 0) > most:
        raise RequestEntityTooLarge


def _request_class(folder: Path) -> type[Request]:
    """Requests whose files go to the disk of the store as they come in: the system's folder may lie in memory."""

    class UploadRequest(Request):
        def _get_file_stream(self, *_: object, **__: object) -> IO[bytes]:
            folder.mkdir(parents=True, exist_ok=True)
            stream = tempfile.SpooledTemporaryFile(IN_MEMORY, "rb+", dir=str(folder))  # noqa: SIM115  closed below
            self.__dict__.setdefault("streams", []).append(stream)
            return cast(IO[bytes], stream)

        def close(self) -> None:
            """At the end of each request, also of one whose reading broke off half way."""
            super().close()
            for stream in self.__dict__.pop("streams", ()):
                stream.close()

    return UploadRequest
