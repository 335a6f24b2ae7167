"""A job: the top that was measured, its bar, and all that its folder tells."""

from dataclasses import dataclass, field

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_cuts import with_bridge_height
from platemodel.instrument.flex_test import FlexReading
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.marks import Mark
from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top
from platemodel.job.states import TopState, state_name
from platemodel.job.taps import TapReading
from platemodel.wood import PieceFit, WoodEstimate
from platemodel.wood.estimate import doubt_of

JOB_FILE = "job.toml"


@dataclass(frozen=True)
class Measured:
    """What was weighed and read, and in what air.

    Attributes
    ----------
    mass : float or None
        Weight of the top, kg.
    bar_on_top : bool
        Whether a bar was on the top for the weighing and for the taps typed into job.toml.
    relative_humidity : float or None
        Fraction.
    temperature : float or None
        Degrees Celsius.
    date : str or None
        Year-month-day.
    air_tone : float or None
        Air tone of the closed instrument, Hz.
    arch_strung, arch_off : float or None
        Height of the arch beside the bass foot with the strings on and off, m.
    sunk : float or None
        How far it lies lower there than it was made, strings on, m.
    body_tones : tuple of float
        Strong tones of the closed instrument above the air tone, Hz.
    """

    mass: float | None = None
    bar_on_top: bool = False
    relative_humidity: float | None = None
    temperature: float | None = None
    date: str | None = None
    air_tone: float | None = None
    arch_strung: float | None = None
    arch_off: float | None = None
    sunk: float | None = None
    body_tones: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Job:
    """A job folder, read and checked; SI units.

    Attributes
    ----------
    bar : Bar or None
        None when job.toml has no table [bar].
    invented : bool
        True for made-up data.
    assumptions : tuple of str
        What was not measured, and what stands in for it.
    findings : tuple of Finding
        What looks odd against common practice.
    files : tuple of str
        Names of the files that were read.
    set_up : SetUp or None
        Strings and sound post; `read_job` always gives one.
    taps : tuple of TapReading
        Tap tones of taps.csv and of job.toml, by state of the bar and mode.
    flexes : tuple of FlexReading
        Readings of flexes.csv.
    marks : tuple of Mark
        Cracks, cleats, patches and the like, of marks.csv.
    body : dict of str to float
        Figures of ribs, blocks, back, neck and lever heights that were measured, for
        `instrument.body.usual_body`; m and kg.
    found_wood : WoodEstimate or None
        Wood of the top as found from readings, with its doubt, while job.toml still states it.
    old_bar : Bar or None
        The bar that was on before; None when job.toml says nothing of it.
    states : tuple of TopState
        The top's story: states that readings belong to, then those of states.csv in its order.
    targets : dict of str to float
        Fields of the table [targets] without their units, SI.
    shape_errors : ShapeErrors
        How far thickness, arching and outline may be off what was read.
    offcut : PieceFit or None
        Wood of an offcut of the top, from its bends across the grain.
    wood_from : str
        What the wood of the top was found from, as kept by the verb ``wood``; empty where it was not.
    """

    name: str
    top: Top
    bar: Bar | None
    measured: Measured
    invented: bool = False
    notes: str = ""
    assumptions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    files: tuple[str, ...] = (JOB_FILE,)
    set_up: SetUp | None = None
    taps: tuple[TapReading, ...] = ()
    flexes: tuple[FlexReading, ...] = ()
    marks: tuple[Mark, ...] = ()
    body: dict[str, float] = field(default_factory=dict)
    targets: dict[str, float] = field(default_factory=dict)
    shape_errors: ShapeErrors = field(default_factory=ShapeErrors)
    found_wood: WoodEstimate | None = None
    old_bar: Bar | None = None
    states: tuple[TopState, ...] = ()
    wood_from: str = ""
    offcut: PieceFit | None = None

    @property
    def top_wood(self) -> WoodEstimate:
        """Wood of the top with its doubt: as found, or else as far as species and job.toml tell."""
        return self.found_wood or doubt_of(self.top.wood)

    def heard(self, bar_on: bool) -> dict[int, TapReading]:
        """Tap tones by mode, of the last state that was tapped without a bar or with the new one."""
        bar = "new" if bar_on else "none"
        for state in reversed(self.states):
            found = self.heard_in(state)
            if state.bar == bar and found:
                return found
        return {}

    def heard_in(self, state: TopState) -> dict[int, TapReading]:
        """Tap tones of one state, by mode."""
        return {r.mode: r for r in self.taps if r.state == state.name}

    def felt_in(self, state: TopState) -> tuple[FlexReading, ...]:
        """Flex readings of one state."""
        return tuple(r for r in self.flexes if (r.state or state_name(r.bar_on)) == state.name)

    def bar_in(self, state: TopState) -> Bar | None:
        """Return the bar that is on in a state; None where there is none, or where it is not described.

        Raises
        ------
        ValueError
            A height that the bar's ends do not allow.
        """
        bar = {"none": None, "old": self.old_bar, "new": self.bar}[state.bar]
        if bar is None or state.height is None:
            return bar
        return with_bridge_height(bar, state.height, self.top.bridge.x)

    def __repr__(self) -> str:
        made_up = ", invented data" if self.invented else ""
        bar = "no bar" if self.bar is None else f"bar {1000 * self.bar.length:.0f} mm"
        return (
            f"Job({self.name!r}: {self.top.kind}, {1000 * self.top.outline.body_length:.0f} mm, {bar}, "
            f"{len(self.assumptions)} assumptions, {len(self.findings)} findings{made_up})"
        )
