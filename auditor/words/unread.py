"""Why a file could not be measured, or made, and what to do: a code and a sentence each."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from auditor import PROJECT_URL
from auditor.model.errors import FrameFailure, UnreadableFile
from auditor.model.faults import fault_text

FAILURE_CODES = {
    "cut-off": "The file ends before its picture does.",
    "empty": "The file holds no bytes.",
    "no-pixels": "The picture data are missing or all zero, though the file opens.",
    "damaged": "The picture data are damaged.",
    "not-raw": "The file is not a raw file, whatever its name says.",
    "unsupported": "The decoder does not know this kind of raw file.",
    "not-sensor-data": "The file holds processed values rather than linear sensor data.",
    "too-large": "The decoder holds no picture of this size, though the file may be whole.",
    "timed-out": "Decoding took longer than the time-out.",
    "out-of-memory": "Decoding needed more than the memory ceiling.",
    "worker-died": "The decoder crashed on this file.",
    "no-permission": "The file may not be read.",
    "vanished": "The file was there when the audit began and is gone.",
    "changed": "The file changed while it was read.",
    "interrupted": "The audit was stopped before this file.",
    "input-error": "The file could not be read from its medium.",
    "internal": "The file met a fault of this program.",
}
"""Why a file could not be measured, in one sentence each."""


@dataclass(frozen=True, slots=True)
class Unread:
    """One reason.

    Parameters
    ----------
    code : str
        A key of :data:`FAILURE_CODES`.
    text : str
        What is wrong and what to do, with places for figures.
    """

    code: str
    text: str

    def error(self, **figures: object) -> UnreadableFile:
        """Return the error to raise of a file that is not measured for it."""
        return UnreadableFile(self.code, self.text.format(**figures))

    def failure(self, **figures: object) -> FrameFailure:
        """Return what is kept of such a file."""
        return FrameFailure(self.code, self.text.format(**figures))


class Oddity(StrEnum):
    """Why a DNG is not read as its tags describe it, as a clause."""

    BLACK_LEVEL = "its black level tag is damaged"
    SAMPLES = "its mosaic holds more than one sample a pixel"
    COLOURS = "its colours lie in an unknown way"
    TILE_HEAD = "a tile of the picture does not begin as it should"
    COMPRESSION = "its compression is not known"
    LAYOUT = "its samples are laid out in an unknown way"
    BITS = "it holds samples of {bits} bits"
    NO_TILES = "it has neither tiles nor strips"
    TILES_SHORT = "its tiles do not cover the picture"
    FIELDS = "its fields are laid out in an unknown way"
    TILE_SMALL = "a tile is smaller than its size"
    PART_SHORT = "a part of the picture is shorter than its size"
    TILE_OTHERWISE = "a tile is compressed in another way than the file says"
    TILE_SAMPLES = "a tile holds another number of samples than its size asks for"
    EARLY = "it was written after an early version of the specification"
    NO_END = "a tile has no end mark"
    BREAKS_OFF = "a tile of the picture breaks off"
    TILE_COLOURS = "a tile is no 8-bit JPEG of as many colours as the picture"
    TILE_LARGE = "a tile is larger than its size"
    DEFLATED = "its samples are deflated in an unknown way"
    NOT_DECODED = "a tile of the picture cannot be decoded"


# Of the medium

NOT_ALLOWED = Unread("no-permission", "It may not be read. Change its permissions.")
GONE = Unread("vanished", "It is gone. Was the card taken out?")
RING = Unread("vanished", "It is a link that leads to itself. Remove it.")
LINK_TO_NOTHING = Unread("vanished", "It is a link that leads nowhere. Is the other drive missing?")
INPUT_ERROR = Unread(
    "input-error", "It could not be read ({what}). Try the card in another reader."
)
NOT_FETCHED = Unread("input-error", "The file cannot be fetched ({reason}).")
NOT_LISTED = "The folder cannot be listed. {why}"
NO_FILE_ANY_MORE = Unread(
    "changed", "It is no file any more, but a folder, pipe or device. Was it replaced?"
)
CHANGED = Unread(
    "changed",
    "The file changed while it was read: something still writes it. Audit again once that is done.",
)

# Of what ought to be a raw file

HOLDS_NOTHING = Unread("empty", "It holds no bytes. Copy it from the card again.")
EMPTY = Unread("empty", "The file holds no bytes. Copy it from the card again.")
BIG_TIFF = Unread("unsupported", "It is laid out as BigTIFF, which is not read here.")
BEGINS_WITH_ZEROS = Unread(
    "damaged", "It begins with zeros: the card did not keep it. Copy it again."
)
NOT_RAW = Unread("not-raw", "Whatever its name says, it is {what}.")
LIKE_NO_RAW = "something else: it begins like no raw file known here"
NAMED_AND_NOT_RAW = Unread("not-raw", "This is not a raw file. Give the raw file itself.")

# Of the decoder

UNKNOWN_KIND = Unread(
    "unsupported",
    "The decoder does not know this kind of file, or its beginning is damaged. Keep it: a "
    "converter that knows it can make a DNG with lossless compression of it.",
)
CUT_OFF = Unread(
    "cut-off",
    "The file ends before its picture does, or points outside itself. Copy it from the card again.",
)
DATA_DAMAGED = Unread("damaged", "The picture data are damaged. Copy the file from the card again.")
TOO_LARGE = Unread(
    "too-large",
    "The picture is larger than the decoder holds. If its true size is not so large, its header is "
    "damaged.",
)
MORE_MEMORY = Unread(
    "out-of-memory",
    "Decoding needed more memory than it may take. Raise memory_limit_mb under [measure] in the "
    "settings.",
)
NOT_DECODED = Unread(
    "damaged", "The decoder cannot read the picture. Copy the file from the card again."
)
NO_PIXELS_GIVEN = Unread("unsupported", "The decoder gives no raw pixels.")
DIAGONAL = Unread("unsupported", "The sensor's pixels lie diagonally: not known here.")
COMPRESSION = Unread(
    "unsupported",
    "The picture is stored as {told}, which no decoder here knows. The file may well be whole: "
    "convert it to a DNG with lossless compression, and audit that.",
)
STORED_OTHERWISE = Unread("unsupported", "The picture cannot be read: {reason}.")
TILE_DAMAGED = Unread(
    "damaged", "The picture cannot be read: {reason}. Copy the file from the card again."
)
PATTERN = Unread(
    "unsupported",
    "The colours of this sensor lie in a pattern that is not known here (known are Bayer, X-Trans, "
    "monochrome and three samples a pixel).",
)
CURVE = Unread("unsupported", "This lossy DNG cannot be read here: {what}.")
OPCODES = Unread("damaged", "Its opcode list is damaged.")
WHITE_UNDER_BLACK = Unread("damaged", "Its white level does not lie above its black level.")

# Of what the header claims, and what is there

HUGE = Unread(
    "damaged",
    "The file claims a picture of {width} x {height} pixels. Its header is damaged.",
)
HUGE_TILE = Unread(
    "damaged",
    "A tile claims to be far larger than the picture: the header is damaged. Copy the file from "
    "the card again.",
)
ASTRAY = Unread(
    "damaged",
    "The file says that its pixels lie where its tags or other pixels are: its header is damaged. "
    "Copy the file from the card again.",
)
FLOATING = Unread(
    "not-sensor-data",
    "The file holds floating-point values, which the decoder scales to their own maximum: headroom "
    "would mean nothing. Audit the original raw files.",
)
PROCESSED = Unread(
    "not-sensor-data",
    "The file holds three values a pixel that the camera has processed (a small raw): clipping can "
    "no longer be measured. Record full-size raw files.",
)
UPPER_PART = Unread(
    "cut-off",
    "The file ends before its picture does: only the upper {share:.0f} % of it are there. Copy it "
    "from the card again.",
)
ZEROS_CUT_OFF = Unread(
    "no-pixels",
    "The file opens, but its picture is zeros: it ends before its picture does. Copy it from the "
    "card again.",
)
ZEROS = Unread(
    "no-pixels",
    "The file opens, but its picture is zeros: it was never written, was lost, or is packed in a "
    "way that the decoder does not know. Copy it from the card again.",
)

# Of a task: a limit or a fault of this program, and nothing of the file

TIMED_OUT = Unread(
    "timed-out",
    "Not done within {limit_s:g} s, so it was given up. If the medium is slow, raise time_limit_s "
    "under [measure] in the settings.",
)
OUT_OF_MEMORY = Unread(
    "out-of-memory",
    "It needs more than {limit_mb} MB of memory. If the file is whole, raise memory_limit_mb under "
    "[measure] in the settings.",
)
ENDED_FROM_OUTSIDE = Unread(
    "worker-died",
    "Its worker process was ended from outside ({name}) each time it was tried: the machine may be "
    "short of memory. Audit it again with fewer workers.",
)
CRASHED = Unread(
    "worker-died",
    "The decoder crashed on it ({ended}); nothing else was lost. Raise memory_limit_mb under "
    "[measure] in the settings if it is low; a damaged file can do this too: compare it with a "
    "second copy.",
)
OUR_FAULT = Unread("internal", "{fault} It says nothing of the file.")
INTERRUPTED = Unread("interrupted", "The audit was stopped before this file.").failure()

# Of a report

NOT_MADE = "{name}: could not be made. {why}"
SMALL_INSTEAD = "The page shows small pictures where a large one is missing."


def please_report(error: BaseException) -> str:
    """Say that this program failed, and what would help to mend it."""
    return (
        f"This program failed ({fault_text(error)}). Please report it at {PROJECT_URL}/issues, "
        "with the file that --debug FILE writes."
    )
