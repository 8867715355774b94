"""Pictures of a proof: clean level with what binds, distortion, heat, bands of many boxes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator
from numpy.typing import NDArray

from boxwright.largesignal.heat import STATED_AT, Warming
from boxwright.largesignal.proof import Proof
from boxwright.report.charts import (
    WIDTH,
    dress,
    frequency_ticks,
    new_figure,
    plot_end_labels,
    settings,
    stroke_style,
)
from boxwright.report.panels import Panel
from boxwright.report.proof_words import limit_named
from boxwright.report.style import (
    CLEAN,
    CONE,
    INK,
    LEVEL,
    LIMIT,
    MUTE,
    PASSIVE,
    SEA_GREEN,
    VENT,
    WISH,
    Stroke,
)
from boxwright.spread.montecarlo import Spread
from boxwright.spread.sensitivity import Sensitivity

__all__ = ["draw_distortion", "draw_heat", "draw_level", "draw_shares", "draw_spread"]

Real = NDArray[np.float64]
Ends = list[tuple[float, str, str, bool]]

_LEFT, _RIGHT, _TOP, _BOTTOM, _GAP = 0.58, 1.75, 0.34, 0.46, 0.5  # inch
_ROW = 0.19
_NAMES = 2.6  # inch: room for the names of what strays
_LETTERS = 7.6
_SHOWN_BELOW = 1.5
"""How far below the band curves are drawn, as a ratio of frequencies; farther down nothing is clean. [-]"""
_STROKES = {
    "driver travel": CONE,
    "passive travel": PASSIVE,
    "air speed": VENT,
    "distortion": Stroke(colour=LIMIT),
}
_OTHER = Stroke(colour=MUTE)
_PLAIN_LIMIT = Stroke(colour=LIMIT, dashes=(1.0, 2.0), width=1.1)


def _figure(heights: Sequence[float], *, right: float = _RIGHT) -> tuple[Figure, list[Axes]]:
    """A figure with axes above each other. [inch]."""
    total = _TOP + sum(heights) + _GAP * (len(heights) - 1) + _BOTTOM
    figure = new_figure(WIDTH, total, paper=False)
    at, found = total - _TOP, []
    for number, height in enumerate(heights):
        at -= height
        place = (_LEFT / WIDTH, at / total, (WIDTH - _LEFT - right) / WIDTH, height / total)
        found.append(figure.add_axes(place, label=str(number)))
        at -= _GAP
    return figure, found


def _across_frequency(axes: Axes, low: float, high: float, *, labels: bool = True) -> None:
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    axes.xaxis.set_major_locator(FixedLocator(frequency_ticks(low, high)))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda f, _: f"{f:g} Hz" if labels else ""))


def _titled(axes: Axes, title: str, unit: str, height: float) -> None:
    dress(axes, Panel(title=title, unit=unit, lines=()))
    axes.yaxis.set_major_locator(MaxNLocator(nbins=max(3, int(height / 0.24)), steps=[1, 2, 5, 10]))


def _shown(proof: Proof) -> NDArray[np.bool_]:
    return np.asarray(proof.clean.frequency >= proof.band[0] / _SHOWN_BELOW)


def _last(values: Real) -> float:
    return float(values[np.isfinite(values)][-1])


def draw_level(proof: Proof) -> Figure:
    """Highest clean level at level and by the linear model, and below it what binds where."""
    shown = _shown(proof)
    f, clean = proof.clean.frequency[shown], proof.clean
    real = np.where(np.isfinite(clean.level[shown]), clean.level[shown], np.nan)
    linear = np.where(np.isfinite(clean.linear.clean_level[shown]), clean.linear.clean_level[shown], np.nan)
    binding = [clean.binding[i] for i in np.flatnonzero(shown)]
    names = list(dict.fromkeys(binding))
    with settings():
        height = 2.1
        figure, (axes, strip) = _figure((height, _ROW * len(names) + 0.08))
        top = 5.0 * np.ceil((float(np.nanmax(np.concatenate([real, linear, [80.0]]))) + 2.0) / 5.0)
        axes.plot(f, linear, zorder=3, **stroke_style(CLEAN))
        axes.plot(f, real, zorder=4, **stroke_style(LEVEL))
        axes.set_ylim(top - 40.0, top)
        ends: Ends = []
        if np.isfinite(real).any():
            ends.append((_last(real), "at level", LEVEL.colour, True))
        if np.isfinite(linear).any():
            ends.append((_last(linear), "linear model", CLEAN.colour, True))
        if proof.target is not None:
            axes.plot(proof.band, [proof.target.level] * 2, **stroke_style(WISH))
            ends.append((proof.target.level, f"wanted: {proof.target.level:.4g} dB", WISH.colour, False))
        _titled(axes, "Highest clean level", "dB re 20 µPa", height)
        _across_frequency(axes, float(f[0]), float(f[-1]), labels=False)
        plot_end_labels(axes, ends, height)
        _strip(strip, f, binding, names)
    return figure


def _strip(axes: Axes, f: Real, binding: Sequence[str], names: Sequence[str]) -> None:
    """One row a limit, a bar where it binds."""
    dress(axes, Panel(title="What binds", unit="", lines=()))
    middles = np.sqrt(f[1:] * f[:-1])
    edges = np.concatenate([f[:1], middles, f[-1:]])
    for row, name in enumerate(names):
        stroke = _STROKES.get(name, _OTHER)
        for first, last in _runs(binding, name):
            ends = edges[[first, last + 1]]
            axes.fill_between(ends, row - 0.3, row + 0.3, color=stroke.colour, linewidth=0.0)
        axes.text(
            1.032, row, limit_named(name), transform=axes.get_yaxis_transform(), color=stroke.colour,
            fontsize=_LETTERS, fontweight="bold", va="center", ha="left",
        )  # fmt: skip
    axes.set_ylim(len(names) - 0.5, -0.5)
    axes.yaxis.set_major_locator(NullLocator())
    _across_frequency(axes, float(f[0]), float(f[-1]))


def _runs(binding: Sequence[str], name: str) -> list[tuple[int, int]]:
    """First and last place of each unbroken run of a name."""
    inside = np.array([bound == name for bound in binding], np.int8)
    steps = np.flatnonzero(np.diff(np.concatenate([[0], inside, [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(steps[::2], steps[1::2], strict=True)]


def draw_distortion(proof: Proof) -> Figure:
    """Distortion at the level wanted and at the highest clean level."""
    shown = proof.in_band
    f, clean = proof.clean.frequency[shown], proof.clean
    top = 100.0 * clean.threshold
    with settings():
        height = 1.5
        figure, (axes,) = _figure((height,))
        ends: Ends = [(top, f"clean to {top:.3g} %", LIMIT, False)]
        axes.plot(f[[0, -1]], [top, top], **stroke_style(_PLAIN_LIMIT))
        at_clean = 100.0 * clean.distortion[shown]
        if np.isfinite(at_clean).any():
            axes.plot(f, at_clean, **stroke_style(CLEAN))
            ends.append((_last(at_clean), "at clean level", CLEAN.colour, True))
        wanted = 100.0 * proof.needed_distortion[shown]
        if proof.target is not None and np.isfinite(wanted).any():
            axes.plot(f, wanted, **stroke_style(LEVEL))
            over = np.where(wanted > top, wanted, np.nan)
            axes.plot(f, over, color=LIMIT, linewidth=LEVEL.width + 1.1, solid_capstyle="butt")
            ends.append((_last(wanted), f"at {proof.target.level:.4g} dB", LEVEL.colour, True))
        axes.set_ylim(0.0, 1.5 * top)
        _titled(axes, "Distortion of the sound", "%, harmonics 2 to 7", height)
        _across_frequency(axes, float(f[0]), float(f[-1]))
        plot_end_labels(axes, ends, height)
    return figure


def draw_heat(warming: Warming) -> Figure:
    """Temperatures and the level lost over the time of the programme."""
    later = warming.time >= 1.0
    time = warming.time[later]
    celsius = STATED_AT - 20.0

    def minutes(t: float) -> str:
        return f"{t:g} s" if t < 60.0 else f"{t / 60.0:g} min"

    with settings():
        heights = (1.25, 0.9)
        figure, (warm, lost) = _figure(heights)
        for axes, height in ((warm, heights[0]), (lost, heights[1])):
            axes.set_xscale("log")
            axes.set_xlim(float(time[0]), float(time[-1]))
            marks = [t for t in (1.0, 5.0, 20.0, 60.0, 300.0, 1200.0, 7200.0) if t <= time[-1]]
            axes.xaxis.set_major_locator(FixedLocator(marks))
            axes.xaxis.set_minor_locator(NullLocator())
            write = minutes if axes is lost else (lambda _: "")
            axes.xaxis.set_major_formatter(FuncFormatter(_formatter(write)))
            title, unit = ("Temperature", "°C") if axes is warm else ("Level lost", "dB")
            _titled(axes, title, unit, height)
        coil, motor = warming.coil[later] - celsius, warming.motor[later] - celsius
        warm.plot(time, coil, **stroke_style(CONE))
        warm.plot(time, motor, **stroke_style(CLEAN))
        warm.set_ylim(0.0, max(60.0, 1.15 * float(coil.max())))
        plot_end_labels(
            warm,
            [(_last(coil), "coil", CONE.colour, True), (_last(motor), "motor", CLEAN.colour, True)],
            heights[0],
        )
        loss = warming.level_loss[later]
        lost.plot(time, loss, **stroke_style(LEVEL))
        lost.set_ylim(0.0, max(1.0, 1.2 * float(loss.max())))
        plot_end_labels(lost, [(_last(loss), f"{_last(loss):.1f} dB", LEVEL.colour, True)], heights[1])
    return figure


def _formatter(write: Callable[[float], str]) -> Callable[[float, int | None], str]:
    return lambda t, _: write(t)


def draw_spread(proof: Proof, spread: Spread) -> Figure:
    """Where nine of ten boxes lie: level that they play cleanly by the linear model, travel of the cone.

    Where nothing limits any of them, the level that they make at the drive takes the place of the clean one.
    """
    shown = (spread.frequency >= proof.band[0] / _SHOWN_BELOW) & (spread.frequency <= proof.band[1])
    f = spread.frequency[shown]
    limited = bool(np.all(np.isfinite(spread.clean_level.high[shown])))
    what = "Clean level" if limited else f"Level at {spread.voltage:.3g} V"
    unit_of_level = "dB re 20 µPa, linear limits" if limited else "dB re 20 µPa"
    level = spread.clean_level if limited else spread.level
    rows = (
        (f"{what} of {spread.boxes:,} boxes", unit_of_level, level, 1.0, LEVEL, 1.5),
        (f"Travel of the cone at {spread.voltage:.3g} V", "mm peak", spread.driver_travel, 1e3, CONE, 1.2),
    )  # fmt: skip
    with settings():
        figure, every = _figure([row[-1] for row in rows])
        for axes, (title, unit, bands, factor, stroke, height) in zip(every, rows, strict=True):
            low, middle, high = (factor * band[shown] for band in (bands.low, bands.middle, bands.high))
            axes.fill_between(f, low, high, color=stroke.colour, alpha=0.18, linewidth=0.0)
            axes.plot(f, middle, **stroke_style(stroke))
            ends: Ends = [
                (float(v[-1]), w, stroke.colour, b)
                for v, w, b in ((high, "95 of 100", False), (middle, "half", True), (low, "5 of 100", False))
            ]
            if factor == 1.0:
                top = 5.0 * np.ceil((float(np.max(high)) + 2.0) / 5.0)
                if proof.target is not None:
                    top = max(top, 5.0 * np.ceil((proof.target.level + 2.0) / 5.0))
                    axes.plot(proof.band, [proof.target.level] * 2, **stroke_style(WISH))
                    ends.append(
                        (proof.target.level, f"wanted: {proof.target.level:.4g} dB", WISH.colour, False)
                    )
                axes.set_ylim(top - 40.0, top)
            else:
                allowed = [x.allowed * 1e3 for x in proof.clean.limits if x.name == "driver travel"]
                for value in allowed:
                    axes.plot(f[[0, -1]], [value, value], **stroke_style(_PLAIN_LIMIT))
                    ends.append((value, f"linear to {value:.3g} mm", LIMIT, False))
                axes.set_ylim(0.0, 1.15 * max([float(np.max(high)), *allowed]))
            _titled(axes, title, unit, height)
            _across_frequency(axes, float(f[0]), float(f[-1]), labels=axes is every[-1])
            plot_end_labels(axes, ends, height)
    return figure


def draw_shares(shares: Sensitivity, most: int = 7) -> Figure:
    """What the spread of the last figure comes from, as bars."""
    total = shares.total[-1]
    order = [int(i) for i in np.argsort(-total)[:most]]
    with settings():
        figure, (axes,) = _figure((_ROW * len(order) + 0.1,), right=_NAMES)
        places = np.arange(len(order))
        axes.barh(places, [100.0 * float(total[i]) for i in order], height=0.6, color=SEA_GREEN)
        dress(axes, Panel(title=f"Spread of the {shares.figures[-1]}", unit="", lines=()))
        axes.grid(visible=False)
        axes.set_ylim(len(order) - 0.5, -0.5)
        axes.set_xlim(0.0, 100.0)
        axes.yaxis.set_major_locator(NullLocator())
        for row, i in enumerate(order):
            axes.text(
                1.032, row, f"{100.0 * float(total[i]):.0f} %  {shares.variables[i]}", color=INK, fontsize=_LETTERS,
                transform=axes.get_yaxis_transform(), va="center", ha="left",
            )  # fmt: skip
    return figure
