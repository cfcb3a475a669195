"""What terms and settings mean, for the page that says how all is measured."""

from __future__ import annotations

from auditor.clipping.limits import SMALL_LOSS
from auditor.model.numbers import share_text
from auditor.model.settings import JudgeSettings
from auditor.words.values import Fact

MEANINGS = {
    "measure.time_limit_s": "Seconds after which a file is given up.",
    "measure.memory_limit_mb": "Memory that decoding one file may take.",
    "measure.preview": "Whether the camera's own preview is measured.",
    "judge.bright_share": "Share of a channel left above its bright end.",
    "judge.dark_share": "Share of a channel left below its dark end.",
    "judge.blown_limit": "Share of the frame from which it is called blown, however scattered.",
    "judge.blocked_limit": "Share of the frame from which it is called blocked up.",
    "judge.patch_limit": "Share of the frame under which a blown patch is a mere point.",
    "judge.headroom_limit_stops": "Headroom in stops from which unused light is worth saying.",
    "judge.preview_limit_stops": "Stops between preview and raw from which it is worth saying.",
    "judge.hot_limit_per_megapixel": "Hot pixels per megapixel from which it is worth saying.",
    "judge.histogram_step_stops": "Width of a histogram's bin in stops.",
    "judge.clean_snr": "Signal-to-noise ratio from which a tone looks clean.",
    "group.setup_gap_s": "Seconds that may lie between two frames of one set-up.",
    "group.filter_least_stops": "Difference in stops from which it is a filter.",
    "group.exposure_tolerance_stops": "Stops within which exposures count as the same.",
    "group.bracket_gap_s": "Seconds that may lie between two frames of a bracket.",
    "print.paper_dmax": "Optical density of the paper's black.",
    "print.paper_dmin": "Optical density of the paper's white.",
    "print.sizes_ppi": "Pixels per inch for which print sizes are given.",
    "print.viewing_diagonals": "From how many of its own diagonals a print is seen.",
}
"""What each setting does, by table and name."""


def definitions(judge: JudgeSettings) -> tuple[Fact, ...]:
    """Define the terms of the report, with the settings that they depend on."""
    bright, dark = share_text(judge.bright_share), share_text(judge.dark_share)
    return (
        Fact("Signal", "The recorded number (DN) less the black level of its own place in the "
             "colour pattern."),
        Fact("Saturation", "Where a channel really clips: seen as a pile-up at the top of the "
             "histogram, in this frame or in others of the same body and ISO, else as the file "
             "claims."),
        Fact("Noise floor", "The signal at which one pixel's signal-to-noise ratio is 1, from "
             "gain g and read noise r in DN: (g + √(g² + 4 r²)) / 2.",
             "EMVA 1288, absolute sensitivity threshold"),
        Fact("Stops", "Base-2 logarithms of ratios of signal. A stop is a doubling of light."),
        Fact("Bright end", f"The signal that all but {bright} of a channel stays under, hot pixels "
             "left out."),
        Fact("Dark end", f"The signal that all but {dark} of a channel stays over."),
        Fact("Blown", "At or above saturation: the tone is lost. A frame is called blown from "
             f"{share_text(judge.blown_limit)} of its area on, or from {share_text(SMALL_LOSS)} "
             f"with one connected patch of {share_text(judge.patch_limit)}; what the sun may have "
             "left counts as a patch."),
        Fact("Blocked up", "Under the noise floor, judged on a local mean so that noise alone "
             "decides nothing. A frame is called blocked up from "
             f"{share_text(judge.blocked_limit)} of its area on."),
        Fact("Headroom", "Stops from the bright end to saturation; of a frame, the least of its "
             "channels: how much more light it could have taken."),
        Fact("Shadow room", "Stops from the noise floor to the dark end; negative where the dark "
             "end is under the floor."),
        Fact("Exposure value", "EV = log₂(N² / t) − log₂(ISO / 100), for f-number N and time t "
             "in seconds."),
        Fact("Filter stops", "The difference of two exposures by their settings, less the "
             "difference of their signals over what is static."),
        Fact("–", "Not measured, or a ratio with nothing in it. A share printed as 0 % is exactly "
             "nothing."),
    )  # fmt: skip
