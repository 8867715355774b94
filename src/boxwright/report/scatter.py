"""The picture of a shortlist: air inside against reach, each family by shape and colour, the pick ringed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator

from boxwright.report.charts import new_figure, settings
from boxwright.report.figures import hertz
from boxwright.report.style import FAMILY_MARKS, GRID, INK, MUTE, PAPER, SEA_GREEN, Mark
from boxwright.report.text import route_words
from boxwright.search.shortlist import Candidate, Shortlist

__all__ = ["draw_front", "undominated"]

WIDTH, HEIGHT = 6.7, 4.6  # inch
_LEFT, _RIGHT, _TOP, _BOTTOM = 0.62, 0.25, 0.78, 0.62
_SMALL, _LABEL, _TITLE = 7.6, 8.4, 10.5
_OTHER = Mark(colour=MUTE, shape="v")
_REACHES = (
    10.0,
    12.0,
    15.0,
    18.0,
    20.0,
    22.0,
    25.0,
    28.0,
    30.0,
    32.0,
    35.0,
    40.0,
    45.0,
    50.0,
    60.0,
    70.0,
    80.0,
    100.0,
    120.0,
    150.0,
)
_FURTHEST = 2.0  # times the reach asked: what reaches less is of no interest here


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dot:
    litres: float
    reach: float
    family: str


def undominated(dots: Sequence[tuple[float, float]]) -> list[int]:
    """Indices of the points that no other beats in both directions, by rising first coordinate; less is better."""
    found: list[int] = []
    for i in sorted(range(len(dots)), key=lambda k: dots[k]):
        if not found or dots[i][1] < dots[found[-1]][1]:
            found.append(i)
    return found


def _mark(family: str) -> Mark:
    return FAMILY_MARKS.get(family, _OTHER)


def _dress(axes: Axes) -> None:
    axes.set_facecolor("none")
    for side in ("top", "right", "left", "bottom"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=0, labelsize=_SMALL, labelcolor=MUTE, pad=5)
    axes.grid(visible=True, color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=8, steps=[1, 2, 2.5, 5, 10]))
    # pitch is heard by ratios: a logarithmic axis gives the low notes the room they deserve
    axes.set_yscale("log")
    axes.yaxis.set_major_locator(FixedLocator(_REACHES))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))


class _Labels:
    """Puts each label where it covers the fewest marks and no other label."""

    def __init__(self, axes: Axes, dots: Sequence[_Dot]) -> None:
        self.axes = axes
        self.marks = [self._pixel(d.litres, d.reach) for d in dots]
        self.taken: list[tuple[float, float, float, float]] = []
        inside = axes.get_window_extent()
        self.room = (inside.x0, inside.y0, inside.x1, inside.y1)

    def _pixel(self, x: float, y: float) -> tuple[float, float]:
        found = self.axes.transData.transform((x, y))
        return float(found[0]), float(found[1])

    def put(self, dot: _Dot, text: str, colour: str, clear: float) -> None:
        """Write a label beside a dot, ``clear`` away from it. [pt]."""
        root = self.axes.get_figure(root=True)
        scale = (root.dpi if root is not None else 100.0) / 72.0
        x, y = self._pixel(dot.litres, dot.reach)
        wide, high = 0.62 * _LABEL * len(text) * scale, 1.3 * _LABEL * scale
        away = clear * scale

        def cost(place: tuple[float, float]) -> tuple[float, float]:
            dx, dy = place
            left = x + dx * away - (0.0 if dx > 0 else wide if dx < 0 else 0.5 * wide)
            low = y + dy * away - (0.0 if dy > 0 else high if dy < 0 else 0.5 * high)
            box = (left, low, left + wide, low + high)
            outside = (
                box[0] < self.room[0]
                or box[1] < self.room[1]
                or box[2] > self.room[2]
                or box[3] > self.room[3]
            )
            over = sum(
                b[0] < box[2] and b[2] > box[0] and b[1] < box[3] and b[3] > box[1] for b in self.taken
            )
            hit = sum(box[0] - 3 < px < box[2] + 3 and box[1] - 3 < py < box[3] + 3 for px, py in self.marks)
            return 100.0 * outside + 50.0 * over + hit, abs(dx) + abs(dy)

        places = [
            (1.0, 0.0),
            (-1.0, 0.0),
            (0.0, 1.0),
            (0.0, -1.0),
            (0.8, 0.8),
            (-0.8, 0.8),
            (0.8, -0.8),
            (-0.8, -0.8),
        ]
        places += [(1.8 * dx, 1.8 * dy) for dx, dy in places] + [(3.0 * dx, 3.0 * dy) for dx, dy in places]
        dx, dy = min(places, key=cost)
        left = x + dx * away - (0.0 if dx > 0 else wide if dx < 0 else 0.5 * wide)
        low = y + dy * away - (0.0 if dy > 0 else high if dy < 0 else 0.5 * high)
        self.taken.append((left, low, left + wide, low + high))
        self.axes.annotate(
            text, (dot.litres, dot.reach), xytext=(dx * clear, dy * clear), textcoords="offset points", fontsize=_LABEL,
            fontweight="bold", color=colour, zorder=8,
            ha="left" if dx > 0 else "right" if dx < 0 else "center",
            va="bottom" if dy > 0 else "top" if dy < 0 else "center",
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 1.2},
        )  # fmt: skip


def _dot(candidate: Candidate) -> _Dot:
    return _Dot(litres=candidate.net_volume * 1e3, reach=candidate.reach, family=candidate.family)


def draw_front(shortlist: Shortlist, *, paper: bool = True) -> Figure:
    """Draw what the space allows.

    Parameters
    ----------
    shortlist : Shortlist
        With or without candidates.
    paper : bool
        Whether the ground is filled; else it shows what lies behind.
    """
    asked = shortlist.brief.target.reach
    front = [_dot(c) for c in shortlist.candidates]
    others = [
        _Dot(litres=r.net_volume * 1e3, reach=r.reach, family=r.family)
        for routes in shortlist.routes
        for r in routes.routes
        if math.isfinite(r.reach) and 0.0 < r.reach <= _FURTHEST * asked and r.net_volume > 0.0
    ]
    with settings():
        figure = new_figure(WIDTH, HEIGHT, paper=paper)
        axes = figure.add_axes(
            (
                _LEFT / WIDTH,
                _BOTTOM / HEIGHT,
                (WIDTH - _LEFT - _RIGHT) / WIDTH,
                (HEIGHT - _TOP - _BOTTOM) / HEIGHT,
            )
        )
        _dress(axes)
        _ranges(axes, [*front, *others], asked)
        for dot in others:
            mark = _mark(dot.family)
            axes.scatter(
                dot.litres, dot.reach, s=14, marker=mark.shape, color=mark.colour, alpha=0.32, linewidths=0
            )
        for dot in front:
            mark = _mark(dot.family)
            axes.scatter(
                dot.litres,
                dot.reach,
                s=42,
                marker=mark.shape,
                color=mark.colour,
                edgecolors=PAPER,
                linewidths=0.7,
                zorder=5,
            )
        edge = [front[i] for i in undominated([(d.litres, d.reach) for d in front])]
        axes.plot(
            [d.litres for d in edge],
            [d.reach for d in edge],
            color=INK,
            linewidth=1.0,
            linestyle=(0, (1, 2.6)),
            zorder=4,
        )
        _name(axes, shortlist, front, others)
        _title(figure, axes, shortlist, asked)
    return figure


def _ranges(axes: Axes, dots: Sequence[_Dot], asked: float) -> None:
    litres = [d.litres for d in dots] or [0.0, 10.0]
    reach = [*(d.reach for d in dots), asked]
    wide = max(max(litres) - min(litres), 0.2 * max(litres), 1.0)
    deep = max(max(reach) / min(reach), 1.3)
    axes.set_xlim(max(min(litres) - 0.08 * wide, 0.0), max(litres) + 0.08 * wide)
    axes.set_ylim(max(reach) * deep**0.06, min(reach) / deep**0.16)


def _name(axes: Axes, shortlist: Shortlist, front: Sequence[_Dot], others: Sequence[_Dot]) -> None:
    """Each family's name beside one of its marks, and the pick's."""
    labels = _Labels(axes, [*front, *others])
    if shortlist.balanced is not None:
        pick = front[shortlist.balanced]
        axes.scatter(
            pick.litres, pick.reach, s=190, facecolors="none", edgecolors=INK, linewidths=1.4, zorder=6
        )
        labels.put(pick, "balanced pick", INK, 10.0)
    for family in dict.fromkeys(d.family for d in (*front, *others)):
        own = [d for d in front if d.family == family] or [d for d in others if d.family == family]
        labels.put(
            min(own, key=lambda d: (d.litres, d.reach)), route_words(family), _mark(family).colour, 6.0
        )


def _title(figure: Figure, axes: Axes, shortlist: Shortlist, asked: float) -> None:
    bottom, top = axes.get_ylim()
    axes.axhspan(min(asked, bottom), top, color=SEA_GREEN, alpha=0.07, linewidth=0)
    words = (
        "large: not beaten in everything by another · small: the best box of a driver, whether or not it fits"
    )
    if not shortlist.candidates:
        words = "no box meets the brief · small: the best box of a driver all the same"
    left = _LEFT / WIDTH
    figure.text(
        left,
        1.0 - 0.16 / HEIGHT,
        "What the space allows",
        fontsize=_TITLE,
        fontweight="bold",
        color=INK,
        va="top",
    )
    figure.text(left, 1.0 - 0.36 / HEIGHT, words, fontsize=_SMALL, color=MUTE, va="top")
    figure.text(
        left,
        1.0 - 0.56 / HEIGHT,
        "reach, Hz (lower notes are higher up)",
        fontsize=_SMALL,
        color=MUTE,
        va="top",
    )
    figure.text(
        1.0 - _RIGHT / WIDTH, 1.0 - 0.56 / HEIGHT, f"shaded: meets the brief, {hertz(asked)} or lower", fontsize=_SMALL,
        color=SEA_GREEN, ha="right", va="top",
    )  # fmt: skip
    figure.text(
        1.0 - _RIGHT / WIDTH, 0.14 / HEIGHT, "air inside, litres (smaller is to the left)", fontsize=_SMALL, color=MUTE,
        ha="right",
    )  # fmt: skip
