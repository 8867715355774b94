"""Results as lines of plain text: tables whose columns line up, for terminals and text files."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from boxwright.acoustics.response import OpeningResponse, Response
from boxwright.brief import Target
from boxwright.design import Design
from boxwright.quantity import Kind, show
from boxwright.report.layout import columns, plain, wrapped
from boxwright.report.overview import key_figures
from boxwright.report.text import binding_words, verdicts

__all__ = ["READOUT", "curve_csv", "readout", "response_text"]

READOUT = (10.0, 12.5, 16.0, 20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0)
"""Third-octave frequencies (ISO 266 as remembered) at which a response is read out. [Hz]"""

MARKS = {"good": "+", "care": "!", "broken": "x"}


def _number(value: float, form: str = ".1f") -> str:
    return format(value, form).replace("-", "−") if math.isfinite(value) else "–"


def _moved(opening: OpeningResponse, i: int) -> str:
    if opening.travel is not None:
        return _number(float(opening.travel[i]) * 1e3, ".2f")
    return _number(float(opening.air_speed[i]), ".1f") if opening.air_speed is not None else "–"


def readout(response: Response, width: int | None = None) -> str:
    """The response as a table, one line a frequency.

    Parameters
    ----------
    response : Response
        At the frequencies to be shown.
    width : int, optional
        Of the terminal; where the table is wider, phase and delay are left to JSON and CSV. [character]
    """
    head = ["Hz", "level dB", "clean dB", "what binds", "cone mm"]
    for opening in response.openings:
        many = "s" if opening.count > 1 else ""
        head.append(f"passive{many} mm" if opening.travel is not None else f"vent{many} m/s")
    head += ["|Z| Ω", "∠Z °", "delay ms"]
    angle = np.degrees(np.angle(response.impedance))
    rows = []
    for i, f in enumerate(response.frequency):
        moves = [_moved(opening, i) for opening in response.openings]
        rows.append(
            [
                f"{f:.6g}",
                _number(float(response.level[i])),
                _number(float(response.clean_level[i])),
                binding_words(response.binding[i]),
                _number(float(response.driver_travel[i]) * 1e3, ".2f"),
                *moves,
                _number(float(abs(response.impedance[i])), ".2f"),
                _number(float(angle[i]), ".0f"),
                _number(float(response.group_delay[i]) * 1e3, ".1f"),
            ]
        )
    wide = columns(head, rows, left=(3,))
    if width is None or len(wide.split("\n", 1)[0]) <= width:
        return wide
    return columns(head[:-2], [row[:-2] for row in rows], left=(3,))


def response_text(
    design: Design,
    response: Response,
    shown: Response,
    *,
    target: Target | None = None,
    notes: Sequence[str] = (),
    width: int | None = None,
) -> str:
    """A design's response for a terminal: figures, verdicts, readout.

    Parameters
    ----------
    design : Design
    response : Response
        Over a band of rising frequencies; figures and verdicts are read off it.
    shown : Response
        The same design at the frequencies of the readout.
    target : Target, optional
        What a brief asks of it.
    notes : sequence of str
        Further remarks.
    width : int, optional
        Of the terminal; None: the table is as wide as it gets. [character]
    """
    name = plain(design.name) or "A box without a name"
    figures = [[f.name, f.value, f.note] for f in key_figures(design, response, target=target)]
    lines = [f"{name}, at {show(response.voltage, Kind.VOLTAGE)}", ""]
    lines += [columns(("", "", ""), figures, left=(0, 1, 2), indent="  "), ""]
    for verdict in verdicts(design, response, target=target):
        lines += [wrapped(verdict.headline, first=f"{MARKS[verdict.tone]} "), wrapped(verdict.detail)]
    lines += [wrapped(note, first="· ") for note in dict.fromkeys((*notes, *response.warnings))]
    lines += ["", readout(shown, width)]
    return "\n".join(lines)


def curve_csv(response: Response) -> str:
    """Every curve of a response as comma-separated columns in SI, headings as in its JSON."""
    curves: list[tuple[str, Sequence[float]]] = [
        ("frequency_hz", response.frequency.tolist()),
        ("level_db", response.level.tolist()),
        ("phase_deg", response.phase.tolist()),
        ("group_delay_s", response.group_delay.tolist()),
        ("impedance_ohm", np.abs(response.impedance).tolist()),
        ("impedance_phase_deg", np.degrees(np.angle(response.impedance)).tolist()),
        ("driver_travel_m", response.driver_travel.tolist()),
    ]
    for number, opening in enumerate(response.openings, 1):
        if opening.travel is not None:
            curves.append((f"{opening.kind}_{number}_travel_m", opening.travel.tolist()))
        if opening.air_speed is not None:
            curves.append((f"{opening.kind}_{number}_air_speed_m_s", opening.air_speed.tolist()))
    curves.append(("clean_level_db", response.clean_level.tolist()))
    head = ",".join([*(name for name, _ in curves), "binding"])
    cells = [[repr(v) if math.isfinite(v) else "" for v in values] for _, values in curves]
    rows = (",".join(row) for row in zip(*cells, response.binding, strict=True))
    return "\n".join([head, *rows]) + "\n"
