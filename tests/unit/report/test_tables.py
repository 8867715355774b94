from __future__ import annotations

import csv
import io

import numpy as np
from tests.support.boxes import closed_box, passive_box, vented_box

from boxwright.acoustics.response import predict
from boxwright.report.layout import columns, wrapped
from boxwright.report.tables import READOUT, curve_csv, readout, response_text


def test_columns_line_up_whatever_the_letters() -> None:
    table = columns(("name", "Hz"), [["日本", "1.0"], ["Ångström", "100.0"], ["e\u0301", "20"]]).split("\n")
    assert table[2] == "日本        1.0"  # two letters of double width, then a column of eight
    assert table[3] == "Ångström  100.0"
    assert table[4].endswith("   20")


def test_a_column_that_says_nothing_is_left_out() -> None:
    assert columns(("a", "", "b"), [["1", "", "2"]], left=()).split("\n")[0] == "a  b"


def test_control_characters_do_not_reach_the_terminal() -> None:
    assert "\x1b" not in columns(("a",), [["\x1b[2J"]])
    assert "\x1b" not in wrapped("\x1b[2J")


def test_readout_frequencies_are_the_preferred_ones() -> None:
    """ISO 266:1997, table 1, third-octave series (from memory): within 1.3 % of 10^(n/10)."""
    exact = 10.0 ** (np.arange(10, 24) / 10.0)
    assert np.allclose(READOUT, exact, rtol=0.013)


def test_readout_shows_the_curves() -> None:
    response = predict(passive_box(), frequency=READOUT)
    lines = readout(response).split("\n")
    assert len(lines) == 2 + len(READOUT)
    row = lines[2 + READOUT.index(31.5)].split()
    at = READOUT.index(31.5)
    assert row[0] == "31.5"
    assert row[1] == f"{response.level[at]:.1f}"
    assert f"{response.driver_travel[at] * 1e3:.2f}" in row
    assert response.openings[0].travel is not None
    assert f"{response.openings[0].travel[at] * 1e3:.2f}" in row


def test_csv_reads_back_to_the_last_bit() -> None:
    for design in (passive_box(), vented_box(), closed_box()):
        response = predict(design)
        rows = list(csv.DictReader(io.StringIO(curve_csv(response))))
        assert [float(row["frequency_hz"]) for row in rows] == response.frequency.tolist()
        assert [float(row["level_db"]) for row in rows] == response.level.tolist()
        assert [row["binding"] for row in rows] == list(response.binding)
        for number, opening in enumerate(response.openings, 1):
            kind = "travel_m" if opening.travel is not None else "air_speed_m_s"
            curve = opening.travel if opening.travel is not None else opening.air_speed
            assert curve is not None
            assert [float(row[f"{opening.kind}_{number}_{kind}"]) for row in rows] == curve.tolist()


def test_the_whole_text_stays_within_the_page() -> None:
    design = vented_box("\x1b[31m" + "long name " * 8)
    response = predict(design)
    text = response_text(design, response, predict(design, frequency=READOUT), notes=("a note",))
    assert "\x1b" not in text
    assert "· a note" in text
    body = text.split("\n")[1:]
    assert max(len(line) for line in body) <= 100
