"""What is told of marks and sidecars: a call refused, a sidecar written or left alone."""

from __future__ import annotations

# Folders that sidecars are written to

NO_FOLDER = "{path}: there is no such folder. Give the one that holds the frames."
NOT_LOOKED_INTO = "{path}: cannot be looked into ({reason})."
ON_CARD = (
    "{folder} is on a camera's card ({place}), and the card is never written to. Give the folder "
    "to which you copied it."
)
AUDITED_AS_CARD = (
    "{folder} was audited as the card, and the card is never written to. Give the folder to which "
    "you copied it; if this is the copy, add --in-place."
)

# The call

UNDO_WITH_MARKS = "--undo takes no MARKS: it takes back the last run under FOLDER."
NO_MARKS = "MARKS is missing: name the marks.json saved from the report."
STEM_OR_FULL = "The naming of new sidecars is stem or full."
THREE_LABELS = "Three different labels are needed, for keep, second and drop."
LABEL_LENGTH = "A label has 1 to {most} characters, none of them a margin."
LABEL_UNSEEN = "A label holds a character that cannot be seen."
NOTHING_TO_UNDO = "{path}: no run of apply is left to undo here."

# The file of marks

NOT_AN_AUDIT = "{path}: is not an audit. Give the audit.json of a report."
NOT_MARKS = "{path}: is not a marks file ({schema!r}). Save the marks from the report again."
NO_LIST = "{path}: holds no list of marks. Save the marks from the report again."
NEITHER = "{path}: is neither a marks file nor an audit."
OBJECTS = "{path}: {name} must be a list of objects."
NO_MARK = "{path}: a mark is one of {known} or null."
INPUT_NUMBER = "{path}: input must be a number from 0."
NO_FILE = "{path}: names no file."
TEXT = "{path}: {name} must be text."
NOT_JSON = "{path}: is not JSON, or only a part of it."

# What was written

STOPPED = "Stopped: {told}. The same command writes the rest."
KEPT = "What somebody else set was kept; --replace overrules that."
NOTHING_WRITTEN = "Nothing was written; it would be: {told}."
CARRIED_OVER = "the XMP in the frame was carried over"
FOR_BLEND = "for the blend: {job}"
COVERS_RANGE = "needed to cover the range of its bracket"
NOT_OURS = "{what} {values} is not ours and stays"
TAKEN_OUT_BY_OTHERS = "{what} was taken out by somebody and stays out"
TAKEN_OUT = "{what} {values} taken out"
CHOICE_RECORDED = "recorded as the audit's choice"
RECORDED = "recorded as yours"
OWN_STAYS = "your own mark stays"

# Why a sidecar is left alone

NOTE_LONG = "its note has {count:,} characters, {most:,} at most; shorten it"
CHANGED_MEANWHILE = "it was changed by another program meanwhile; apply the marks again"
CHANGED_SINCE = "it was changed since; it stays"
STANDS_FOR_MANY = (
    "{name} would stand for {count} frames that are marked differently; name one input, or name "
    "new sidecars in full"
)
PATH_UNUSABLE = "its path cannot be used ({reason})"
LEFT_ALONE = "it was left alone: {reason}"
XMP_HIDDEN = (
    "the XMP in the frame itself cannot be read ({reason}), and a new sidecar would hide it"
)
NO_BACKUP = "no backup can be kept in the folder ({reason})"
NO_SUCH_FILE = "no such file under the folder"
LEADS_AWAY = "its path does not stay under the folder"
SIDECAR_ITSELF = "it is a sidecar itself, not a frame"
NO_SIDECAR = "it is no sidecar"
LINK_OUT = "a link on its way leads out of the folder"
SIDECAR_LINK = "the sidecar is a link to another file"
NAME_TAKEN = "the sidecar's name is taken by something that is no file"
WRITE_PROTECTED = "the sidecar is write-protected"
STANDS_BESIDE = "{beside} stands beside it and was left alone"
TOO_LARGE = "it is too large to be a sidecar"
DOCUMENT_TYPE = "it holds a document type, which no sidecar needs"
NO_NAMESPACE = "it is not well-formed XML (no namespace for {prefix!r})"
NO_XMP = "it holds no XMP (no rdf:RDF)"
ENCODING = "its encoding ({codec}) cannot be written back as it was"
NOT_XML = "it is not well-formed XML ({reason})"
TOO_DEEP = "it is not well-formed XML that a sidecar may be (nested too deeply)"
START_TAG = "it is not well-formed XML (a start tag that cannot be followed)"
