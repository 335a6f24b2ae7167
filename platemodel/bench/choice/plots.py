"""Pictures of a chosen bar: its profile against the usual one, and what the height does to each target."""

import numpy as np
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import BAR, BLUE, INK
from platemodel.bench.kit.height_plots import tone_curve
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.instrument.bar import Bar
from platemodel.study.choosing.choose import BarChoice
from platemodel.study.top.figures import FIGURES, wish_text

OTHER = BLUE
STEEP = 2.0  # heights are drawn this many times as large as lengths


def draw_profiles(choice: BarChoice, given: Bar | None, ax: Axes) -> Axes:
    """Chosen bar from the side, the usual bar and the one it was made from as lines."""
    bar, usual = choice.bar, choice.reference.bar
    ax.fill_between(1e3 * bar.stations, 1e3 * bar.heights, color=BAR, alpha=0.35, lw=0)
    ax.plot(*_profile(bar), color=BAR, lw=1.8, label=f"this choice, {1e3 * bar.heights.max():.1f} mm")
    ax.plot(*_profile(usual), "--", color=INK, lw=1.1, label=f"usual, {1e3 * usual.heights.max():.1f} mm")
    if given is not None:
        label = f"the bar given, {1e3 * given.heights.max():.1f} mm"
        ax.plot(*_profile(given), ":", color=OTHER, lw=1.4, label=label)
    title = f"Bar from the side, heights {STEEP:g} times as large"
    label_axes(ax, "along, mm from the lower edge", "height, mm", title, loc="left")
    ax.set_ylim(0, 1.25e3 * max(bar.heights.max(), usual.heights.max()))
    ax.set_aspect(STEEP)
    ax.legend(fontsize=TEXT, loc="lower center", ncols=3, frameon=False)
    return ax


def _profile(bar):
    x = np.concatenate([bar.stations[:1], bar.stations, bar.stations[-1:]])
    return 1e3 * x, 1e3 * np.concatenate([[0.0], bar.heights, [0.0]])


def drawn_figures(choice: BarChoice) -> list[str]:
    """Figures worth a curve over the height: those of the targets first, then stiffness and tones."""
    asked = [t.figure for t in choice.targets if t.figure != "height_mm"]
    told = ["foot_n_per_mm", *(n for n in ("f5_hz", "f2_hz", "f1_hz") if np.isfinite(choice.figures[n]))]
    return list(dict.fromkeys([*asked, *told, "bar_g"]))[:4]


def draw_curve(choice: BarChoice, figure: str, ax: Axes) -> Axes:
    """One figure over the height, with its limits, the chosen height, and where all targets are met.

    Parameters
    ----------
    figure : str
        Of ``study.top.figures.FIGURES``.
    """
    curve = choice.curve
    x, y = curve["height_mm"], curve[figure]
    ax.plot(*tone_curve(curve, "height_mm", figure), color=OTHER, lw=1.6)
    met = curve["all_met"].to_numpy(dtype=bool)
    if met.any():
        ax.axvspan(x[met].min(), x[met].max(), color=BAR, alpha=0.15, lw=0)
    for target in choice.targets:
        if target.figure == figure:
            ax.axhline(target.value, color=INK, lw=0.9, ls="--")
            text = f"{target.sense} {wish_text(figure, target.value)}"
            # on the side and half where the curve is not
            left = choice.height_mm > np.mean(x)
            over = target.value > np.mean(ax.get_ylim()) if left else y.iloc[-1] > target.value
            ax.annotate(
                text,
                (x.min() if left else x.max(), target.value),
                (0, -1.5 if over else 1.5),
                textcoords="offset points",
                fontsize=TEXT,
                ha="left" if left else "right",
                va="top" if over else "bottom",
                color=INK,
            )
        elif target.figure == "height_mm":
            ax.axvline(target.value, color=INK, lw=0.9, ls=":")
    band = choice.bands.set_index("figure").loc[figure]
    at = choice.height_mm
    error = [[max(band.value - band.low, 0.0)], [max(band.high - band.value, 0.0)]]
    ax.errorbar([at], [band.value], yerr=error, fmt="o", ms=5, color=BAR, mec=INK, capsize=3, lw=1.2)
    unit, what = FIGURES[figure]
    label_axes(ax, "bar height, mm", title=f"{what}{', ' * bool(unit)}{unit}", loc="left")
    ax.grid(alpha=0.3)
    return ax
