# SPDX-License-Identifier: MIT
"""A calibration in plain words, for `fixture calibrate` and `fixture info`."""

from __future__ import annotations

from statistics import mean

from sagbench.measure.calibration import ASSUMED, Calibration

STAGES = {"self": "board alone", "external": "external resistor", "meter": "meter"}
GROUPS = (
    ("strong lines", "strong_drive[", "ohm"),
    ("medium lines", "medium_drive[", "ohm"),
    ("multiplexer channels", "channel[", "ohm"),
    ("weak load", "weak_load.", "ohm"),
    ("ICC gain", "icc_gain", "mV/mA"),
    ("2.5 V reference", "vref", "V"),
)


def summary(calibration: Calibration) -> list[str]:
    """Stages with their residuals, then how well each kind of part is known (U, k = 2), then what is assumed."""
    lines = [f"fixture {calibration.serial}, calibration of {calibration.made[:16].replace('T', ' ')} UTC"]
    for stage in calibration.stages:
        left = f"; {stage.readings} readings, misfit {stage.misfit:.2f}, worst {stage.worst}" if stage.readings else ""
        lines.append(f"  {STAGES.get(stage.name, stage.name):<18} {stage.what}{left}")
    for words, prefix, unit in GROUPS:
        found = [c for name, c in calibration.components.items() if name.startswith(prefix)]
        if found:
            middle = mean(c.value for c in found)
            uncertainty = 2 * mean(c.u for c in found)
            lines.append(
                f"  {words:<21} {middle:9.4g} {unit:<6} U {uncertainty:.2g} {unit} ({uncertainty / middle:.2%})"
            )
    if calibration.inl:
        lines.append(
            f"  {'converter':<21} curve of {max(map(abs, calibration.inl)):.2f} codes taken off, "
            f"{2 * calibration.inl_u:.2f} left"
        )
    return [*lines, *(f"  assumed: {text}" for text in ASSUMED)]
