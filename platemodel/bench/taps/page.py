"""The pages of a job's taps: A4 upright, a spectrum for each recording, then the peaks."""

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.typeset import GAP, LINE, TEXT, shortened
from platemodel.bench.taps.plots import draw_spectrum
from platemodel.bench.taps.result import JobTaps, believed
from platemodel.taps import tap_peaks, tap_spectrum

EACH = 3  # spectra on a page
BELOW = 11.0  # mm, for the words at the left of and below a spectrum
MOST_PEAKS = 40  # listed; more are in the table
HOW = (
    "Solid: the taps. Dots: peaks that die away. Dotted: the room. Dashed: computed, the grey strip is where "
    "wood that was not measured may shift it. You decide which peak is which mode: by hold, tap and ear."
)


def tap_pages(result: JobTaps) -> list[Figure]:
    """Lay out the pages."""
    note = cautions.invented_note(result.job)
    title, pages = f"Taps {result.state}: {result.job.name}", []

    def begun():
        sheet = begun_sheet(title, note, (cautions.ESTIMATE,), A4_UPRIGHT)
        pages.append(sheet.figure)
        return sheet, write_items(sheet.ax, sheet.left, sheet.top, [HOW], sheet.room) - GAP

    sheet, y = begun()
    tall = (y - sheet.floor) / EACH
    for recording in result.recordings:
        if y - tall < sheet.floor - GAP:
            sheet, y = begun()
        source = shortened(recording.source, sheet.room)
        write_head(sheet.ax, sheet.left, y - LINE[TEXT], source)
        room = tall - BELOW - 2.5 * LINE[TEXT] - GAP
        ax = sheet.axes(sheet.left + BELOW, y - tall + BELOW, sheet.room - BELOW, room)
        draw_spectrum(ax, tap_spectrum(recording), tap_peaks(recording), result.modes)
        y -= tall
    rows = list(result.peaks.itertuples())
    shown = rows[:MOST_PEAKS]
    if y - (len(shown) + 4) * LINE[TEXT] < sheet.floor:
        sheet, y = begun()
    y = write_head(sheet.ax, sheet.left, y - LINE[TEXT], "Peaks of all recordings")
    y = write_table(sheet.ax, sheet.left, y, _COLUMNS, shown, sheet.room)
    if len(rows) > len(shown):
        more = f"And {len(rows) - len(shown)} more: see tap_peaks.csv."
        write_items(sheet.ax, sheet.left, y, [more], sheet.room)
    return pages


_COLUMNS = (
    Column("Hz", lambda r: f"{r.f_hz:.2f}"),
    Column("±", lambda r: f"{believed(r.f_hz, r.sd_hz):.2f}"),
    Column("loss factor", lambda r: f"{r.loss:.4f}"),
    Column("±", lambda r: f"{r.loss_sd:.4f}"),
    Column("dB", lambda r: f"{r.level_db:.1f}"),
    Column("in taps", lambda r: f"{r.taps}"),
    Column("", lambda r: r.remark, right=False, wide=True),
)
