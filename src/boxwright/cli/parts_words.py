"""Parts as a person reads them, and as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from boxwright.parts.completing import Disagreement
    from boxwright.parts.reading import ReadPart
    from boxwright.parts.store import Entry

__all__ = ["entry_text", "plain_entry", "sheet_text", "table_text"]


def plain_entry(entry: Entry) -> dict[str, Any]:
    """A part with everything known about it, SI, for JSON."""
    from boxwright.parts.curve import Curve
    from boxwright.parts.fields import kind_of
    from boxwright.parts.forms import plain_curve

    kind = kind_of(entry.part)
    values = kind.values(entry.part)
    plain = {
        name: plain_curve(value) if isinstance(value, Curve) else value for name, value in values.items()
    }
    stored = {column.name for column in kind.columns}
    derived = {name: value for name, value in kind.measures(entry.part, values).items() if name not in stored}
    return {
        "kind": entry.kind,
        **plain,
        "derived": derived,
        "given": entry.given,
        "provenance": entry.provenance,
        "example": entry.example,
        "added": entry.added,
    }


_SHOWN = {
    "driver": ("fs", "qts", "vas", "sd", "xmax", "re", "pmax", "price"),
    "passive": ("fp", "mmp", "sp", "xmax", "added_mass_max", "price"),
    "vent": ("diameter", "width", "height", "flare", "max_length", "price_per_metre"),
    "amplifier": ("power", "load", "max_voltage", "max_current", "price"),
    "sheet": ("length", "width", "thickness", "density", "price"),
}


def table_text(kind: str, entries: Sequence[Entry]) -> str:
    """Entries of one kind, each field in one unit down its column."""
    from boxwright.parts.fields import kind_named
    from boxwright.parts.forms import Figure
    from boxwright.quantity import show
    from boxwright.report.layout import columns

    which = kind_named(kind)
    measures = {c.name: c.form.kind for c in which.columns if isinstance(c.form, Figure)}
    measures |= {derived.name: derived.kind for derived in which.derived}
    rows = []
    for entry in entries:
        values = which.measures(entry.part, which.values(entry.part))
        cells = [show(values[name], measures[name]) if name in values else "" for name in _SHOWN[kind]]
        rows.append([entry.part.name, *cells, "example" if entry.example else "own"])
    return columns((which.plural, *_SHOWN[kind], ""), rows, left=(0, len(_SHOWN[kind]) + 1))


def entry_text(entry: Entry) -> str:
    """One part with all its values, stored and derived."""
    from boxwright.parts.fields import kind_of
    from boxwright.parts.forms import Figure
    from boxwright.quantity import show
    from boxwright.report.layout import columns, plain, wrapped

    kind = kind_of(entry.part)
    values = kind.values(entry.part)
    measures = kind.measures(entry.part, values)
    rows = []
    for column in kind.columns:
        if column.name in {"name", "notes"} or column.name not in values:
            continue
        value = values[column.name]
        if isinstance(column.form, Figure) and isinstance(value, int | float):
            text = show(float(value), column.form.kind, digits=4)
        else:
            text = column.form.written(value)
        rows.append([column.name, text, "given" if column.name in entry.given else ""])
    rows += [
        [d.name, show(measures[d.name], d.kind, digits=4), "derived"]
        for d in kind.derived
        if d.name in measures
    ]
    lines = [f"{plain(entry.part.name)} ({kind.name}, {'example' if entry.example else 'own'})"]
    lines.append(columns(("", "", ""), rows, left=(0, 1, 2), indent="  "))
    if entry.part.notes:
        lines.append(wrapped(entry.part.notes))
    if entry.provenance and not entry.example:
        lines.append(wrapped(f"from {entry.provenance}, {entry.added}"))
    return "\n".join(lines)


def sheet_text(read: ReadPart, found: tuple[Disagreement, ...]) -> str:
    """A data sheet: each stated value, what the others imply, and the difference in percent."""
    from boxwright.parts.completing import DRIVER_SYMBOLS, PASSIVE_SYMBOLS
    from boxwright.quantity import show
    from boxwright.report.layout import columns, plain, wrapped

    symbols = {**DRIVER_SYMBOLS, **PASSIVE_SYMBOLS}
    rows = [
        [
            d.symbol,
            show(d.stated, symbols[d.symbol], digits=4),
            show(d.implied, symbols[d.symbol], digits=4) if d.implied is not None else "",
            f"{d.percent:+.1f} %".replace("-", "−") if d.percent is not None else "nothing to compare",
        ]
        for d in found
    ]
    lines = [f"{plain(read.part.name)} (line {read.line})"]
    if rows:
        lines.append(columns(("", "stated", "others imply", "off by"), rows, left=(0,), indent="  "))
    lines += [wrapped(warning, first="  ! ", indent="    ") for warning in read.warnings]
    return "\n".join(lines)
