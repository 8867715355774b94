"""Pages of a proof: everything is on them, names stay names, labels keep apart."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from tests.support.boxes import closed_box, passive_box, vented_box

from boxwright.brief import Target
from boxwright.design import Source
from boxwright.largesignal.proof import Proof, prove
from boxwright.report.document import to_pdf
from boxwright.report.page import to_html
from boxwright.report.proof_charts import (
    draw_distortion,
    draw_heat,
    draw_level,
    draw_shares,
    draw_spread,
)
from boxwright.report.proof_pages import proof_report

BOXES = {"passive": passive_box, "vented": vented_box, "closed": closed_box}


@cache
def proof(name: str) -> Proof:
    return prove(BOXES[name](), target=Target(reach=40.0, level=94.0), boxes=60)


def drawings(found: Proof) -> list[Figure]:
    assert found.warming is not None
    assert found.spread is not None
    assert found.shares is not None
    return [
        draw_level(found), draw_distortion(found), draw_heat(found.warming), draw_spread(found, found.spread),
        draw_shares(found.shares),
    ]  # fmt: skip


@pytest.mark.parametrize("name", BOXES)
def test_no_words_lie_over_each_other_or_leave_the_picture(name: str) -> None:
    for figure in drawings(proof(name)):
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
        page = figure.bbox
        seen = []
        for axes in figure.axes:
            ticks = []
            for axis, bounds in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
                low, high = sorted(bounds)
                places = zip(axis.get_majorticklocs(), axis.get_majorticklabels(), strict=True)
                ticks += [label for at, label in places if low <= at <= high]
            for text in (*axes.texts, *ticks):
                if not text.get_text().strip():
                    continue
                box = text.get_window_extent(renderer)
                assert box.x0 >= page.x0 - 1.0, text.get_text()
                assert box.x1 <= page.x1 + 1.0, text.get_text()
                # a little less than the letters' own box: descenders may touch the line below
                seen.append((text.get_text(), box.shrunk_to_aspect(box.height / box.width).padded(-1.5)))
        for k, (one, first) in enumerate(seen):
            for other, second in seen[k + 1 :]:
                assert not first.overlaps(second), (one, other)


def test_pages_carry_verdicts_charts_and_sources() -> None:
    report = proof_report(proof("passive"))
    assert [c.heading for c in report.charts] == [
        "Level",
        "Distortion",
        "Heat",
        "Spread",
        "What matters most",
    ]
    assert {"cta2010", "iec62458", "saltelli2010", "button1992"} <= {s.key for s in report.sources}
    page = to_html(report).decode()
    for verdict in report.verdicts:
        assert verdict.headline.split(":")[0] in page
    assert to_pdf(proof_report(proof("passive"), letters="Libertinus Serif")).startswith(b"%PDF")


def test_a_name_cannot_become_markup() -> None:
    box = passive_box('</title><script>alert("x")</script> #import $x^2$')
    found = prove(box, boxes=60)
    page = to_html(proof_report(found)).decode()
    assert "<script" not in page
    assert to_pdf(proof_report(found, letters="Libertinus Serif")).startswith(b"%PDF")


def test_a_box_that_nothing_limits_is_drawn_too() -> None:
    part = replace(closed_box().driver, xmax=None, xmech=None, pmax=None)
    found = prove(replace(closed_box(), driver=part, source=Source(voltage=5.0)), boxes=60)
    assert b"Level at" in to_html(proof_report(found))
