"""What is told while an audit runs, at its end, and in the terminal."""

from __future__ import annotations

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
CHANGED = "{file}: changed during the audit; it is told as it is now."
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
