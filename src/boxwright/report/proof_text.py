"""The proof in words and columns, for a terminal and for the pages of a report."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boxwright.design import Design, PassiveOpening
from boxwright.largesignal.waves import ORDERS, Steady, Wave
from boxwright.quantity import Kind, show
from boxwright.report.layout import columns, plain, wrapped

__all__ = ["sine_text"]


def sine_text(design: Design, found: Steady, *, notes: Sequence[str] = (), width: int | None = None) -> str:
    """One steady sine: harmonics of everything that moves and of the pressure.

    Parameters
    ----------
    notes : sequence of str
        Further remarks.
    width : int, optional
        Of the terminal. [character]
    """
    name = plain(design.name) or "A box without a name"
    head = f"{name}, {show(found.voltage, Kind.VOLTAGE)} at {show(found.frequency, Kind.FREQUENCY)}"
    lines = [head, "", columns(_heads(), _rows(design, found), width=width)]
    if found.other is not None:
        lines += ["", "coming down from above", columns(_heads(), _rows(design, found.other), width=width)]
    lines += ["", *(wrapped(note, first="· ") for note in dict.fromkeys((*notes, *found.remarks)))]
    return "\n".join(lines).rstrip("\n")


def _heads() -> list[str]:
    return ["peak", "", "offset", "1", *(str(order) for order in range(2, ORDERS)), "2 to 7 %"]


def _rows(design: Design, found: Steady) -> list[list[str]]:
    rows = [_row("cone", "mm", found.driver_travel, 1e3)]
    for opening, wave in zip(design.openings, found.openings, strict=True):
        passive = isinstance(opening, PassiveOpening)
        rows.append(
            _row("passive" if passive else "vent", "mm" if passive else "m/s", wave, 1e3 if passive else 1.0)
        )
    rows += [_row("current", "A", found.current, 1.0), _row("pressure", "Pa", found.pressure, 1.0)]
    return rows


def _row(name: str, unit: str, wave: Wave, factor: float) -> list[str]:
    distortion = 100.0 * float(wave.distortion)
    cells = [_figure(float(h) * factor) for h in wave.harmonics]
    return [name, unit, *cells, f"{distortion:.2g}" if math.isfinite(distortion) else "–"]


def _figure(value: float) -> str:
    if not math.isfinite(value):
        return "–"
    if abs(value) < 5e-4:
        return "0"
    return (f"{value:.3g}" if abs(value) < 1000.0 else f"{value:.0f}").replace("-", "−")
