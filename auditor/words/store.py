"""What is wrong with a store, and what to do."""

from __future__ import annotations

NAME_ANOTHER = "Name another file with --store."
DO_WITHOUT = "An audit can do without a store (--no-store)."
OR_WITHOUT = f"{NAME_ANOTHER} {DO_WITHOUT}"
IMPORT_ANOTHER = "Name another file to import."

# It is no store of today

NOT_A_FILE = "{path}: is not a file. {advice}"
NOT_A_STORE = "{path}: is not a store. {advice}"
OF_ANOTHER_PROGRAM = "{path}: is another program's database. {advice}"
EMPTY = "{path}: is empty: a store never is, nor an export. {advice}"
NEWER = (
    "{path}: was written by a newer version of this program (store version {version}, this one "
    "knows {known}). Update the program, or name another file with --store."
)
NO_SUCH_IMPORT = "{path}: there is no such file to import."
DAMAGED_IMPORT = "{path}: is damaged ({why}) and cannot be imported. {advice}"

# It cannot be used for now

NOT_WRITABLE = f"{{path}}: the store cannot be opened for writing ({{reason}}). {OR_WITHOUT}"
NOT_READ = "{path}: cannot be read ({reason}). {advice}"
COPY_WITH_LOG = (
    "What was written last lies in {name}-wal: copy both to a folder that can be written, and name "
    "the copy."
)
LOCKED = (
    "{path}: another audit is writing to the store. Wait for it to end, or name another file with "
    "--store."
)
FULL = f"{{path}}: the disk is full. Make room; what is kept so far is safe. {DO_WITHOUT}"
NO_TEMPORARY = (
    "There is no room for what is measured: no temporary folder can be made ({reason}). Set TMPDIR "
    "to a folder that can be written."
)
NO_ROOM_FOR_THE_WHILE = (
    "{folder}: {why}, and without a store what is measured is put there for the while. Set TMPDIR "
    "to a folder that has room, or use --store."
)

# It is damaged

DAMAGED_AND_LEFT = (
    "{path}: the store is damaged ({damage}) and lies where nothing can be written. Copy it to a "
    "folder that can be written, and name the copy with --store: what can be read of it is saved."
)
NOT_SET_ASIDE = (
    "{path}: the store is damaged and cannot be set aside ({reason}). Move it away, or name "
    "another file with --store."
)
SET_ASIDE = (
    "{path}: the store was damaged ({damage}). It was set aside as {name}, nothing of it is deleted"
)
NOT_BEGUN_ANEW = "{told}; a new one cannot be made ({error})."
SAVED = "{told}; saved from it: {saved}. What is missing is measured again."
DAMAGED_AGAIN = (
    "{path}: the store is damaged, and so is the new one begun in its place ({damage}). Look after "
    "the disk, or name another file with --store."
)
MEASURES_LOST = (
    "{path}: of one file {count} of its measures were damaged ({names}), and are measured again."
)
SHOOT_LEFT_OUT = "{path}: past shoot {row} cannot be read ({why}) and is left out."

# What a check finds

PAGES = "The file is damaged: {what}."
ORPHAN = "Row {row} of {table} has lost its {parent}."
FILE_LOST = "Of {file} cannot be read: {names}. It will be measured again."
SHOOT_LOST = "Shoot {row} cannot be read: {why}. Audit its card again."
STOPPED = "Reading stopped before the end: {why}."

# An export

ONTO_ITSELF = "{path}: is the store itself. Choose another name for the export."
IN_THE_WAY = "{path}: is there already and {why}. Choose another name for the export."
HOLDS_MORE = (
    "{path}: is a store that holds {more} not in the one exported. Choose another name for the "
    "export, or take them in first, with --import."
)
NOT_EXPORTED = (
    "{path}: cannot be written ({reason}). Choose a folder that can be written and has room."
)
