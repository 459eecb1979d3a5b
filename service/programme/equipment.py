"""Classes of equipment, for finding pictures and for being fair to simple means. Pure.

What the sender says of the telescope counts before the camera: a phone held to an eyepiece is in the telescope's class.
Where the line between small and larger telescopes runs is common practice: 6 inches (152 mm) is still small.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from typing import Literal

from moondesk.service.programme.letter.optics import Equipment, read_equipment
from moondesk.service.store.records import Arrival, ListedPicture

EquipmentClass = Literal["phone", "compact", "small", "larger", ""]
#: Words for people; "" is a class that nothing tells.
CLASS_WORDS: tuple[tuple[EquipmentClass, str], ...] = (
    ("phone", "Phone"),
    ("compact", "Camera or binoculars"),
    ("small", "Small telescope"),
    ("larger", "Larger telescope"),
    ("", "Equipment not told"),
)
SMALL_MM = 160
_OPTICS = (
    "Dobsonian",
    "Maksutov-Newtonian",
    "Newtonian",
    "Schmidt-Cassegrain",
    "Maksutov",
    "Ritchey-Chrétien",
    "refractor",
    "smart telescope",
    "telescope",
)
_COMPACT = ("binoculars", "spotting scope", "camera lens", "camera")
#: Makers and models as phones write them into EXIF (from memory).
_PHONES = re.compile(
    r"phone|pixel|galaxy|\bsm-|redmi|xiaomi|huawei|honor|oneplus|oppo|vivo|realme|moto |nokia", re.IGNORECASE
)


def equipment_class(equipment: Equipment, camera: str | None = None) -> EquipmentClass:
    """camera: as the file names it. A telescope of unknown aperture counts as a small one."""
    if equipment.kind in _COMPACT or (equipment.aperture_mm is not None and equipment.kind == "binoculars"):
        return "compact"
    if equipment.aperture_mm is not None:
        return "small" if equipment.aperture_mm < SMALL_MM else "larger"
    if equipment.kind in _OPTICS:
        return "small"
    if equipment.kind == "phone" or (camera and _PHONES.search(camera)):
        return "phone"
    return "compact" if camera else ""


def equipment_of(arrival: Arrival) -> Equipment:
    """The optics: what the table's words say, else what the mail's suggest."""
    if arrival.equipment:
        return replace(read_equipment(arrival.equipment), words=arrival.equipment)
    by_field = {s.field: s for s in arrival.suggestions}
    aperture, eyepiece = by_field.get("aperture_mm"), by_field.get("eyepiece_mm")
    kind, camera = by_field.get("equipment_kind"), by_field.get("camera")
    first = aperture or eyepiece or kind
    return Equipment(
        aperture_mm=int(aperture.value) if aperture else None,
        eyepiece_mm=float(eyepiece.value) if eyepiece else None,
        kind=kind.value if kind else "",
        words=first.words if first else "",
        camera=camera.value if camera else "",
    )


def equipment_words(arrival: Arrival) -> str:
    """What it was taken with, as told with the picture or else in short what was read in the mail."""
    if arrival.equipment:
        return arrival.equipment
    read = equipment_of(arrival)
    tube = f"{read.aperture_mm} mm {read.kind}".strip() if read.aperture_mm else read.kind
    eyepiece = f"{read.eyepiece_mm:g} mm eyepiece" if read.eyepiece_mm else ""
    return ", ".join(dict.fromkeys(filter(None, (tube, eyepiece, read.camera))))


def optics_words(arrival: Arrival) -> str:
    """The words that tell the hand: a letter in another language names its telescope only as it was read, and what
    stands between telescope and eye only in its own words."""
    return arrival.equipment or "; ".join(filter(None, (equipment_words(arrival), equipment_of(arrival).words)))


@lru_cache(maxsize=4096)
def class_of(listed: ListedPicture) -> EquipmentClass:
    """What it was taken with, by the sender's words and the file."""
    return equipment_class(
        equipment_of(listed.picture.submission.arrival), listed.summary.camera if listed.summary else None
    )
