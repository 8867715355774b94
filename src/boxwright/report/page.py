"""A report as one web page that stands alone: nothing is fetched, nothing runs, every word is escaped."""

from __future__ import annotations

import re
from html import escape
from importlib import resources

from boxwright.report.cautions import Caution
from boxwright.report.document import HEADINGS, Chart, Report
from boxwright.report.overview import Figure
from boxwright.report.parameters import Group
from boxwright.report.sources import Source
from boxwright.report.text import Verdict

__all__ = ["to_html"]

TONES = {"good": "good", "care": "mind", "broken": "broken"}
# Even if something slipped through the escaping, the browser would neither run nor fetch it.
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def to_html(report: Report) -> bytes:
    """Write a report as one page in UTF-8.

    Parameters
    ----------
    report : Report
        With pictures in a plain sans serif.
    """
    css = (resources.files("boxwright") / "report" / "page.css").read_text(encoding="utf-8")
    notes = "".join(f"<li>{escape(note)}</li>" for note in report.notes)
    body = (
        f"<header><h1>{escape(report.title)}</h1><p>{escape(report.subtitle)}</p></header>",
        f'<div class="top"><section><h2>{HEADINGS["verdicts"]}</h2>{"".join(map(_verdict, report.verdicts))}',
        f'<h3>{HEADINGS["notes"]}</h3><ul class="notes note">{notes}</ul>' if notes else "",
        f'</section><section><h2>{HEADINGS["figures"]}</h2><table class="figures">',
        f"{''.join(map(_figure, report.figures))}</table></section></div>",
        f'<h2>{HEADINGS["cautions"]}</h2><div class="cautions">{"".join(map(_caution, report.cautions))}</div>',
        "".join(map(_chart, report.charts)),
        f'<h2>{HEADINGS["parameters"]}</h2><div class="groups">{"".join(map(_group, report.parameters))}</div>',
        f'<h2>{HEADINGS["sources"]}</h2><div class="sources"><p class="note">{escape(report.method)}</p>',
        f"{''.join(map(_source, report.sources))}</div>",
        f"<footer>{escape(report.maker)}</footer>",
    )
    page = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(report.title)}</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        + "\n".join(part for part in body if part)
        + "\n</body>\n</html>\n"
    )
    return page.encode("utf-8", "replace")


def _verdict(verdict: Verdict) -> str:
    return (
        f'<div class="verdict {verdict.tone}"><p><b>{escape(verdict.headline)}</b>'
        f'<span class="tone">{TONES[verdict.tone]}</span></p><p class="detail">{escape(verdict.detail)}</p></div>'
    )


def _figure(figure: Figure) -> str:
    note = f"<small>{escape(figure.note)}</small>" if figure.note else ""
    return f'<tr><th scope="row">{escape(figure.name)}{note}</th><td>{escape(figure.value)}</td></tr>'


def _caution(caution: Caution) -> str:
    return f"<p><b>{escape(caution.about)}.</b> {escape(caution.words)}</p>"


def _chart(chart: Chart) -> str:
    # the picture's own prologue has no place inside a page
    svg = re.sub(r"^.*?(?=<svg)", "", chart.svg, count=1, flags=re.DOTALL)
    svg = svg.replace("<svg ", f'<svg role="img" aria-label="{escape(chart.alt)}" ', 1)
    caption = f'<p class="caption">{escape(chart.caption)}</p>'
    return f"<h2>{escape(chart.heading)}</h2>{caption}<figure>{svg}</figure>"


def _group(group: Group) -> str:
    rows = "".join(
        f'<tr><th scope="row">{escape(row.symbol)}</th><td>{escape(row.value)}</td><td>{escape(row.meaning)}</td></tr>'
        for row in group.rows
    )
    return f"<section><h3>{escape(group.title)}</h3><table>{rows}</table></section>"


def _source(source: Source) -> str:
    note = f"; {escape(source.note)}" if source.note else ""
    return (
        f"<p>{escape(source.authors)} ({source.year}). <i>{escape(source.title)}</i>. {escape(source.where)}."
        f' <span class="note">Here: {escape(source.used_for)}{note}.</span></p>'
    )
