"""The shell's errors: one base, each with a sentence for its reader, the next step, and its HTTP status.

DeskError
  +- NotStoredError  asked for something that is not (or no longer) there     404
  +- BadInputError   a table, file or setting that cannot be used             400
  +- AddressError    the desk asked to listen beyond this machine             400
  +- NotLoggedInError, NotAllowedError   nobody, or somebody whose role is too small, asks    401, 403
  +- StorageError    the store cannot be read or written                      503
       +- DamagedError   its bytes are not as they were written               503
"""

from __future__ import annotations


class DeskError(Exception):
    """Base of all expected errors of the shell. str(error) is a sentence; `advice` is what to do next."""

    http_status = 500

    def __init__(self, sentence: str, advice: str = "") -> None:
        super().__init__(sentence)
        self.advice = advice


class NotStoredError(DeskError):
    http_status = 404


class BadInputError(DeskError):
    http_status = 400


class AddressError(DeskError):
    http_status = 400


class NotLoggedInError(DeskError):
    http_status = 401


class NotAllowedError(DeskError):
    http_status = 403


class StorageError(DeskError):
    http_status = 503


class DamagedError(StorageError):
    """Waiting or making room does not help: a backup does."""
