from __future__ import annotations

import itertools
from xml.etree import ElementTree as ET

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from tests.support.boxes import closed_box, passive_box, vented_box

from boxwright.acoustics.response import predict
from boxwright.report.charts import draw_panels, frequency_ticks, rendered, spread
from boxwright.report.panels import Line, Panel, response_panels
from boxwright.report.style import LIMIT, PAPER, Stroke

SVG = "{http://www.w3.org/2000/svg}"


def _svg(panels, frequency, tuning=None) -> str:
    return rendered(draw_panels(panels, frequency, tuning=tuning)).decode()


def _texts(svg: str) -> list[str]:
    return ["".join(node.itertext()).strip() for node in ET.fromstring(svg).iter(f"{SVG}text")]  # noqa: S314 our own


@given(st.lists(st.floats(-0.5, 1.5), min_size=1, max_size=6))
def test_labels_never_touch_and_keep_their_order(wanted: list[float]) -> None:
    gap = 0.12
    placed = spread(wanted, gap, 0.0, 1.0)
    ordered = sorted(placed)
    assert all(b - a >= gap - 1e-12 for a, b in itertools.pairwise(ordered))
    assert ordered[-1] <= 1.0
    assert ordered[0] >= -1e-12
    for a, b in itertools.combinations(range(len(wanted)), 2):
        if wanted[a] < wanted[b]:
            assert placed[a] < placed[b]


def test_a_label_with_room_stays_where_it_is_wanted() -> None:
    assert spread([0.2, 0.8], 0.1, 0.0, 1.0) == [0.2, 0.8]


def test_frequency_axis_has_round_numbers_only() -> None:
    assert frequency_ticks(10.0, 300.0) == [10.0, 20.0, 30.0, 50.0, 100.0, 200.0, 300.0]


def test_a_line_over_its_limit_turns_red_there_and_only_there() -> None:
    quiet, loud = (predict(passive_box(), voltage=v) for v in (5.0, 20.0))
    assert LIMIT.lower() not in _svg(response_panels(quiet), quiet.frequency).lower()
    assert LIMIT.lower() in _svg(response_panels(loud), loud.frequency).lower()
    travel = next(p for p in response_panels(loud) if p.title == "Travel, one way")
    cone = travel.lines[0]
    assert cone.over is not None
    assert np.array_equal(cone.over, loud.driver_travel > 0.014)


def test_every_line_with_a_neighbour_is_named_in_the_picture() -> None:
    response = predict(vented_box())
    texts = _texts(_svg(response_panels(response), response.frequency, response.tuning))
    for name in (
        "cone",
        "vent 1",
        "vent 2",
        "at 20.0 V",
        "highest clean level",
        "Hz",
        f"tuned to {response.tuning:.3g} Hz",
    ):
        assert name in texts
    assert "Air speed" in texts
    closed = predict(closed_box())
    assert "Air speed" not in _texts(_svg(response_panels(closed), closed.frequency))


def test_names_are_text_and_not_formulas() -> None:
    name = r"$\frac{1}{0}$ <b> & $x^2$"
    panel = Panel(
        title=name,
        unit=name,
        lines=(Line(values=np.array([1.0, 2.0]), label=name, stroke=Stroke(colour=PAPER)),),
    )
    assert _texts(_svg([panel], np.array([10.0, 20.0]))).count(name) == 3


def test_the_same_picture_is_the_same_file() -> None:
    response = predict(closed_box())
    one, two = (_svg(response_panels(response), response.frequency) for _ in range(2))
    assert one == two


def test_a_picture_can_be_a_png() -> None:
    response = predict(closed_box())
    figure = draw_panels(response_panels(response), response.frequency, paper=True)
    assert rendered(figure, "png").startswith(b"\x89PNG\r\n\x1a\n")
