"""What each page of the upload application shows: one frozen record a template. Pure."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from moondesk.notes.messages import Message, say
from moondesk.service.intake import picture_formats as formats
from moondesk.service.languages import ENGLISH
from moondesk.service.programme.words import time_words
from moondesk.service.settings.config import Config, IntakeLimits, Programme
from moondesk.service.settings.public import Public
from moondesk.service.store.records import Receipt, ReceiptPicture
from moondesk.service.web.public.form import AGREED, GUARDIAN_AGREED, FormValues
from moondesk.service.web.public.tongue import Tongue


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
    #: Whether the link to the receipt is mailed to whoever gives an address.
    mails: bool
    #: The script's sentences in the page's language, as JSON; "" on an English page.
    script_words: str
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
    tongue: Tongue,
    typed: FormValues | None = None,
    complaints: Mapping[str, str] | None = None,
    notice: str = "",
    mails: bool = False,
) -> FormPage:
    """The form, empty or with what was typed and what is wrong with it."""
    zone = config.programme.zone
    zones = {zone: tongue.write(_clock(zone)), "UTC": "UTC"}
    if typed and typed.zone and len(typed.zone) <= 64:
        zones.setdefault(typed.zone, tongue.write(_clock(typed.zone)))
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
        agreed=tongue.write(AGREED),
        guardian_agreed=tongue.write(GUARDIAN_AGREED),
        picture_bytes=_picture_bytes(config.limits, public),
        mails=mails,
        script_words=_script_words(tongue),
        accepted=formats.accept_attribute(),
        formats=formats.words(),
    )


def receipt_page(
    config: Config, link: str, form_token: str, found: Receipt, tongue: Tongue, notice: str = ""
) -> ReceiptPage:
    """The receipt; form_token: for the form that takes the pictures back."""
    zone = config.programme.zone
    return ReceiptPage(
        programme=config.programme,
        token=form_token,
        link=link,
        received=_moment(found.stored_utc, zone, tongue) if found.stored_utc else "",
        credit=found.credit,
        pictures=tuple(_progress(p, zone, tongue) for p in found.pictures),
        erased=_moment(found.erased_utc, zone, tongue) if found.erased_utc else "",
        notice=notice,
    )


def _progress(picture: ReceiptPicture, zone: str, tongue: Tongue) -> PictureProgress:
    if picture.refused:
        return PictureProgress(picture.given_name, 0, picture.refused)
    if picture.aired_utc:
        return PictureProgress(
            picture.given_name,
            3,
            tongue.write(say("On air on {day}. Thank you!", day=picture.aired_utc.astimezone(ZoneInfo(zone)).date())),
        )
    if picture.status is None:
        return PictureProgress(
            picture.given_name, 1, tongue.write(say("We have it. It waits for its turn to be looked at."))
        )
    if picture.status.facts.is_named:
        return PictureProgress(
            picture.given_name, 2, tongue.write(say("We have it, and the Moon in it has been placed."))
        )
    return PictureProgress(picture.given_name, 1, tongue.write(say("We have it, and somebody will look at it.")))


def _moment(when: datetime, zone: str, tongue: Tongue) -> str:
    if tongue.code == ENGLISH:
        return time_words(when, zone)
    local = when.astimezone(ZoneInfo(zone))
    return tongue.write(say("{day}, {hour}", day=local.date(), hour=f"{local:%H:%M}"))


def _clock(zone: str) -> Message:
    return say("by the clock in {town}", town=_town(zone))


#: What the form's script says.
SCRIPT = (
    say("Please send at most {most} pictures at a time.", most="{most}"),
    say("Together they have {size}; {most} can go at once. Please leave some out.", size="{size}", most="{most}"),
    say("One is too large, see above."),
    say("{size}: more than {most}", size="{size}", most="{most}"),
    say("Leave out {name}", name="{name}"),
    say("by the clock in {town}", town="{town}"),
    say("Please choose at least one picture."),
    say("Please tick this, or we cannot take the pictures."),
    say("{sent} of {all} sent", sent="{sent}", all="{all}"),
    say("All sent; it is being kept …"),
    say("That is more than we can take at once. Please send fewer pictures."),
    say("This did not work. Everything is still here: please try again in a few minutes."),
    say("The line broke after {percent} %. Everything is still here: please press Send again.", percent="{percent}"),
    say("Sending …"),
)


def _script_words(tongue: Tongue) -> str:
    """Places stand for themselves: the script fills them."""
    if tongue.code == ENGLISH:
        return ""
    return json.dumps({said.template: tongue.write(said) for said in SCRIPT}, ensure_ascii=False)


def _town(zone: str) -> str:
    return zone.rpartition("/")[2].replace("_", " ")


def _picture_bytes(limits: IntakeLimits, public: Public) -> int:
    return min(limits.picture_bytes, public.form_bytes)
