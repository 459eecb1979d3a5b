"""The command line: one module a command, loaded only when the command is asked for.

To add a command: write the module named like it, with its click command as `command` and all imports at its top, and
add its row to `COMMANDS`; that of a way by which pictures come stands with the way, in `arrivals`. What commands share
lies in `console` (the terminal), `data_folder` (the store they work on) and `placing` (taking and placing).

Results go to stdout, progress and complaints to stderr; the progress bar only where stderr is a terminal.
"""

from collections.abc import Mapping
from types import MappingProxyType

from moondesk.service.arrivals import ARRIVAL_WAYS

EXIT_OK, EXIT_SOME_FAILED, EXIT_USAGE, EXIT_NOTHING = 0, 1, 2, 3
EXIT_CODES = "Exit codes: 0 all went well, 1 some pictures could not be read, 2 wrong usage, 3 nothing to do."

#: Every command with its line in the list of `moondesk --help`: the beginning of its own help, a test compares them.
COMMANDS: Mapping[str, str] = MappingProxyType(
    {
        "account": "Accounts of the desk: list, add one, set a forgotten password anew.",
        "after": "Write what remains of EDITION: the log of what was on air, chapters, subtitles, credits, a spelling list, and "
        "the evening's page.",
        "backup": "Copy the store and all originals into a folder, hashes checked; it may be in use meanwhile.",
        "clip": "Write a film of one picture: its views and the moves between them.",
        "card": "Write PICTURE (its number) as a card for its sender: north up, a few names, the sender's own name.",
        "composite": "Stack the surely placed pictures of EVENING (2026-10-19) into one, quieter than any of them.",
        "demo": "Take the sample submissions into a fresh folder, place them, show them at the desk.",
        "export": "Write EDITION (all editions if none is named) as pictures.csv, pictures.json, and picture-N.geojson "
        "and .fits.",
        "forget": "Erase all that came from SENDERS: an address, or the whole name where no address is known.",
        "frames": "Write the frames of EDITION's rundown: for each pick the whole frame, its layers with alpha, and one "
        "SVG.",
        "kit": "Write everything that leaves the desk for EDITION: frames in all formats with their layers, the rundown, "
        "the composites and the month of its pictures' evenings, the open files.",
        "list": "List the submissions, one line each, in the order in which they came in.",
        "month": "The best picture of each of the 30 evenings from FIRST (2026-10-12) on, as a poster or as an "
        "animation.",
        "person": "Write all that is stored of SENDERS into one archive, for a person who asks what is known of them.",
        "place": "Place pictures without storing them; one line each.",
        "receive": "Serve the audience's upload page, an application of its own; the desk is not in it.",
        "restore": "Bring a backup back as a data folder that does not exist yet, or only check it.",
        "retry": "Try again what was refused or put aside, and place it: after an extra was installed, or a fault "
        "mended.",
        "rundown": "Write EDITION's rundown: order, times, frames (PDF), credits, pronunciation, notes.",
        "script": "Write EDITION's script, a text to be spoken: its pictures, one idea, a walk over the Moon, what comes "
        "next.",
        "send": "Send approved replies through the mail server of [smtp] in moondesk.toml.",
        "serve": "Serve the desk, and place what comes in: to this machine, and by https to others once it has "
        "accounts.",
        "take": "Take pictures and mails into the store, and place them.",
        "work": "Place the pictures that wait.",
        **{way.command: way.command_line for way in ARRIVAL_WAYS.values() if way.command},
    }
)
