"""What is said of copies that are not the same."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.model.facts import DifferingCopy


def copies_differ(own: DifferingCopy, others: Sequence[DifferingCopy]) -> str:
    """Say which of some files that ought to be copies of each other is whole.

    Parameters
    ----------
    own : DifferingCopy
        The file that it is said of.
    """
    with_name = any(other.card == own.card for other in others)

    def named(copy: DifferingCopy) -> str:
        if copy is own and with_name:
            return "this copy"
        return copy.id if with_name else f"card {copy.card}'s copy"

    differ = f"{_first_up(named(own))} differs from {' and '.join(map(named, others))}"
    whole = [copy for copy in (own, *others) if copy.whole]
    spoilt = [copy for copy in (own, *others) if copy.whole is False]
    unread = [copy for copy in (own, *others) if copy.whole is None]
    if len(whole) == 1:
        return f"{differ}; {named(whole[0])} is whole: use that one."
    if whole and not spoilt and not unread:
        return (
            f"{differ}; neither shows damage: hold them against each other before one is deleted."
        )
    if whole:
        return f"{differ}; {' and '.join(map(named, whole))} show no damage: use one of them."
    return f"{differ}; none of them is whole: keep them all."


def _first_up(text: str) -> str:
    return text[:1].upper() + text[1:] if text.startswith(("this", "card")) else text
