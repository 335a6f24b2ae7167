"""Words for what stands in the way of a bar and for what looks odd, the same wherever it is told."""

from platemodel.bench.kit.tables import plain
from platemodel.instrument.layout_checks import Finding


def finding_lines(finding: Finding) -> list[str]:
    """Lines of a finding for the terminal: what it is, its cure, and what to type."""
    text = f"{finding.text} {finding.cure}".strip()
    return [f"  - {text}", *(f"        {line}" for line in finding.lines)]


def finding_data(finding: Finding) -> dict:
    """Plain data of a finding; mm."""
    f = finding
    out = {"kind": f.kind, "message": f.message, "where": f.where, "cure": f.cure, "lines": list(f.lines)}
    return out | {name: plain(float(getattr(f, name))) for name in ("value_mm", "limit_mm")}


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
