"""Four invented jobs of unlike kind, so that no page is written for a demo only: see `UNLIKE`."""

from pathlib import Path

from platemodel.resources import data_path
from tests.job_folders import write

SMALL_VIOLA = """
[job]
instrument = "viola"
name = "Small viola, thick in the middle"
invented = true
[outline]
body_length_mm = 347
upper_bout_mm = 171
middle_bout_mm = 118
lower_bout_mm = 206
[arching]
height_mm = 17.5
[thickness]
centre_mm = 2.6
bouts_mm = 2.3
edge_mm = 3.6
[sound_holes]
eye_spacing_mm = 41
length_mm = 70
[wood.bar]
density_kg_m3 = 410
E_L_gpa = 12.5
[bridge]
stop_length_mm = 187
foot_span_mm = 43
[bar]
rule = "one_seventh"
length_mm = 262
width_mm = 5.5
height_mm = 12
"""

SOFT_VIOLIN = """
[job]
instrument = "violin"
name = "Soft thin violin of seven eighths, no bar"
invented = true
[outline]
body_length_mm = 338
[arching]
height_mm = 14
[thickness]
centre_mm = 2.3
bouts_mm = 1.9
edge_mm = 3.2
[wood.top]
density_kg_m3 = 360
E_L_gpa = 8.2
E_R_gpa = 0.55
[measured]
mass_g = 38.2
mode_1_hz = 60
mode_2_hz = 103
mode_5_hz = 257
"""

OLD_CELLO = """
[job]
instrument = "cello"
name = "Old cello, sunk and thin"
invented = true
date = 2025-11-04
relative_humidity_percent = 52
temperature_c = 19
notes = "Old bar off, its scar 590 long. Bass side sunk, corrected in a cast."
[outline]
body_length_mm = 752
upper_bout_mm = 344
middle_bout_mm = 232
lower_bout_mm = 438
[arching]
height_mm = 24.5
[thickness]
points_file = "caliper.csv"
edge_mm = 4.4
[sound_holes]
eye_spacing_mm = 90
length_mm = 140
[sound_holes.bass]
upper_eye_inner_mm = 43.0
[wood.top]
density_kg_m3 = 385
E_L_gpa = 9.4
[bridge]
stop_length_mm = 398
foot_span_mm = 91
[strings]
tension_1_n = 158
tension_2_n = 138
tension_3_n = 134
tension_4_n = 130
angle_deg = 154
[bar]
rule = "bridge_foot"
length_mm = 575
width_mm = 11
height_mm = 24
[measured]
mass_g = 358
"""


def caliper_readings():
    """Uneven readings of a cello top, mm: thick by the post, worn on the bass side."""
    rows = []
    for i, x in enumerate(range(60, 720, 40)):
        for j, y in enumerate(range(-160, 161, 40)):
            if abs(y) > (80 if 280 < x < 520 else 120):
                continue
            h = 3.9 - 0.9 * abs(x - 376) / 376 - 0.25 * (y < -60) + 0.15 * ((3 * i + 5 * j) % 4 - 1.5)
            rows.append(f"{x};{y};{h:.1f}".replace(".", ","))
    return "x_mm;y_mm;h_mm\n" + "\n".join(rows) + "\n"


def small_viola(folder: Path) -> Path:
    """A viola of 347 mm whose ring mode is hard to tell with its bar on."""
    return write(folder, SMALL_VIOLA)


def soft_violin(folder: Path) -> Path:
    """A soft thin violin of 338 mm, without a bar, with taps typed in."""
    return write(folder, SOFT_VIOLIN)


def old_cello(folder: Path) -> Path:
    """A cello of 752 mm, uneven, its caliper readings with decimal commas."""
    return write(folder, OLD_CELLO, caliper=caliper_readings())


def demo(folder: Path) -> Path:
    """The old viola of the demos, where it lies."""
    return data_path("jobs", "old_viola")


UNLIKE = {"demo": demo, "small_viola": small_viola, "soft_violin": soft_violin, "old_cello": old_cello}
