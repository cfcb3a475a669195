"""The sentence of a bracket's blend."""

from __future__ import annotations

from auditor.group.limits import MOVED_ERRORS
from auditor.model.audit import Bracket
from auditor.model.numbers import share_text


def blend_text(bracket: Bracket, clean_snr: float) -> str:
    """Say which frames to blend, each for what, and what stays noisy.

    Returns
    -------
    str
        "To blend: A for the brightest 1.2 %, B for the rest. Then 0.4 % lies under a ratio of 10."
        Empty where noise was not measured.
    """
    if not bracket.blend:
        return ""
    first, *others = bracket.blend
    noisy = bracket.noisy_fraction or 0.0
    left = f"{share_text(noisy)} of the scene stays under a signal-to-noise ratio of {clean_snr:g}"
    if not others:
        clean = f"; {left}" if noisy else f": it is clean at a ratio of {clean_snr:g}"
        return f"No blend is needed: {first.frame} alone records as much{clean}."
    parts = [f"{first.frame} for the brightest {share_text(first.share)}"]
    parts += [f"{one.frame} for the next {share_text(one.share)}" for one in others[:-1]]
    parts.append(f"{others[-1].frame} for the rest")
    after = f" Then {left}." if noisy else f" Then all is clean at a ratio of {clean_snr:g}."
    return f"To blend: {', '.join(parts)}.{after}{_shift_text(bracket)}"


def _shift_text(bracket: Bracket) -> str:
    """Say how far the frames lie apart, where that exceeds its error."""
    told = (one for one in bracket.blend if one.shift_px is not None)
    farthest = max(((one.shift_px or 0.0, one.shift_error_px or 0.0) for one in told), default=None)
    if farthest is None or farthest[0] <= MOVED_ERRORS * farthest[1]:
        return ""
    digits = 1 if farthest[1] < 3 else 0
    shift, error = (f"{value:.{digits}f}" for value in farthest)
    return f" Align them: they lie {shift} ± {error} px apart."
