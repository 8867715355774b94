"""The document holds whatever names a file brings, and every number it shows is the response's."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from html.parser import HTMLParser
from importlib import resources
from xml.etree import ElementTree as ET

import pytest
from tests.support.boxes import closed_box, driver, passive, passive_box, vented_box

from boxwright.acoustics.response import predict
from boxwright.design import Chamber, PassiveOpening, Room, Source
from boxwright.parts import Coil
from boxwright.report.cautions import cautions
from boxwright.report.document import PDF_LETTERS, report_of, to_pdf
from boxwright.report.page import to_html
from boxwright.report.parameters import groups
from boxwright.report.sources import sources_of

HOSTILE = (
    '#panic("stop")',
    '#read("/etc/passwd")',
    "*bold* _it_ $x^2/0$ @none <label> = head",
    r"\u{0} \ // /* ``` #{",
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "\"' & ]]> --> </style></title>",
    "日本語 🎺 \u202e reversed",
    "x" * 120,
)


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text += data


def _named(name: str):
    design = passive_box(name)
    return replace(
        design,
        driver=driver(name),
        openings=(PassiveOpening(passive=passive(name), count=2, added_mass=0.12),),
        box=replace(design.box, sheet=name),
        rear=replace(design.rear, name=name),
    )


@pytest.mark.parametrize("name", HOSTILE)
def test_pdf_takes_names_as_text(name: str) -> None:
    made = to_pdf(report_of(_named(name), letters=PDF_LETTERS, notes=(name,)))
    assert made.startswith(b"%PDF-1.")
    title = made[made.index(b"<dc:title>") : made.index(b"</dc:title>")].decode()
    inside = "".join(
        ET.fromstring(  # noqa: S314 our own
            title.replace("dc:", "").replace("rdf:", "").replace("xml:", "") + "</title>"
        ).itertext()
    )
    assert inside == report_of(_named(name)).title


@pytest.mark.parametrize("name", HOSTILE)
def test_page_takes_names_as_text(name: str) -> None:
    report = report_of(_named(name), notes=(name,))
    page = _Page()
    page.feed(to_html(report).decode())
    assert "script" not in page.tags
    assert "img" not in page.tags
    assert not [key for key, _ in page.attributes if key.startswith("on")]
    assert page.tags.count("title") == 2  # the page's, and the picture's for those who cannot see it
    assert page.text.count(report.title) >= 4


def test_page_fetches_nothing() -> None:
    page = _Page()
    page.feed(to_html(report_of(vented_box())).decode())
    policy = [
        value for key, value in page.attributes if key == "content" and value and "default-src" in value
    ]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'; img-src data:"]
    links = [value or "" for key, value in page.attributes if key in {"src", "href", "xlink:href"}]
    assert all(link.startswith("#") for link in links)


def test_report_shows_what_predict_says() -> None:
    design = passive_box()
    report, response = report_of(design, voltage=12.0), predict(design, voltage=12.0)
    assert {f.name: f.value for f in report.figures}["Tuning"] == f"{response.tuning:.1f} Hz"
    assert "At 12.0 V" in report.charts[0].caption
    assert set(response.warnings) <= set(report.notes)


def test_a_design_without_a_name_gets_words() -> None:
    assert report_of(closed_box("")).title == "A box without a name"


def test_sources_are_those_used() -> None:
    keys = {name: {s.key for s in sources_of(d)} for name, d in
            (("closed", closed_box()), ("vented", vented_box()), ("passive", passive_box()))}  # fmt: skip
    assert "small1972closed" in keys["closed"]
    assert not keys["closed"] & {"small1974", "small1973vented", "stinson1991"}
    assert {"small1973vented", "stinson1991", "salvatti2002"} <= keys["vented"]
    assert "small1974" in keys["passive"]
    assert "leach2002" not in keys["passive"]


def test_every_source_that_can_be_cited_is_in_the_list() -> None:
    listed = tomllib.loads((resources.files("boxwright") / "data" / "references.toml").read_text("utf-8"))
    room = Room(size=(4.0, 3.0, 2.4), source=(0.1, 0.1, 0.1), listener=(2.0, 1.5, 1.2))
    everything = replace(
        vented_box(),
        driver=replace(driver(), coil=Coil(le=1e-4, k=0.02, l2=1e-3, r2=5.0), creep=0.1),
        placement=replace(vented_box().placement, room=room),
    )
    cited = [*sources_of(everything), *sources_of(passive_box()), *sources_of(closed_box())]
    assert {s.key for s in cited} <= set(listed)
    assert {"leach2002", "iec62458", "knudsen1993", "kuttruff", "morse1968"} <= {s.key for s in cited}


def test_cautions_stand_where_they_apply() -> None:
    loud = passive_box()
    about = [c.about for c in cautions(loud, predict(loud))]
    assert about == ["Hearing", "Test signals", "Wiring", "Wood", "Glue", "Weight"]
    small = replace(
        closed_box(),
        driver=replace(driver(), xmax=None, xmech=None, pmax=None),
        source=Source(voltage=0.05),
        rear=Chamber(volume=0.002),
        box=None,
    )
    about = [c.about for c in cautions(small, predict(small))]
    assert "Hearing" not in about
    assert "Wiring" not in about
    assert "Weight" not in about


def test_parameters_show_every_part() -> None:
    titles = [group.title for group in groups(passive_box())]
    assert titles[:2] == ["Driver: Heron", "Passive: 2 × Moth"]
    rows = {row.symbol: row.value for row in groups(passive_box())[0].rows}
    assert rows["bl"] == "9.20 T·m"
    assert rows["xmax"] == "14.0 mm"
