"""Conflicts of a bar's place in few words."""

from platemodel.instrument.layout_checks import Finding


def short(finding: Finding) -> str:
    """Few words for a conflict, for a narrow column."""
    value, limit = finding.value_mm, finding.limit_mm
    bound, side = "at least" if value < limit else "at most", "inside" if value >= 0 else "outside"
    words = {
        "hole": f"{value:.1f} mm from the sound hole; usual {limit:.1f}",
        "foot": f"{abs(value):.1f} mm {side} the foot; usual {bound} {limit:.1f} inside",
        "end": f"{finding.where}: {value:.1f} mm from the end of the body; usual {limit:.1f}",
        "plate": "leaves the plate",
    }
    if finding.kind == "hole" and value < 0:
        return f"over the sound hole by {-value:.1f} mm"
    return words.get(finding.kind, finding.message)
