"""What is wrong with a call and what to do; what is told while an audit runs, and at its end."""

from __future__ import annotations

# Paths

NO_PATH = "No path is given. Name the card's folder or the raw files."
NO_FILE_OR_FOLDER = "{path}: is a device, pipe or socket. Name a file or a folder."
NOTHING_THERE = "{path}: cannot be found. Is its name right, and is the card or drive there?"
NOT_LISTED = "{path}: cannot be listed ({reason})."
NO_FSSPEC = "{path}: reading from a URL needs fsspec. Install exposure-auditor[cluster]."
NOT_UNDERSTOOD = "{path}: cannot be understood ({reason})."
NO_RAW_FILE = (
    "There is no raw file under {inputs}{aside}. Is it the right folder, and is the card mounted? "
    "Nothing was written."
)
NO_RAW_FILE_UNDER = "There is no raw file under {name}."
EMPTY_PATH = "A path is empty. Name the card's folder or the raw files."
LANDS_ON_CARD = (
    "{what} would land on the card ({target} is under {card}), and the card is never written to. "
    "Choose another {instead}."
)
USE_AUDIT = "{path}: is a folder. Use 'auditor audit {path}' for a whole card."
EMPTY_OPTION = "No path is given: it is empty."
AN_ADDRESS = "{text} is an address. Name a file or folder of this machine."

# Folders that reports go to

NOT_A_FOLDER = "{path}: is not a folder. Choose a folder with --out."
READ_ONLY = "{path}: cannot be written ({there} is read-only). Choose another folder with --out."
OUT_NOT_WRITABLE = "{path}: cannot be written ({reason}). Choose another folder with --out."
ANOTHER_SHOOT = (
    "{folder} holds the audit of another shoot ({count} files, such as {shoot}). Choose another "
    "folder with --out, or replace it with --replace.{after}"
)
NOT_OURS = (
    "{out} holds a {there} that is not known to be this program's. Choose another folder with "
    "--out, or replace it with --replace."
)
KEPT_IN_STORE = " What was measured is kept in the store."
NO_OUT = "Reports are asked for and no folder is: give out as well as formats."
DEBUG_NOT_WRITABLE = "{path}: cannot be written ({reason}). Choose another file with --debug."
CARD_SUFFIX = "{path}: a card is a .png or a .pdf file, for example --card card.pdf."
CARD_THERE = "{path}: is there already. Choose another name, or add --replace to write over it."
NOT_ALL_WRITTEN = "Not every report could be written. "

# Options

LEAVE_ONE_OUT = "{options} do not go together: leave one out."
TWO_CALLS = "{options} do not go together: make two calls of it."
NO_FORMAT_LIKE = "There is no format {name!r}.{nearest} There are {known}."
NO_FORMAT = "There is no format {unknown!r}; there are {known}."
NO_SUCH_SHEETS = "--sheets {sheets}: there are {known}."
NO_SUCH_PICTURES = "--pictures {pictures}: there are {known}."
NO_TABLE = "There is no table {name!r}.{nearest} There are {known}."
NO_PYARROW = (
    "--format parquet needs the library pyarrow. Install it with: pip install "
    "'exposure-auditor[parquet]'"
)
TWO_READINGS = "{written!r} can be read in two ways: write 1000 or 1.0."
NO_NUMBER = "{written!r} is no number."
LAT_LON = "{option} takes LAT,LON in degrees, such as 54.2,3.6; not {text!r}."
NO_SUCH_PLACE = "{option} {text}: there is no such place."
OPEN_WITHOUT_PAGE = "--open needs the page: let html be among the formats."
NOT_WANTED = "--f and --iso belong to --want, such as --want 60s."
NO_SHUTTER = "Say the SHUTTER time as metered, such as 1/30; --kit alone tells all times."
THREE_LABELS = "labels must be three texts: for keep, for second and for drop."
LIST_OF_TEXTS = "{name} must be a list of texts."
A_TEXT = "{name} must be a text."

# What is asked of an audit, or of the store

NO_CODE = (
    "There is no finding, failure or measure {code!r}.{nearest} 'auditor explain' lists them all."
)
FRAMES_ONLY = "--audit and --store go with two frames: auditor explain 0012 0014."
ONE_CODE = "Name one code, or two frames."
NO_FRAME = "The audit holds no frame {name}."
ONE_FRAME = "{first} and {second} are one frame. Name two."
NO_AUDIT = "The store remembers no audit. Name one with --audit FILE."
MANY_FRAMES = "{name} may be {some}. Name one in full."
NOT_READ = "{path}: cannot be read ({reason})."
NOT_AN_AUDIT = "{path}: is no audit.json that can be read. Audit the card again."
NOT_MEASURED = "{path}: the audit measured no such frame."
NOT_AUDIT_JSON = "{path}: is no audit.json."
NEWER_AUDIT = "{path}: is of a newer schema: update this program."
NO_AUDIT_JSON = "{path}: is no audit.json ({reason})."
NOT_AS_AUDIT = "{path}: is not as an audit.json is ({reason})."
NO_HISTOGRAM = "{id}: was not measured, so there is no histogram."
NO_FILTER_MAP = "{long}: its filter was not measured over the picture."
NO_STORE = "{path}: there is no store. Name the right file with --store."
IMPORT_DAMAGED = (
    "{path}: is damaged, and not all that it held could be taken in. Import another copy, or "
    "audit the cards again: what is missing is then measured anew."
)
NO_SHOOT = (
    "{path}: holds no shoot. An audit remembers in this file unless it is given another with "
    "--store, as the demo is: name that one with --store."
)

# Workers, of this machine or of a cluster

NO_WORKERS = "--workers {workers}: at least one worker is needed."
WORKERS_NOT_STARTED = (
    "The worker processes cannot be started. Is the machine out of memory or of processes? A "
    'script that calls this must do so under if __name__ == "__main__".'
)
NO_LIBRARY = (
    "--cluster needs the library dask.distributed. Install it with: pip install "
    "'exposure-auditor[cluster]'"
)
NO_SCHEDULER = (
    "--cluster {address}: no scheduler answers there. Give the address that 'dask scheduler' "
    "printed, such as tcp://192.0.2.10:8786."
)
NONE_ON_CLUSTER = (
    "--cluster {address}: the scheduler has no workers. Start some with 'dask worker'."
)
PROGRAM_LACKING = (
    "--cluster {address}: its workers lack this program ({reason}). Install exposure-auditor "
    "{here} on each of them."
)
NO_ANSWER = (
    "--cluster {address}: its workers could not be asked what they are ({name}). Look at what "
    "they print, and run the same command again."
)
ANOTHER_VERSION = (
    "The worker {worker} runs version {version} of this program, here it is {here}. Install the "
    "same version everywhere."
)
NO_PROCESSES = (
    "The worker {worker} may not start processes. Start workers with "
    "DASK_DISTRIBUTED__WORKER__DAEMON=False in their environment."
)
CLUSTER_LOST = "The cluster at {address} is lost: {why}."
NOTHING_ENDED = "nothing has ended for {patience_s:.0f} s"
SCHEDULER_SILENT = "its scheduler does not answer"
RESULT_NOT_FETCHED = "a result could not be fetched"
CONNECTION_BROKE = "the connection broke"

# While an audit runs

STOPPED_AS_ASKED = "The audit was stopped as it was asked to. No report was begun anew."
LOST_AGAIN = (
    "{path}: measurements were lost again and again. Look after its disk, or name another file "
    "with --store."
)
WITHOUT_STORE = "{reason} This audit was made without the store."
NOT_IN_HISTORY = "{reason} This shoot is not part of the history."
GOES_ON = "The same command goes on from there."
BEGINS_ANEW = "Nothing is remembered without a store: the same command begins anew."
REPORTS_HOLD = "; the reports hold these. {next_run}"
NONE_MEASURED = ": none is measured, no report is written."
STOPPED_AFTER = "Stopped after {reached} of {count} files{ends}"
OTHERS = " ({count} of {all} files; others otherwise.)"
ALL_OURS = (
    "No file was measured, and that says nothing of the files. {message}{more} Nothing was written."
)
NO_LARGE = "{file}{more}: no large pictures could be made; the page shows small ones."
CHANGED = "{file}: changed during the audit, which shows it as it is now."
LARGE_MISSING = "{reason} Large pictures are missing; the page shows small ones."
KEPT = " What was measured is kept: the same command goes on."
STOPPED = "auditor: stopped. Every report is whole, or as it was before."
OUTPUT_LOST = "auditor: standard output: cannot be written ({reason})."
FOLDER_GONE = "auditor: the current folder is no longer there. Change to another folder."

# What the terminal shows

LEVELS_IN = "Levels in DN, rooms in stops. Clipping level: {sources}."
JUDGED_AMONG = "Judged among {beside} sisters of its shoot."
DIAL_OR_BULB = "Up to 30 s: the dial's times; longer ones: Bulb. –: more than a day, or never."
BY_SPREAD = "By the spread of the filter's own measurements: {spread}."
FILTERS_LEFT_OUT = "{left_out} more are left out; name those you want by --filter."
MEASURED = "Measured {done} of {total}, {pace}{left}."
DRAWN = "Drawn {done} of {pictures} sheets."
NO_BROWSER = "No browser was found. The page is {page}."
MADE_ANEW = "Made anew with it, since they stood there before: {told}."
MORE_IN_REPORT = "{count} more, and why, in the report."
FIELDS_TOO = "\n\n{more}\n\nAnd every field of audit.json by its name."
