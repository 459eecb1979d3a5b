"""Passwords of servers: from a file that nobody else reads, or from the environment, where no child finds it."""

from __future__ import annotations

import os
from pathlib import Path

from moondesk.service.errors import BadInputError

#: What was taken out of the environment and is wanted again.
_taken: dict[str, str] = {}


def read_secret(file: Path | None, variable: str, what: str, option: str, again: bool = False) -> str:
    """The password of `what` ("the mailbox"): the file's first line, else the environment's variable, which is taken
    out of it, so that no program started later inherits it.

    option: how the file is named; again: it will be asked for more than once. Raises BadInputError with what is wrong
    and what to do.
    """
    from_environment = os.environ.pop(variable, "")
    if again:
        from_environment = _taken[variable] = from_environment or _taken.get(variable, "")
    if file is None:
        if not from_environment:
            raise BadInputError(
                f"There is no password for {what}.", f"Name a file that holds it with {option}, or set {variable}."
            )
        return from_environment
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
        readable = os.name == "posix" and file.stat().st_mode & 0o077
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(f"The password file {file} cannot be read.", "Check its name and permissions.") from error
    if readable:
        raise BadInputError(f"Others on this machine can read the password file {file}.", f"Run chmod 600 {file}.")
    if not lines or not lines[0]:
        raise BadInputError(f"The password file {file} is empty.", "Write the password into its first line.")
    return lines[0]
