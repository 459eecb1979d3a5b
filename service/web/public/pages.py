"""What each page of the upload application shows: one frozen record a template. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from moondesk.service.intake import picture_formats as formats
from moondesk.service.programme.words import date_words, time_words
from moondesk.service.settings.config import Config, IntakeLimits, Programme
from moondesk.service.settings.public import Public
from moondesk.service.store.records import Receipt, ReceiptPicture
from moondesk.service.web.public.form import AGREED, GUARDIAN_AGREED, FormValues


@dataclass(frozen=True, kw_only=True)
class FormPage:
    """The form. complaints: a sentence for each field that is wrong; notice: one for the form as a whole."""

    programme: Programme
    public: Public
    token: str
    typed: FormValues
    complaints: Mapping[str, str]
    notice: str
    #: (IANA name, words) to choose from for the time.
    zones: tuple[tuple[str, str], ...]
    agreed: str
    guardian_agreed: str
    picture_bytes: int
    #: What this installation opens: for the file chooser, and in words.
    accepted: str
    formats: str


@dataclass(frozen=True)
class PictureProgress:
    """A picture's way. stage: 0 refused, 1 received, 2 placed, 3 on air."""

    name: str
    stage: int
    words: str


@dataclass(frozen=True, kw_only=True)
class ReceiptPage:
    """What a receipt link shows; link: "" where the page does not know its own address; erased: "" or when all of it
    was erased."""

    programme: Programme
    token: str
    link: str
    received: str
    credit: str
    pictures: tuple[PictureProgress, ...]
    erased: str
    notice: str = ""


def form_page(
    config: Config,
    public: Public,
    token: str,
    typed: FormValues | None = None,
    complaints: Mapping[str, str] | None = None,
    notice: str = "",
) -> FormPage:
    """The form, empty or with what was typed and what is wrong with it."""
    zone = config.programme.zone
    zones = {zone: f"by the clock in {_town(zone)}", "UTC": "UTC"}
    if typed and typed.zone and len(typed.zone) <= 64:
        zones.setdefault(typed.zone, f"by the clock in {_town(typed.zone)}")
    if zone == "UTC":
        zones["UTC"] = "UTC"
    return FormPage(
        programme=config.programme,
        public=public,
        token=token,
        typed=typed or FormValues(zone=zone),
        complaints=dict(complaints or {}),
        notice=notice,
        zones=tuple(zones.items()),
        agreed=AGREED,
        guardian_agreed=GUARDIAN_AGREED,
        picture_bytes=_picture_bytes(config.limits, public),
        accepted=formats.accept_attribute(),
        formats=formats.words(),
    )


def receipt_page(config: Config, link: str, form_token: str, found: Receipt, notice: str = "") -> ReceiptPage:
    """The receipt; form_token: for the form that takes the pictures back."""
    zone = config.programme.zone
    return ReceiptPage(
        programme=config.programme,
        token=form_token,
        link=link,
        received=time_words(found.stored_utc, zone) if found.stored_utc else "",
        credit=found.credit,
        pictures=tuple(_progress(p, zone) for p in found.pictures),
        erased=time_words(found.erased_utc, zone) if found.erased_utc else "",
        notice=notice,
    )


def _progress(picture: ReceiptPicture, zone: str) -> PictureProgress:
    if picture.refused:
        return PictureProgress(picture.given_name, 0, picture.refused)
    if picture.aired_utc:
        return PictureProgress(picture.given_name, 3, f"On air on {_day(picture.aired_utc, zone)}. Thank you!")
    if picture.status is None:
        return PictureProgress(picture.given_name, 1, "We have it. It waits for its turn to be looked at.")
    if picture.status.facts.is_named:
        return PictureProgress(picture.given_name, 2, "We have it, and the Moon in it has been placed.")
    return PictureProgress(picture.given_name, 1, "We have it, and somebody will look at it.")


def _day(when: datetime, zone: str) -> str:
    return date_words(when.astimezone(ZoneInfo(zone)).date())


def _town(zone: str) -> str:
    return zone.rpartition("/")[2].replace("_", " ")


def _picture_bytes(limits: IntakeLimits, public: Public) -> int:
    return min(limits.picture_bytes, public.form_bytes)
