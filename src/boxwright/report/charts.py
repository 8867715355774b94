"""Pictures drawn with matplotlib: small multiples with direct labels, as SVG or PNG."""

from __future__ import annotations

import io
import threading
from collections.abc import Sequence
from contextlib import AbstractContextManager
from typing import Any, Literal

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator
from numpy.typing import NDArray

from boxwright.report.panels import Panel
from boxwright.report.style import GRID, INK, LIMIT, MUTE, PAPER, Stroke

__all__ = [
    "ChartFormat",
    "draw_panels",
    "dress",
    "frequency_ticks",
    "new_figure",
    "plot_end_labels",
    "rendered",
    "settings",
    "spread",
    "stroke_style",
]

ChartFormat = Literal["svg", "png"]
Real = NDArray[np.float64]

WIDTH = 6.7  # inch: the text width of an A4 page with margins of 20 mm
_POINTS = 72.0
_LABEL = 7.6
_TITLE = 9.4
_LEFT, _RIGHT = 0.58, 1.75  # inch
_TOP, _BOTTOM, _GAP = 0.34, 0.46, 0.46
_PANEL = 1.12
_CLEAR = (0.28, 0.76)  # of the width: where a thread can rise between a panel's title and its unit

# Text stays text, so that a page can set it in its own letters and a reader can find and copy it; the fixed salt
# makes the same picture the same file. Names come from files, so none is read as a formula.
_SETTINGS: Any = {
    "svg.fonttype": "none",
    "svg.hashsalt": "boxwright",
    "text.parse_math": False,
    "font.family": ["DejaVu Sans"],
    "axes.unicode_minus": True,
}
_DRAWING = "'DejaVu Sans'"
_lock = threading.Lock()


def settings() -> AbstractContextManager[None]:
    """Matplotlib as all pictures here need it, for as long as the context lasts."""
    return mpl.rc_context(_SETTINGS)


def rendered(figure: Figure, kind: ChartFormat = "svg", *, family: str = "", title: str = "") -> bytes:
    """Write a figure as a file.

    Parameters
    ----------
    figure : Figure
    kind : str
        svg or png.
    family : str
        Letters that the SVG's text asks for; empty: a plain sans serif.
    title : str
        For those who cannot see it.
    """
    buffer = io.BytesIO()
    with _lock, settings():
        metadata: dict[str, Any] = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
        if title and kind == "svg":
            metadata["Title"] = title
        figure.savefig(buffer, format=kind, dpi=200, metadata=metadata, facecolor=figure.get_facecolor())
    if kind == "png":
        return buffer.getvalue()
    text = buffer.getvalue().decode("utf-8")
    letters = f"'{family}'" if family else "'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif"
    return text.replace(_DRAWING, letters).encode("utf-8")


def new_figure(width: float, height: float, *, paper: bool) -> Figure:
    """An empty figure. [inch]."""
    figure = Figure(figsize=(width, height))
    figure.set_facecolor(PAPER if paper else "none")
    return figure


def frequency_ticks(low: float, high: float) -> list[float]:
    """Frequencies to label on a logarithmic axis. [Hz]."""
    marks = [m * 10.0**e for e in range(-2, 6) for m in (1, 2, 3, 5)]
    return [f for f in marks if low * 0.999 <= f <= high * 1.001]


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Heights for labels near where they are wanted, at least ``gap`` apart and within ``low`` to ``high``.

    Parameters
    ----------
    wanted : sequence of float
        One height a label, in any order.
    gap : float
        Least distance between two labels.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = [min(max(wanted[i], low), high) for i in order]
    for k in range(1, len(placed)):
        placed[k] = max(placed[k], placed[k - 1] + gap)
    ceiling = high
    for k in reversed(range(len(placed))):
        placed[k] = min(placed[k], ceiling)
        ceiling = placed[k] - gap
    found = [0.0] * len(wanted)
    for k, i in enumerate(order):
        found[i] = placed[k]
    return found


def plot_end_labels(axes: Axes, ends: Sequence[tuple[float, str, str, bool]], height: float) -> None:
    """Labels in the right margin, each beside the end of its line.

    Parameters
    ----------
    ends : sequence of (float, str, str, bool)
        Height on the axis, text, colour, whether it is bold.
    height : float
        Of the axes. [inch]
    """
    low, high = axes.get_ylim()
    share = [(value - low) / (high - low) for value, *_ in ends]
    gap = 1.28 * _LABEL / _POINTS / height
    places = spread([min(max(s, 0.0), 1.0) for s in share], gap, 0.02, 0.98)
    for (_, text, colour, bold), at, to in zip(ends, share, places, strict=True):
        start = min(max(at, 0.0), 1.0)
        axes.plot(
            [1.004, 1.024],
            [start, to],
            color=colour,
            linewidth=0.7,
            transform=axes.transAxes,
            clip_on=False,
            zorder=1,
        )
        axes.text(
            1.032, to, text, transform=axes.transAxes, color=colour, fontsize=_LABEL, va="center", ha="left",
            fontweight="bold" if bold else "normal",
        )  # fmt: skip


def dress(axes: Axes, panel: Panel) -> None:
    """Frame, grid, title and unit of one panel."""
    axes.set_facecolor("none")
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(GRID)
    axes.tick_params(length=0, labelsize=_LABEL, labelcolor=MUTE, pad=4)
    axes.grid(visible=True, color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.text(
        0.0, 1.0, panel.title, transform=axes.transAxes + _up(axes, 6.0), fontsize=_TITLE, fontweight="bold",
        color=INK, ha="left", va="bottom",
    )  # fmt: skip
    axes.text(
        1.0, 1.0, panel.unit, transform=axes.transAxes + _up(axes, 6.0), fontsize=_LABEL, color=MUTE, ha="right",
        va="bottom",
    )  # fmt: skip


def _up(axes: Axes, points: float) -> Any:
    from matplotlib.transforms import ScaledTranslation

    figure = axes.get_figure(root=True)
    if figure is None:  # pragma: no cover - every axes here sits in a figure
        raise RuntimeError
    return ScaledTranslation(0.0, points / _POINTS, figure.dpi_scale_trans)


def stroke_style(stroke: Stroke) -> dict[str, Any]:
    """A stroke as the plotting library's keywords."""
    dashes = (0, stroke.dashes) if stroke.dashes else "-"
    return {"color": stroke.colour, "linewidth": stroke.width, "linestyle": dashes, "dash_capstyle": "butt"}


def _plot(axes: Axes, panel: Panel, frequency: Real, height: float) -> None:
    ends: list[tuple[float, str, str, bool]] = []
    axes.set_xscale("log")
    for level in panel.levels:
        start = max(level.start or frequency[0], frequency[0])
        axes.plot(
            [start, min(level.stop or frequency[-1], frequency[-1])],
            [level.value] * 2,
            **stroke_style(level.stroke),
        )
        ends.append((level.value, level.label, level.stroke.colour, False))
    for line in panel.lines:
        axes.plot(frequency, line.values, zorder=3, **stroke_style(line.stroke))
        if line.over is not None and line.over.any():
            over = np.where(line.over, line.values, np.nan)
            axes.plot(
                frequency,
                over,
                color=LIMIT,
                linewidth=line.stroke.width + 1.1,
                zorder=4,
                solid_capstyle="butt",
            )
        finite = line.values[np.isfinite(line.values)]
        if finite.size and line.label:
            ends.append((float(finite[-1]), line.label, line.stroke.colour, True))
    axes.set_xlim(frequency[0], frequency[-1])
    low, high = axes.get_ylim()
    finest = [float(np.nanmax(line.values[np.isfinite(line.values)], initial=0.0)) for line in panel.lines]
    reached = max([*finest, *(level.value for level in panel.levels)])
    bottom = panel.bottom if panel.bottom is not None else low
    top = panel.top if panel.top is not None else bottom + 1.08 * max(reached - bottom, 1e-9)
    axes.set_ylim(bottom, top if top > bottom else high)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=max(3, int(height / 0.24)), steps=[1, 2, 5, 10]))
    plot_end_labels(axes, ends, height)


def draw_panels(
    panels: Sequence[Panel], frequency: Real, *, tuning: float | None = None, paper: bool = False
) -> Figure:
    """Draw small multiples that share one frequency axis.

    Parameters
    ----------
    panels : sequence of Panel
        From top to bottom.
    frequency : ndarray, shape (nf,)
        Rising, at least two. [Hz]
    tuning : float, optional
        Marked by a thread through all panels. [Hz]
    paper : bool
        Whether the ground is filled; else it shows what lies behind.
    """
    heights = [_PANEL * panel.height for panel in panels]
    total = _TOP + sum(heights) + _GAP * (len(panels) - 1) + _BOTTOM + (0.16 if tuning else 0.0)
    with settings():
        figure = new_figure(WIDTH, total, paper=paper)
        at = total - _TOP - (0.16 if tuning else 0.0)
        ticks = frequency_ticks(float(frequency[0]), float(frequency[-1]))
        for number, (panel, height) in enumerate(zip(panels, heights, strict=True)):
            at -= height
            axes = figure.add_axes(
                (_LEFT / WIDTH, at / total, (WIDTH - _LEFT - _RIGHT) / WIDTH, height / total),
                label=panel.title,
            )
            dress(axes, panel)
            _plot(axes, panel, frequency, height)
            axes.xaxis.set_major_locator(FixedLocator(ticks))
            axes.xaxis.set_minor_locator(NullLocator())
            last = number == len(panels) - 1
            axes.xaxis.set_major_formatter(FuncFormatter(lambda f, _: f"{f:g}"))
            axes.tick_params(axis="x", labelbottom=last)
            if tuning is not None and frequency[0] < tuning < frequency[-1]:
                axes.axvline(tuning, color=INK, linewidth=0.7, alpha=0.55, zorder=2)
                if number == 0:
                    share = np.log(tuning / frequency[0]) / np.log(frequency[-1] / frequency[0])
                    if _CLEAR[0] < share < _CLEAR[1]:
                        end = 1.0 + 16.0 / _POINTS / height
                        axes.plot(
                            [tuning] * 2, [1.0, end], color=INK, linewidth=0.7, alpha=0.55, clip_on=False,
                            transform=axes.get_xaxis_transform(),
                        )  # fmt: skip
                    axes.text(
                        tuning, 1.0, f"tuned to {tuning:.3g} Hz", fontsize=_LABEL, color=INK, ha="center", va="bottom",
                        transform=axes.get_xaxis_transform() + _up(axes, 18.0),
                    )  # fmt: skip
            if last:
                axes.text(
                    1.0, 0.0, "Hz", transform=axes.transAxes + _up(axes, -24.0), fontsize=_LABEL, color=MUTE,
                    ha="right", va="center",
                )  # fmt: skip
            at -= _GAP
    return figure
