"""One frame's figures as a table, on standard output."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text

from auditor.console.terminal import make_console
from auditor.model.audit import FrameResult
from auditor.model.numbers import share_text, stops_text
from auditor.model.text import visible
from auditor.single import FrameEnd
from auditor.words import calls
from auditor.words.optics import optics_facts


def print_frame(end: FrameEnd, *, quiet: bool) -> None:
    """Print one frame's figures as a table."""
    result = end.result
    console = make_console()
    if result.error is not None:
        make_console(stderr=True).print(
            Text(f"{visible(result.file)}: {visible(result.error.message)}"), soft_wrap=True
        )
    if quiet:
        return
    if result.channels:
        console.print(_channel_table(result))
    for finding in result.findings:
        console.print(Text(f"{finding.code}: {visible(finding.text)}"))
    for fact in optics_facts(result):
        told = Text(f"{fact.label}: {fact.text}")
        console.print(told.append(f" ({fact.remark})" if fact.remark else "", style="dim"))
    if end.beside:
        console.print(Text(calls.JUDGED_AMONG.format(beside=end.beside)))
    for path in end.written:
        console.print(Text(f"Written: {visible(str(path))}"), soft_wrap=True)


def _channel_table(result: FrameResult) -> Table:
    table = Table(title=Text(f"{visible(result.file)}: {result.verdict}"), box=None)
    table.title_justify = "left"
    for name in ("", "black", "clips at", "floor", "blown", "blocked", "headroom", "shadow room"):
        table.add_column(name, justify="right", no_wrap=True)
    for channel in result.channels:
        floor, blocked = channel.noise_floor_dn, channel.blocked_fraction
        table.add_row(
            channel.name,
            f"{channel.black_dn:.1f}",
            f"{channel.saturation_dn:.0f}",
            "–" if floor is None else f"{floor:.1f}",
            share_text(channel.blown_fraction),
            "–" if blocked is None else share_text(blocked),
            stops_text(channel.headroom_stops),
            stops_text(channel.shadow_room_stops),
        )
    sources = {channel.saturation_source for channel in result.channels}
    table.caption = calls.LEVELS_IN.format(sources=", ".join(sorted(sources)))
    table.caption_justify = "left"
    return table
