"""What the core has to say of a picture that is kept with it: a code with its values, put into words when it is read.

So what was found years ago can be reworded and translated with the rest. Whoever adds a code adds its words here; a code
is never given another meaning.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

#: The words of each code. Why a picture is not placed:
SENTENCES = {
    "disc_too_small": "The disc is too small.",
    "no_limb_sharp": "No limb found: too little of a sharp bright edge lies on one circle.",
    "no_limb_agreed": "No limb found: the edge points do not agree on one circle.",
    "more_limb": "Include more of the Moon's bright edge, in focus and not cut off.",
    "nothing_agrees": "Nothing in the picture agrees with the Moon's surface as it must have looked.",
    "check_date": "Check the date; send a sharper picture that shows more of the disc, with the seas not overexposed.",
    "no_place_agrees": "No place in the picture agrees with the Moon's surface; that does not settle where it lies.",
    "one_place_agrees": "Only one place in the picture agrees with the Moon's surface; that does not settle where it "
    "lies.",
    "places_agree": "Only {count} places in the picture agree with the Moon's surface; that does not settle where it "
    "lies.",
    "sharper_or_more": "A sharper picture, or one that shows more of the lit disc, can be placed.",
    "few_percent_agree": "Only {percent} % of the places tried agree with the Moon's surface.",
    "few_agree": "Only {count} places agree with the Moon's surface, and not by much.",
    "burnt_out_disc": "The disc is burnt out to an even white.",
    "send_sharper": "Send a sharper or less exposed picture that shows more of the disc.",
    "frame_about_disc": "Straight edges stand all round the disc: a screen, a print, or a picture within a picture?",
    "ask_uncut": "Ask the sender for the picture itself, alone and uncut.",
    "grid_over_picture": "A fine regular grid lies over the picture: this looks like a photograph of a screen.",
    "ask_itself": "Ask the sender for the picture itself.",
}
# What is in doubt of one that is placed.
SENTENCES |= {
    "out_of_round": "The disc as fitted is {percent} % out of round, more than the air flattens a Moon that has risen.",
    "part_agrees": "Only {percent} % of the places tried agree.",
    "few_compared": "Only {count} places could be compared.",
    "other_hand": "The other hand (mirrored or not) fits nearly as well.",
    "scattered": "The places compared scatter too much.",
    "names_off": "Names may be off by {percent} % of the Moon's radius.",
    "seas_alone": "The disc is only {pixels} pixels wide: enough for the large seas, and for nothing smaller.",
    "turned_too_far": "The Moon would be turned further than it is ever seen from the Earth: the picture is stretched or "
    "taken askew, or is no photograph of the sky.",
    "twice": "Two exposures lie over each other, or the camera shook: everything in the picture stands twice.",
    "bent": "The picture is bent, as by an eyepiece that is looked into askew; towards the edge of the disc names may be "
    "off by {percent} % of the Moon's radius or more.",
    "edge_off": "At the {side} the Moon's edge lies {percent} % of its radius from where the surface puts it, and no "
    "surface there tells which is right.",
    "part_off": "At the {side} of the disc the surface lies {percent} % of the Moon's radius from where the rest puts "
    "it: bent by a lens, or put together?",
    "check_names": "Check some of the names against the picture before they are said on air.",
    "several_discs": "The picture shows the disc {count} times; one of them is placed.",
    "ask_single": "Ask for the single pictures, or cut out the one to show.",
    "eclipse_on": "A {state} lunar eclipse is on: the edge of the shadow is not a terminator.",
    "eclipse_that_night": "A lunar eclipse was on that night: the edge of the shadow is not a terminator.",
    "red_as_shadow": "The disc is as red as in the Earth's shadow: the edge of the shadow is not a terminator.",
    "red_in_light": "The disc is as red as in the Earth's shadow, but lit as by the Sun: smoke, or an eclipse?",
    "dark_part": "Part of the disc is dark where the Sun should light it: a cloud, a roof, or an eclipse?",
}
# What a picture without a placement may show, and what to do about it.
SENTENCES |= {
    "drawing": "Flat colours, or dark strokes on a bright ground: this looks like a drawing, not a photograph.",
    "only_photographs": "Names can only be put on a photograph of the Moon itself.",
    "partly_bright": "The disc is {pixels} pixels wide and only a part of it is bright: too little shows to tell how it "
    "lies.",
    "burnt_out": "The disc is burnt out to an even white: the Moon far too bright, or a lamp, or the Sun.",
    "empty_field": "A dim round field with nothing in it: an eyepiece that has lost the Moon?",
    "centre_it": "Bring the Moon back to the middle of the eyepiece before holding the phone to it.",
    "blurred_whole": "A whole disc, but its markings do not agree with the Moon's: a planet, or the Moon out of focus?",
    "other_markings": "A whole disc, but its markings are not the Moon's: a planet, a plate, a clock, a coin?",
    "hidden_seas": "If it is the Moon after all, something hides its seas: send one without clouds, branches or filters.",
    "planet_and_moons": "A disc {pixels} pixels wide with {dots} dots in one line: a planet and its moons?",
    "zoom_in": "If it is the Moon, zoom in until it is 50 pixels across or more.",
    "two_dots": "A disc {pixels} pixels wide with two dots in one line: a planet with its moons, or the Moon among "
    "stars?",
    "one_of_crowd": "The brightest of {count} bright spots is {pixels} pixels wide: too small to tell the Moon from a "
    "star or a lamp.",
    "small_soft": "The disc is soft and {pixels} pixels wide: too small to tell a planet or a lamp from the Moon.",
    "small_yellow": "The brightest disc is yellow and {pixels} pixels wide: too small to tell a lamp from a low Moon.",
    "small_bright": "The bright disc is only {pixels} pixels wide: too small to tell features.",
    "larger_disc": "Zoom in or hold the phone to an eyepiece: a disc of 50 pixels or more across can be placed on the "
    "Moon. Lower the exposure until the seas show.",
    "no_seas": "The disc shows no seas: the Moon out of focus or too bright, or a lamp or a planet.",
    "smooth_ball": "The disc shows none of the Moon's seas and craters: a ball or a lamp, lit from one side.",
    "smooth_sun": "The disc shows none of the Moon's seas and craters: the Sun, a planet, a lamp or a ball, for it "
    "darkens evenly towards its edge.",
    "smooth_lamp": "The disc shows none of the Moon's seas and craters: a lamp, a plate or the Sun.",
    "less_light": "If it is the Moon: send the original, or one taken with less exposure, with the seas to be seen.",
    "sun_caution": "If this is the Sun: never point a camera or telescope at it without a proper front filter.",
    "recognised_parts": "Parts of the Moon's surface are recognised, but not how the whole lies: is it cut off by an "
    "eyepiece's field, or covered by labels?",
    "larger_circle": "The disc that was compared is not the Moon's, but there is a larger circle in the picture: whether "
    "that is the Moon cannot be told.",
    "other_circles": "The disc that was compared is not the Moon's, but there are other round things in the picture: "
    "whether one of them is the Moon cannot be told.",
    "by_hand_or_whole": "Place it by hand on its page, or ask the sender for a picture with the whole Moon in it.",
}
# What is set by hand.
SENTENCES |= {
    "several_features": "“{name}” can be any of {names}",
    "whole_name": "Give the whole name.",
    "no_feature": "The IAU's list has no feature called “{name}”",
    "did_you_mean": "Did you mean {names}?",
    "latin_name": "Look for its Latin name as the IAU writes it.",
    "named_twice": "The same feature is named twice.",
    "one_name_a_point": "Set each name on one point.",
    "far_side": "{name} lies on the far side of the Moon.",
    "name_visible": "Name a point that can be seen.",
    "one_point": "One named point does not settle size and turn.",
    "second_point": "Name a second point far from it, or set the circle of the edge too.",
    "points_near": "The named points are too near each other to settle size and turn.",
    "opposite_points": "Name points on opposite sides of what shows.",
    "no_disc_fits": "No disc of the Moon fits the named points.",
    "check_points": "Check the names and their points.",
    "check_circle": "Check the circle, or name two points on the Moon.",
    "circle_elsewhere": "The Moon's surface puts the disc elsewhere than the circle set by hand.",
    "points_contradict": "The points set by hand contradict the Moon's surface, which has {name} {pixels} px away; the "
    "points are kept.",
    "points_alone": "Placed by the points set by hand alone: the surface in the picture could not confirm them.",
    "points_astray": "The points set by hand do not fit each other: {name} lies furthest from where the others put it.",
    "frame_about_placed": "Straight edges stand all round the disc: a photograph of a screen or a print?",
    "hand_unusable": "What was set by hand cannot be used any more:",
}
# What is not measured of it.
SENTENCES |= {
    "not_measurable": "The Moon is not placed in this picture, so nothing on it can be measured.",
    "by_hand_or_eye": "Place it by hand, or judge it by eye.",
    "too_little_framed": "Too little of the lit disc is in the picture.",
    "judge_by_eye": "Judge it by eye.",
    "sharpness_unknown": "Neither the limb nor the surface shows how sharp the picture is.",
    "judge_sharpness": "Judge its sharpness by eye.",
}
# What became of its file where it was to be placed.
SENTENCES |= {
    "file_denied": "The file cannot be read: {why}.",
    "check_file": "Check its name and permissions.",
    "tool_failed": "The tool failed on this picture ({why}).",
    "placer_late": "The picture took {time}.",
    "placer_died": "The picture made the program that opens it stop.",
    "cluster_died": "The workers of the cluster that had the picture were ended, one after the other.",
    "report_it": "Please report it with the picture; the original is kept.",
    "ask_again": "Please ask for it again as JPEG or PNG; the original is kept.",
    "retry_once_more": "moondesk retry tries it once more.",
}
# Why a file that was sent is not opened.
SENTENCES |= {
    "file_damaged": "The file is damaged or incomplete.",
    "send_again": "Please send it again; if it fails again, open it, save it anew as JPEG and send that.",
    "too_much_memory": "The picture takes more memory to open than it may.",
    "send_half": "Please send it reduced to half its size.",
    "send_jpeg": "Please send the picture as JPEG or PNG.",
    "too_many_pixels": "The picture has {width} x {height} pixels, more than the {millions} million handled here.",
    "too_few_pixels": "The picture has only {width} x {height} pixels: no Moon can be made out in it.",
    "no_thumbnail": "Please send the picture itself, not its thumbnail.",
    "strip": "The picture is a strip of {width} x {height} pixels: no Moon can be made out in it.",
    "send_itself": "Please send the picture itself.",
    "jpeg_passes": "The JPEG is made of more than {count} passes, as no camera does.",
    "tiff_planes": "The TIFF keeps its colours in separate planes.",
    "save_interleaved": "Please save it with interleaved colours.",
    "tiff_inks": "The TIFF keeps more than 8 bits of a colour model for print.",
    "save_rgb": "Please save it as RGB.",
    "fits_empty": "The FITS file holds no picture.",
    "send_fits_png_tiff": "Please send the picture itself as FITS, PNG or TIFF.",
    "fits_damaged": "The FITS file is damaged or incomplete.",
    "send_stretched": "Please send it again, or stretched as PNG or 16-bit TIFF.",
    "fits_cube": "The FITS file is a cube of {axes} values, not one picture.",
    "send_one_plane": "Please send one picture, in grey or with three colour planes.",
    "avif_unopened": "The file is an AVIF picture, which this installation's Pillow cannot open.",
    "raw_damaged": "The camera raw file is damaged, or of a camera that is not known here.",
    "send_developed": "Please develop it in the camera or a photo program and send it as JPEG or 16-bit TIFF.",
    "raw_missing": "The file is a camera raw file, which needs an extra that is not installed; the original is kept.",
    "raw_unsafe": "The file is a camera raw file, which the installed {library} {release} opens unsafely ({needed} is "
    "needed); the original is kept.",
    "raw_install": "Run pip install 'moondesk[raw]', then moondesk retry, which places it; or ask for it developed, as "
    "JPEG or 16-bit TIFF.",
    "heic_missing": "The file is a HEIC picture, as phones store them, which needs an extra that is not installed; the "
    "original is kept.",
    "heic_unsafe": "The file is a HEIC picture, as phones store them, which the installed {library} {release} opens "
    "unsafely ({needed} is needed); the original is kept.",
    "heic_install": "Run pip install 'moondesk[heic]', then moondesk retry, which places it; or ask for it as JPEG: "
    "phones export it so, or are set to their most compatible format.",
    "file_empty": "The file is empty.",
    "send_whole": "Please send the picture again; the transfer broke off before it began.",
    "is_unknown": "The file is not a picture of a kind known here.",
    "is_sound": "The file is a sound recording.",
    "is_live_half": "The file is the moving half of a Live Photo.",
    "live_still": "If its still picture came along, that one is used. Otherwise:",
    "is_video": "The file is a video.",
    "send_frame": "Please send the best single frame as JPEG or PNG: stop the video where the Moon is sharpest and save "
    "that frame as a picture.",
    "is_gif": "The file is a GIF, which keeps only 256 colours.",
    "is_pdf": "The file is a PDF document.",
    "send_no_document": "Please send the picture itself as JPEG or PNG, not a document with it.",
    "is_postscript": "The file is a PostScript drawing.",
    "export_it": "Please export it as PNG or JPEG.",
    "is_photoshop": "The file is a layered Photoshop document.",
    "is_zip": "The file is a zip archive or office document.",
    "unpack_pictures": "Please unpack it and send the pictures themselves.",
    "is_archive": "The file is an archive.",
    "is_packed": "The file is a packed file.",
    "unpack_it": "Please unpack it and send what is in it.",
    "is_office": "The file is an office document.",
    "send_itself_jpeg": "Please send the picture itself as JPEG or PNG.",
    "is_winmail": "The file is a mail program's own wrapping (winmail.dat).",
    "send_attached": "Please send the picture as an ordinary attachment, the mail as plain text or HTML.",
    "is_bigtiff": "The file is a BigTIFF.",
    "is_jpeg_xl": "The file is a JPEG XL picture.",
    "is_jpeg_2000": "The file is a JPEG 2000 picture.",
    "is_web_page": "The file is a web page or drawing.",
}
# Why nothing of a mail, an archive or a file is used.
SENTENCES |= {
    "archive_entries": "The archive has more than {count} entries.",
    "archive_office": "The file is an office document or a program, not an archive of pictures.",
    "archive_damaged": "The archive is damaged or incomplete.",
    "send_themselves": "Please send the pictures themselves, as JPEG or PNG.",
    "archive_empty": "The archive is empty.",
    "send_picture": "Please send the picture.",
    "archive_files": "The archive has more than {count} files; the rest was left out.",
    "fewer_at_a_time": "Please send fewer at a time.",
    "locked": "It is locked with a password.",
    "send_unlocked": "Please send it without one.",
    "packed_oddly": "It is packed in a way that is not opened here.",
    "larger_than": "It is larger than {megabytes} MB.",
    "archive_too_large": "The archive's files together are too large.",
    "ask_smaller": "Please ask for a smaller picture.",
    "damaged_inside": "It is damaged inside the archive.",
    "send_smaller": "Please send a smaller copy.",
    "no_pictures_alone": "It is an archive or a document.",
    "choose_pictures": "Please choose the pictures themselves.",
    "opener_died": "The file made the program that opens it stop.",
    "send_as_jpeg": "Please send it as JPEG or PNG.",
    "mail_larger_than": "The mail is larger than {megabytes} MB.",
    "fewer_pictures": "Please send fewer pictures at a time.",
    "ask_fewer": "Please ask for fewer pictures at a time.",
    "container_damaged": "{name} is damaged, or not what it says it is: its pictures cannot be taken out.",
    "container_large": "{name} asks for more memory than it may.",
    "container_left_out": "Pictures in it that cannot be taken out, or are too large or too many: {count}.",
    "send_picture_itself": "Please ask for the picture itself, as JPEG or PNG.",
    "mail_nested": "The mail is nested too deeply, or damaged, and cannot be opened.",
    "send_new_mail": "Please send the picture in a new mail.",
    "mail_stays": "The mail has {megabytes} MB, more than {most}; it stays in the mailbox.",
    "ask_fewer_or_smaller": "Please ask for fewer or smaller pictures.",
    "mail_late": "The mail took {time} to read.",
    "mail_died": "The mail made the program that reads it stop.",
    "mail_memory": "The mail asks for more memory than it may.",
    "mail_unreadable": "The mail cannot be read ({why}).",
    "file_late": "The file took {time} to read.",
    "file_died": "The file made the program that reads it stop.",
    "file_unreadable": "The file cannot be read ({why}).",
    "file_memory": "The file asks for more memory than it may.",
    "retry_reads": "It is put aside; moondesk retry reads it again.",
}
# What of a mail, a table or a form was not used.
SENTENCES |= {
    "mail_subject_unreadable": "The mail's subject cannot be read.",
    "mail_text_unreadable": "The mail's text cannot be read.",
    "mail_sender_unreadable": "The mail's sender cannot be read.",
    "mail_no_address": "The mail's From line names no address: it cannot be answered, and its sender is found by name.",
    "mail_date_unreadable": "The mail's date cannot be read.",
    "mail_identifier_unreadable": "The mail's identifier cannot be read.",
    "mail_kind_unreadable": "The mail's kind cannot be read.",
    "mail_thread_unreadable": "The mail's thread cannot be read.",
    "mail_undated": "The mail carries no date that can be read.",
    "mail_parts": "The mail has more than {count} parts; the rest was left out.",
    "mail_deep": "Parts of the mail are nested more than {depth} deep; they were left out.",
    "set_aside_one": "One small picture of the signature was set aside.",
    "set_aside": "{count} small pictures of the signature were set aside.",
    "mail_links": "The mail names pages, which nothing here opens: {links}",
    "attachment_broken": "The attachment {name} cannot be unpacked.",
    "attachment_broken_unnamed": "The attachment without a name cannot be unpacked.",
    "table_rows": "{table} has more than {count} rows; the rest was left out.",
    "table_no_file": "{table}, line {line}: no file is named; the line was left out.",
    "table_twice": "{table}, line {line}: {file} is named twice; the first line counts.",
    "table_broken": "{table}, line {line}: {why}; the rest was left out.",
    "table_no_time": '{table}, line {line}: {column} "{text}" is not a time like 2026-05-24T21:05:00Z; it was left out.',
    "table_no_latitude": '{table}, line {line}: {column} "{text}" is not a latitude in degrees; it was left out.',
    "table_no_longitude": '{table}, line {line}: {column} "{text}" is not a longitude in degrees; it was left out.',
    "table_half_place": "{table}, line {line}: a place needs both latitude and longitude; it was left out.",
    "clock_twice": "The sender says it was taken at {local} ({zone}), which the clocks showed twice: {first} or {second} "
    "UTC.",
}


@dataclass(frozen=True)
class Sentence:
    """A code of `SENTENCES` with its values; code "": what was said in words, as `words`.

    Raises ValueError for a code or values without words.
    """

    code: str
    values: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        try:
            str(self)
        except KeyError as error:
            raise ValueError(f"no words for “{self.code}”: {error}") from None

    def __str__(self) -> str:
        return SENTENCES[self.code].format_map(self.values) if self.code else self.values["words"]


#: What a failure is told by: sentences, or words that nobody keeps.
Words = str | Sentence | tuple[Sentence, ...]


def sentence(code: str, **values: object) -> Sentence:
    """ValueError for a code that has no words.

    >>> str(sentence("few_compared", count=9))
    'Only 9 places could be compared.'
    """
    return Sentence(code, {key: str(value) for key, value in values.items()})


def sentences_of(words: Words) -> tuple[Sentence, ...]:
    """As many as there are; none for no words."""
    if isinstance(words, str):
        return (Sentence("", {"words": words}),) if words else ()
    return (words,) if isinstance(words, Sentence) else words


#: Sentences without values, by their words.
_CODES = {words: code for code, words in SENTENCES.items() if "{" not in words}


def sentence_in_words(words: str) -> tuple[Sentence, ...]:
    """Of a time when no codes were kept: its code where it has one all the same."""
    return (Sentence(_CODES[words]),) if words in _CODES else sentences_of(words)


def join_words(said: Iterable[Sentence]) -> str:
    return " ".join(map(str, said))


class Explained:
    """A record with `reasons` and `advices`, as they are read."""

    reasons: tuple[Sentence, ...]
    advices: tuple[Sentence, ...]

    @property
    def reason(self) -> str:
        return join_words(self.reasons)

    @property
    def advice(self) -> str:
        return join_words(self.advices)
