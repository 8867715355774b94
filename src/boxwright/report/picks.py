"""A shortlist in words: ranked candidates, the best in each, what kept the others out, what would let them in."""

from __future__ import annotations

from collections.abc import Sequence

from boxwright.brief import Brief
from boxwright.quantity import Kind, show
from boxwright.report.figures import decibel, hertz, listed, price, span
from boxwright.report.layout import columns, plain, wrapped
from boxwright.report.text import binding_words, route_words
from boxwright.search.shortlist import OBJECTIVES, Candidate, Rejection, RouteHere, Routes, Shortlist

__all__ = [
    "asked",
    "best_table",
    "candidate_table",
    "rejection_table",
    "routes_text",
    "shortlist_text",
    "story",
    "weighting_words",
]

_HEAD = ("", "route", "parts", "air L", "reach Hz", "clean dB", "kg", "cost", "what binds")
_LEFT = (0, 1, 2, 8)
_FOLDED = (2, 8)
_WEIGHED = {"outer_volume": "size", "clean_level": "level", "price": "cost"}


def asked(brief: Brief) -> str:
    """What a brief asks, in one sentence."""
    target, limits, space = brief.target, brief.limits, brief.space
    sides = [side * 1e3 for side in (space.width, space.height, space.depth)]
    if space.shape == "volume" and space.net_volume is not None:
        room = f"{show(space.net_volume, Kind.VOLUME)} of air at most"
    elif space.shape == "profile":
        room = f"a profile of {len(space.profile)} corners, {sides[0]:.0f} mm wide"
    else:
        room = (
            " × ".join(f"{side:.0f}" for side in sides)
            + " mm outside"
            + (", a wedge" if space.shape == "wedge" else "")
        )
    most = [f"at most {show(limits.weight, Kind.MASS)}"] if limits.weight is not None else []
    most += [f"at most {price(limits.budget)}"] if limits.budget is not None else []
    return f"{decibel(target.level)} from {hertz(target.reach)} to {hertz(target.band_top)}; " + listed(
        [room, *most]
    )


def _row(label: str, candidate: Candidate) -> list[str]:
    return [
        label,
        route_words(candidate.family),
        candidate.parts,
        f"{candidate.net_volume * 1e3:.1f}",
        f"{candidate.reach:.1f}",
        f"{candidate.clean_level:.1f}",
        f"{candidate.weight:.1f}",
        price(round(candidate.price)),
        f"{binding_words(candidate.binding)}, {candidate.binding_frequency:.0f} Hz",
    ]


def candidate_table(candidates: Sequence[Candidate], width: int | None = None) -> str:
    """The candidates in their order, numbered from 1; ``width`` of the terminal, if it matters."""
    rows = [_row(str(n), c) for n, c in enumerate(candidates, 1)]
    return columns(_HEAD, rows, left=_LEFT[1:], width=width, fold=_FOLDED)


def best_table(shortlist: Shortlist, width: int | None = None) -> str:
    """The balanced pick and the best in each objective, with their numbers."""
    rows = []
    if shortlist.balanced is not None:
        rows.append(_row(f"balanced ({shortlist.balanced + 1})", shortlist.candidates[shortlist.balanced]))
    for _, word, _, _ in OBJECTIVES:
        if word in shortlist.best:
            index = shortlist.best[word]
            rows.append(_row(f"{word} ({index + 1})", shortlist.candidates[index]))
    return columns(_HEAD, rows, left=_LEFT, width=width, fold=_FOLDED)


def weighting_words(shortlist: Shortlist) -> str:
    """How the balanced pick weighs its objectives."""
    total = sum(shortlist.weighting.values()) or 1.0
    parts = [
        f"{_WEIGHED.get(name, name.replace('_', ' '))} {100.0 * weight / total:.0f} %"
        for name, weight in shortlist.weighting.items()
    ]
    return "Balanced weighs " + listed(parts) if parts else ""


def rejection_table(rejections: Sequence[Rejection], most: int | None = None) -> str:
    """How many boxes each limit kept out, as sentences; the smaller counts beyond ``most`` in one line."""
    shown = rejections if most is None else rejections[:most]
    rows = [[f"{r.count:,}", f"{route_words(r.family)}:" if r.family else "", r.reason] for r in shown]
    rest = rejections[len(shown) :]
    if rest:
        others = "another reason" if len(rest) == 1 else f"{len(rest)} other reasons"
        rows.append([f"{sum(r.count for r in rest):,}", "", f"for {others}"])
    return columns(("", "", ""), rows, left=(1, 2), indent="  ")


def _route(route: RouteHere) -> list[str]:
    return [
        route_words(route.family),
        "yes" if route.fits else "no",
        route.needs,
        f"{route.net_volume * 1e3:.1f}",
        f"{route.reach:.1f}",
        f"{route.clean_level:.1f}",
        f"{route.air_speed:.1f}" if route.air_speed is not None else "",
        f"{100.0 * route.travel_used:.0f}" if route.travel_used is not None else "",
        f"{route.volume_ratio:.1f}" if route.volume_ratio is not None else "",
        f"{route.weight:.1f}",
        price(round(route.price)),
    ]


def routes_text(routes: Routes, width: int | None = None) -> str:
    """Closed, port or passive for one driver: what each needs, reaches and costs, and which to take."""
    head = (
        "", "fits", "needs", "air L", "reach Hz", "clean dB", "air m/s", "travel %", "air ×", "kg", "cost"
    )  # fmt: skip
    rows = [_route(r) for r in routes.routes]
    lines = [plain(routes.driver), wrapped(_limits_in_words(routes.advice))]
    lines.append(columns(head, rows, left=(0, 1, 2), indent="  ", width=width, fold=(2,)))
    lines += [
        wrapped(f"{route_words(r.family)}: {_limits_in_words(r.why_not)}") for r in routes.routes if r.why_not
    ]
    return "\n".join(lines)


def _limits_in_words(text: str) -> str:
    """A sentence of the search with its limits called what the tables call them."""
    for name in ("driver travel",):
        text = text.replace(f"({name})", f"({binding_words(name)})")
    return text


def _headline(shortlist: Shortlist) -> str:
    if not shortlist.fitting:
        return f"{shortlist.tried:,} boxes tried in {shortlist.seconds:.1f} s; none can be built and meets the brief"
    return (
        f"{shortlist.tried:,} boxes tried in {shortlist.seconds:.1f} s; {shortlist.fitting:,} can be built and meet the"
        f" brief; searched more finely around them, {len(shortlist.candidates)} are not beaten in everything by another"
    )


def _section(title: str, body: str) -> list[str]:
    return ["", title, body] if body else []


def shortlist_text(
    shortlist: Shortlist,
    *,
    most: int = 12,
    routes: Sequence[Routes] | None = None,
    reasons: int | None = 12,
    notes: Sequence[str] = (),
    width: int | None = None,
) -> str:
    """A whole shortlist for a terminal or a text file.

    Parameters
    ----------
    most : int
        Ranked candidates shown; the best in each are always shown. [-]
    routes : sequence of Routes, optional
        Comparisons to show; by default the first three.
    reasons : int, optional
        Reasons for rejection shown one by one; None: all. [-]
    notes : sequence of str
        Remarks on the brief.
    width : int, optional
        Of the terminal; None: tables are as wide as they get. [character]
    """
    count = len(shortlist.candidates)
    lines = [plain(shortlist.brief.name) or "A brief without a name", wrapped(asked(shortlist.brief)), ""]
    lines.append(wrapped(_headline(shortlist), indent=""))
    lines += [wrapped(note, first="· ") for note in dict.fromkeys((*notes, *shortlist.warnings))]
    if count:
        lines += _section("Best in each (number of the candidate)", best_table(shortlist, width))
        lines += _section("", wrapped(weighting_words(shortlist), indent=""))[2:]
        shown = f"Ranked, the first {most} of {count}" if count > most else "Ranked"
        lines += _section(shown, candidate_table(shortlist.candidates[:most], width))
    lines += _section(
        "Why the others fell away, by the first limit they broke",
        rejection_table(shortlist.rejections, reasons),
    )
    misses = "\n".join(wrapped(miss.words, indent="    ", first="  · ") for miss in shortlist.near_misses)
    lines += _section("What would change the answer", misses)
    chosen = shortlist.routes[:3] if routes is None else routes
    if chosen:
        left = len(shortlist.routes) - len(chosen)
        lines += _section(
            "Closed, port or passive here: the best box of each driver, fitting or not",
            wrapped(
                "At the level asked for: air m/s in the port, travel % of what the passive has; air ×: the"
                " air that port or passive moves at the reach, over the cone's."
            ),
        )
        lines.append("\n\n".join(routes_text(r, width) for r in chosen))
        if routes is None and left > 0:
            drivers = "driver is" if left == 1 else "drivers are"
            lines += ["", f"{left} more {drivers} compared: ask with --driver NAME"]
    return "\n".join(lines) + "\n"


def story(shortlist: Shortlist) -> str:
    """What came out, in a few sentences."""
    if shortlist.balanced is None:
        first = (
            shortlist.near_misses[0].words if shortlist.near_misses else "Ask for less, or offer more parts."
        )
        return wrapped(f"No box meets this brief. {first}", indent="")
    pick = shortlist.candidates[shortlist.balanced]
    sentences = [
        f"Of {shortlist.tried:,} boxes {shortlist.fitting:,} can be built and meet the brief.",
        f"The balanced pick is {route_words(pick.family)}: {pick.parts}, {show(pick.net_volume, Kind.VOLUME)} of air,"
        f" reaches {hertz(pick.reach)}, clean to {decibel(pick.clean_level)}"
        f" ({binding_words(pick.binding)} {span(pick.binding_frequency, pick.binding_frequency)} binds),"
        f" {show(pick.weight, Kind.MASS)}, {price(round(pick.price))}.",
    ]
    if shortlist.near_misses:
        sentences.append(f"Nearest miss: {shortlist.near_misses[0].words}")
    return wrapped(" ".join(sentences), indent="")
