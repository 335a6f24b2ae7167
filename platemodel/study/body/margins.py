"""What wood and glue of the strung body have to spare: on the first day, and after years."""

from dataclasses import replace

import pandas as pd

from platemodel.fem.rib_stress import rib_forces
from platemodel.fem.stress import shell_stresses
from platemodel.instrument.strings import foot_loads
from platemodel.study.body.model import BodyModel
from platemodel.study.body.statics import BodyLoad, body_load
from platemodel.study.body.years import ALONG, CREEP, Creep
from platemodel.study.top.answers import Bracket
from platemodel.study.top.margins import Solved, strength_margins
from platemodel.study.top.meshed_top import bar_rib
from platemodel.wood.orthotropic import Orthotropic

FIRST_DAY, YEARS = "short", "permanent"  # durations of load: less than a week, more than ten years


def crept_wood(wood: Orthotropic, creep: Creep) -> Orthotropic:
    """Wood with the moduli that a load of years finds."""
    factors = {"E_L": creep.along} | dict.fromkeys(("E_R", "E_T", "G_LR", "G_LT", "G_RT"), creep.across)
    return replace(wood, **{name: getattr(wood, name) / (1.0 + f) for name, f in factors.items()})


def crept_body(model: BodyModel, creep: Creep) -> BodyModel:
    """Body of which every part gives as it does under a load of years.

    Plates creep by direction; of a part that is no shell the share `study.body.years.ALONG` as stress along
    the grain does, the rest as stress across it.
    """
    top, back = (
        shell.with_material(crept_wood(wood, creep).compliance(), wood.density)
        for shell, wood in ((model.top_model.shell, model.top.wood), (model.back, model.body.back.wood))
    )
    left = {name: _left(name, creep) for name in model.parts}
    parts = {name: part.scaled(left[name]) for name, part in model.parts.items()}
    joined = model.joined.with_parts((top, back), parts.values())
    post = None if model.post is None else (model.post[0], left["post"] * model.post[1])
    whole = model.top_model.with_shell(top)
    return replace(model, top_model=whole, back=back, joined=joined, parts=parts, post=post)


def _left(name, creep):
    """Share of a part's stiffness that is left."""
    share = ALONG.get(name, 1.0)
    return (1.0 + creep.along) ** -share * (1.0 + creep.across) ** (share - 1.0)


def crept_load(load: BodyLoad, creep: Creep = CREEP[1]) -> BodyLoad:
    """Solve a strung body after years: stress moves to where it creeps less."""
    bar = load.bar
    soft = None if bar is None else replace(bar, wood=crept_wood(bar.wood, creep))
    return body_load(crept_body(load.model, creep), soft)


def body_margins(load: BodyLoad) -> pd.DataFrame:
    """Worst stress of each kind in top, bar and glue line against what the wood bears.

    Parameters
    ----------
    load : BodyLoad
        Of the first day.

    Returns
    -------
    DataFrame
        A row a part and kind of stress: ``part``, ``what``; ``day_stress_mpa`` and ``day_margin``, stress of
        the first day against the strength under a load of less than a week; the rest as in
        `study.top.margins.strength_margins`, for the stress after years and a load of decades.
    """
    day = _margins(load, load.bar, FIRST_DAY)
    load.model.systems.clear()  # its factors are large, and those after years are as large
    years = _margins(crept_load(load), load.bar, YEARS)
    kept = day.set_index(["part", "what"])
    keys = pd.MultiIndex.from_frame(years[["part", "what"]])
    return years.assign(
        day_stress_mpa=kept["stress_high_mpa"].reindex(keys).to_numpy(),
        day_margin=kept["margin"].reindex(keys).to_numpy(),
    )


def _margins(load, bar, duration):
    """By the same functions as those of the loose top; ``bar`` gives the wood whose strength counts."""
    model = load.model
    top, n = model.top_model, model.top_model.shell.n_dofs
    stress = shell_stresses(top.shell, load.moved[:n, None])[0]
    forces = None
    if load.bar is not None:
        forces = rib_forces(bar_rib(top, load.bar), load.moved[:n], load.moved[model.joined.n_bare :])
    loads = foot_loads(model.set_up, model.top.bridge)
    post = max(0.0, load.post_force)
    solved = Solved(top, bar, model.set_up, loads, *(Bracket(v, v) for v in (stress, forces, post)))
    if forces is None:
        solved = replace(solved, forces=None)
    return strength_margins(solved, duration=duration)
