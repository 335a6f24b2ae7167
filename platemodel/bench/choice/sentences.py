"""What the choice of a bar comes to, in sentences."""

import numpy as np

from platemodel.bench.kit.tones import signed
from platemodel.study.choosing.choose import BarChoice
from platemodel.study.choosing.targets import Target
from platemodel.study.top.figures import DIGITS, FIGURES, figure_text, wish_text

UNUSUAL = 0.15  # of the usual height, as in job/findings.py; common practice, no source


def verdict(choice: BarChoice) -> str:
    """Say the answer in a sentence or two."""
    usual = 1e3 * choice.reference.bar.heights.max()
    higher = round(choice.height_mm, 1) - round(usual, 1)  # of what is printed, so that it adds up
    against = (
        f"as high as the usual {usual:.1f} mm"
        if abs(higher) < 0.05
        else f"{abs(higher):.1f} mm {'higher' if higher > 0 else 'lower'} than the usual {usual:.1f} mm"
    )
    head = f"a bar of {choice.height_mm:.1f} mm and {choice.figures['bar_g']:.1f} g, {against}"
    if choice.met:
        binding = [t.name for t in choice.binding]
        why = f"; it cannot be lighter because of: {', '.join(binding)}" if binding else ""
        end = f"; at the end of its range: {', '.join(choice.at_end)}" if choice.at_end else ""
        return f"All targets are met by {head}{why}{end}."
    missed = [_missed(t, choice.figures[t.figure]) for t in choice.targets]
    said = "; ".join(text for text in missed if text)
    return f"No bar meets all targets. The nearest is {head}. What it misses: {said}."


def _missed(target, found):
    """Say what a target lacks; nothing where it is met."""
    if target.met(found):
        return ""
    if not np.isfinite(found):
        return f"{target.name}, which no shape of this plate looks like"
    wanted = f"{target.sense} {wish_text(target.figure, target.value)}".removeprefix("equal to ")
    return f"{target.name} {figure_text(target.figure, found)} {target.unit}".rstrip() + (
        f" where {wanted} is wanted ({100 * found / target.value:.0f} %)"
    )


def to_spare(target: Target, margin: float) -> str:
    """Say what is left before a wish is missed, or how much it is missed by."""
    if not np.isfinite(margin):
        return "not to be told"
    text = figure_text(target.figure, abs(margin))
    if float(text) == 0.0:
        return "nothing to spare"
    return f"{text} {target.unit}".rstrip() + (" to spare" if margin > 0 else " short")


def change_text(name: str, value: float) -> str:
    """Write what half a millimetre changes in a figure: with its sign, and two digits at the least."""
    return signed(value, max(DIGITS.get(name, 1), 2))


def higher_lines(choice: BarChoice) -> list[str]:
    """How much higher than usual the bar wants to be, by the foot and by the strip of plate."""
    usual = 1e3 * choice.reference.bar.heights.max()
    low, high = choice.curve["height_mm"].iloc[[0, -1]]
    out = []
    names = {"foot_n_per_mm": "the top under the bass foot", "strip_n_m2": "bar and strip of plate"}
    for figure, name in names.items():
        asked, unit = choice.reference.figures[figure], FIGURES[figure][0]
        height = choice.height_for(figure, asked)
        if np.isfinite(height):
            text = f"{height:.1f} mm, {signed(round(height, 1) - round(usual, 1), 1)} mm"
        else:
            most = choice.curve[figure].max()
            text = f"no height from {low:.1f} to {high:.1f} mm (at most {100 * most / asked:.0f} % of it)"
            if choice.curve[figure].min() > asked:
                text = f"every height from {low:.1f} mm up"
        out.append(f"{name} as stiff as usual ({figure_text(figure, asked)} {unit}): {text}")
    return out


def height_caution(choice: BarChoice) -> list[str]:
    """Warn of a bar that is much higher or lower than any that is built."""
    if abs(choice.higher_mm) <= UNUSUAL * 1e3 * choice.reference.bar.heights.max():
        return []
    return [
        f"More than {100 * UNUSUAL:.0f} % off the usual height, and outside what is built (common "
        "practice, no source). Is the target right for this top? Limit the height (least_height_mm, "
        "most_height_mm), or ask for less."
    ]


def heights_text(choice: BarChoice) -> str:
    """Say what a height is worth under the foot, and how far the wood leaves it open."""
    low, high = choice.height_band
    foot = choice.curve.set_index("height_mm")["foot_n_per_mm"]
    power = np.log(foot.iloc[-1] / foot.iloc[0]) / np.log(foot.index[-1] / foot.index[0])
    text = (
        f"The stiffness under the foot grows with the height to the power {power:.1f}; that of a "
        "loose bar, to the power 3."
    )
    if np.isfinite(low) and high - low > 0.05:
        text += (
            " With the wood known no better than it is, the height you need lies between "
            f"{low:.1f} and {high:.1f} mm."
        )
    return text
