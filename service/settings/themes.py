"""The look of frames: one of the house's own by name, or a file in TOML beside the settings, read strictly.

    name = "Evening Post"
    lower_third = "rule"              # rule, plate or line
    typeface = "evening.ttf"          # TTF, OTF, WOFF or WOFF2; signs that it lacks are taken from the packaged ones
    logo = "evening.png"              # a PNG with alpha
    logo_corner = "upper right"       # or upper left

    [colours]                         # all may be left out, those left out are the first house theme's
    text = "#ffffff"                  # the credit;            soft = "#c3d0e6"    what stands under it
    accent = "#4fc3d9"                # the lower third's mark; plate = "#10252b"   ground under letters
    seas, craters, ranges, terminator, grid, caution, halo    what they are called by

Files are looked for in the theme's own folder.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from moondesk.drawing.lower_third import read_logo
from moondesk.drawing.theme import CORNERS, GROUNDS, LETTERS, LOWER_THIRDS, NIGHTGLASS, THEMES, Asset, Theme
from moondesk.drawing.typefaces import OwnFace
from moondesk.service.errors import BadInputError
from moondesk.service.settings.table import nearest

KEYS = ("name", "lower_third", "typeface", "logo", "logo_corner", "colours")
COLOURS = (*LETTERS, *GROUNDS, "accent")
#: The largest file that a theme brings along, bytes; the most pixels of a logo's side.
MOST_BYTES, MOST_PIXELS = 20_000_000, 4000
#: Signs without which a typeface is none for frames.
_SIGNS = "AaHhZz0123456789"


def read_theme(words: str, folder: Path) -> Theme:
    """A house theme by its name, or what a file says. folder: from which a path counts. Raises BadInputError with the
    file, the key and what may stand there."""
    if words in THEMES:
        return THEMES[words]
    path = folder / Path(words).expanduser()
    if path.suffix != ".toml":
        raise BadInputError(
            f"There is no theme {words!r}.", f"Choose one of {', '.join(THEMES)}, or name a file that ends in .toml."
        )
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise BadInputError(f"The theme {path} cannot be read: {error}", "Correct the file.") from error
    try:
        return _theme(table, path.parent)
    except ValueError as error:
        raise BadInputError(f"The theme {path}: {error}.", "Correct the value, or delete its line.") from error


def _theme(table: dict[str, Any], folder: Path) -> Theme:
    _known(table, KEYS, "a theme")
    colours = table.get("colours", {})
    if not isinstance(colours, dict):
        raise ValueError("colours is a section, written [colours]")
    _known(colours, COLOURS, "[colours]")
    for name, value in (*colours.items(), *((k, v) for k, v in table.items() if k != "colours")):
        if not isinstance(value, str):
            raise ValueError(f"{name} must be in quotation marks, not {value!r}")
    values: dict[str, Any] = {name: value.strip().lower() for name, value in colours.items()}
    for name, choices in (("lower_third", LOWER_THIRDS), ("logo_corner", CORNERS)):
        if name in table:
            if table[name] not in choices:
                raise ValueError(f"{name} is one of {', '.join(choices)}, not {table[name]!r}")
            values[name] = table[name]
    if "name" in table:
        values["name"] = table["name"]
    if "logo" in table:
        values["logo"] = _asset("logo", folder / table["logo"])
        try:
            high, wide = read_logo(values["logo"].data).shape[:2]
        except ValueError as error:
            raise ValueError(f"logo {table['logo']!r}: {error}") from error
        if max(high, wide) > MOST_PIXELS:
            raise ValueError(f"logo {table['logo']!r} is {wide} x {high}, more than {MOST_PIXELS} pixels a side")
    if "typeface" in table:
        values["typeface"] = _asset("typeface", folder / table["typeface"])
        _check_typeface(table["typeface"], values["typeface"])
    return replace(NIGHTGLASS, **values)


def _known(table: dict[str, Any], keys: tuple[str, ...], of: str) -> None:
    for wrong in sorted(set(table) - set(keys)):
        meant = nearest(wrong, keys)
        hint = f"did you mean {meant!r}? It" if meant else "it"
        raise ValueError(f"{of} has no {wrong!r}; {hint} has {', '.join(keys)}")


def _asset(name: str, path: Path) -> Asset:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ValueError(f"{name} {str(path)!r} cannot be read ({error.strerror})") from error
    if len(data) > MOST_BYTES:
        raise ValueError(f"{name} {str(path)!r} has more than {MOST_BYTES // 1_000_000} million bytes")
    return Asset(hashlib.sha256(data).hexdigest(), data)


def _check_typeface(name: str, asset: Asset) -> None:
    own = OwnFace(asset.sha256, asset.data)
    try:
        missing = [sign for sign in _SIGNS if not own.has(sign)]
        own.outlines(own.font.get_nominal_glyph(ord("H")) or 0)
    except Exception as error:  # whatever a broken file makes a reader of fonts raise
        raise ValueError(f"typeface {name!r} is no font file that can be read") from error
    if missing:
        raise ValueError(f"typeface {name!r} lacks {', '.join(missing)}")
