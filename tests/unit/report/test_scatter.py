from __future__ import annotations

import itertools
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from tests.support.boxes import closed_box, passive_box

from boxwright.brief import Brief, Space, Target
from boxwright.report.charts import rendered
from boxwright.report.picks import shortlist_text, story
from boxwright.report.scatter import draw_front, undominated
from boxwright.search.shortlist import Candidate, NearMiss, Rejection, RouteHere, Routes, Shortlist

points = st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), max_size=30)


@given(points)
def test_the_line_joins_just_the_points_that_none_beats(dots: list[tuple[int, int]]) -> None:
    """Against the definition, point by point."""
    found = {dots[i] for i in undominated(dots)}
    beaten = {p for p, q in itertools.permutations(dots, 2) if q[0] <= p[0] and q[1] <= p[1] and q != p}
    assert found == set(dots) - beaten


def _route(family: str, reach: float, *, fits: bool) -> RouteHere:
    return RouteHere(
        family=family, parts="Heron", fits=fits, why_not="" if fits else "too long", needs="nothing", air_speed=None,
        travel_used=None, volume_ratio=None, reach=reach, clean_level=101.0, price=118.0, weight=9.0, net_volume=0.02,
    )  # fmt: skip


def _candidate(family: str, litres: float, reach: float) -> Candidate:
    return Candidate(
        family=family, parts=f"{family} · $x$ <b>", design=passive_box(), outer_volume=0.04, inside_volume=0.03,
        net_volume=litres * 1e-3, tuning=33.0, added_mass=0.12, vent_length=None, vent_route="", high_pass=None,
        reach=reach, clean_level=103.2, binding="driver travel", binding_frequency=36.0, price=287.3, weight=12.6,
        group_delay=0.021, passive_ratio=2.9, layout=(),
    )  # fmt: skip


def _shortlist(*candidates: Candidate) -> Shortlist:
    routes = (_route("closed", 55.0, fits=False), _route("vented", 31.0, fits=True))
    return Shortlist(
        brief=Brief(name="B", space=Space(width=0.6, height=0.2, depth=0.4), target=Target(reach=32.0, level=102.0)),
        tried=1000, fitting=len(candidates), candidates=candidates,
        best={"smallest": 0} if candidates else {}, balanced=0 if candidates else None,
        weighting={"outer_volume": 1.0, "reach": 3.0},
        rejections=tuple(Rejection(reason=f"reason {n}", family="vented", count=100 - n) for n in range(20)),
        near_misses=(NearMiss(family="closed", limit="reach", relaxation=6.0, words="38 Hz instead of 32", parts=""),),
        routes=(Routes(driver="Heron", advice="port", routes=routes),), seconds=1.0,
    )  # fmt: skip


def test_picture_and_words_of_a_front() -> None:
    found = _shortlist(_candidate("passive", 26.0, 31.4), _candidate("vented", 30.0, 29.0))
    svg = rendered(draw_front(found)).decode()
    for words in ("balanced pick", "passive", "port", "closed", "meets the brief, 32.0 Hz or lower"):
        assert words in svg
    text = shortlist_text(found)
    for words in (
        "balanced (1)",
        "smallest (1)",
        "size 25 %",
        "reach 75 %",
        "passive · $x$ <b>",
        "38 Hz instead of 32",
    ):
        assert words in text
    # the first dozen reasons one by one, the other eight in one line: 88 + 87 + … + 81
    assert "reason 11" in text
    assert "reason 12" not in text
    assert f"{sum(range(81, 89))}" in text
    assert "Balanced" not in story(replace(found, balanced=None))


def test_an_empty_front_is_drawn_and_said() -> None:
    empty = _shortlist()
    assert "no box meets the brief" in rendered(draw_front(empty)).decode()
    assert "none can be built and meets the brief" in shortlist_text(empty)
    assert story(empty).startswith("No box meets this brief. 38 Hz instead of 32")
    bare = replace(empty, routes=(), near_misses=())
    assert rendered(draw_front(bare), "png").startswith(b"\x89PNG")
    assert "Ask for less" in story(bare)


def test_closed_boxes_have_a_picture_too() -> None:
    found = _shortlist(replace(_candidate("closed", 20.0, 31.0), design=closed_box()))
    assert "closed" in rendered(draw_front(found)).decode()
