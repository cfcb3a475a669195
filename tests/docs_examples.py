"""Examples for the reference: at least one for every option of every command."""

from __future__ import annotations

EXAMPLES: dict[str, tuple[tuple[str, str], ...]] = {
    "audit": (
        ("auditor audit /media/card --out evening", "One card, all reports."),
        (
            "auditor audit /media/card-1 /media/card-2 --out evening --at 54.2,3.6",
            "Two cards of one evening; the files hold no position.",
        ),
        (
            "auditor audit shoots/2026 --out year --format json,csv",
            "Figures only, for a whole year.",
        ),
        (
            "auditor audit /media/card --sheets all --pictures small --open",
            "Into audits/, and show the page.",
        ),
        ("auditor audit /media/card --out latest --replace", "Whatever that folder held."),
        (
            "auditor audit /media/card --out evening --debug faults.txt",
            "Keep what a report of a fault needs.",
        ),
        (
            "auditor audit /media/card --out evening --settings limits.toml --format html",
            "Your own limits; nothing is decoded again unless a measuring setting changed.",
        ),
        (
            "auditor audit /media/card --out evening --workers 2 --no-store --quiet --format csv",
            "Two processes, nothing remembered, only problems shown.",
        ),
        (
            "auditor audit /media/card --out evening --paper matte --paper-dmax 1.65",
            "Against the paper that you print on.",
        ),
        (
            "auditor audit /archive/2026 --out year-2026 -f json --cluster tcp://192.0.2.10:8786 "
            "--store year.sqlite",
            "On the machines of a cluster, into a store of its own.",
        ),
        ("auditor audit /media/card --json --quiet", "The audit itself, for another program."),
        (
            "auditor audit /media/card --out evening -f json --verbose",
            "Each file is named as it is measured.",
        ),
    ),
    "frame": (
        (
            "auditor frame /media/card/DCIM/100/IMG_0042.DNG --out sheets",
            "One frame's sheet and figures.",
        ),
        (
            "auditor frame /media/card/DCIM/100/IMG_0042.DNG -o sheets --settings limits.toml "
            "--debug faults.txt --quiet",
            "The same with your own limits, silently.",
        ),
        (
            "auditor frame /media/card/DCIM/100/IMG_0042.DNG --out sheets --no-store",
            "By itself, without what earlier audits remember of its shoot.",
        ),
        (
            "auditor frame /media/card/DCIM/100/IMG_0042.DNG -o sheets --store evening.sqlite "
            "--at 54.2,3.6",
            "Among the sisters that another store remembers; the file holds no position.",
        ),
    ),
    "nd-time": (
        ("auditor nd-time 1/30 --stops 10", "By stops."),
        ("auditor nd-time 4 --stops 6", "Four seconds behind six stops: 4 min 16 s."),
        ("auditor nd-time 1/15 --factor 1000 --card card.pdf", "By factor, with a card to print."),
        (
            "auditor nd-time 1/8 --density 1.8 --stops 3 --drift -0.2",
            "Two filters stacked, in light that falls by 0.2 stop a minute.",
        ),
        (
            "auditor nd-time 1/8 --density 3.0 --stops 3 --drift -0.2",
            "The same behind too much: the light falls faster than the shutter gathers it.",
        ),
        (
            'auditor nd-time 1/15 --filter "about 10 stops" --exact',
            "A filter of yours at its measured density; the time taken as written.",
        ),
        (
            'auditor nd-time 1/15 --filter "about 6 stops" --store evening.sqlite',
            "The same from another store.",
        ),
        (
            "auditor nd-time --kit --filter six=6.2 --filter big=9.8 --card kit.pdf --replace",
            "All your filters and their useful stacks; the card may take an older one's place.",
        ),
        (
            "auditor nd-time 1/30 --want 60s --f 11 --iso 100 --filter big=9.8",
            "The reverse: which filter and f-number give a minute?",
        ),
    ),
    "history": (
        ("auditor history", "All shoots remembered, in the terminal."),
        ("auditor history --out habits", "As a page and a picture."),
        (
            "auditor history --at 54.2,3.6",
            "Where the files hold no position: time against sunrise and sunset.",
        ),
        ("auditor history --verify", "Is the store whole?"),
        ("auditor history --export backup.auditor", "Everything remembered, in one file."),
        (
            "auditor history --import backup.auditor --store evening.sqlite",
            "Add what another store exported.",
        ),
    ),
    "apply": (
        ("auditor apply marks.json --to /photos/evening --dry-run", "What would change?"),
        ("auditor apply marks.json --to /photos/evening", "Write it."),
        (
            "auditor apply marks.json --to /photos/evening --naming full --input 1",
            "Only the marks of the first card, new sidecars named IMG.EXT.xmp.",
        ),
        (
            "auditor apply evening/audit.json --from-audit --to /photos/evening",
            "The audit's own choice instead of yours.",
        ),
        ("auditor apply --undo --to /photos/evening", "Take back the last run."),
    ),
    "settings": (
        ("auditor settings", "Every setting in force, and where it comes from."),
        ("auditor settings --settings limits.toml", "The same for a call with these limits."),
    ),
    "explain": (
        ("auditor explain", "All findings, one a line."),
        ("auditor explain blown-area", "One of them."),
        ("auditor explain headroom", "A measure: how it is worked out, and where it ends."),
        ("auditor explain cut-off", "Why a file could not be measured."),
        (
            "auditor explain 0001 0002 --audit audit.json",
            "Why two frames of an audit belong together or not.",
        ),
        ("auditor explain 0001 0002 --store coast.sqlite", "Of the last audit in a store."),
    ),
}
"""Command to its examples: the line, and what it is for. Tests run every line."""
