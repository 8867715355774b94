from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.support.command import answer, inside, refused

from boxwright.air import standard_air
from boxwright.parts import Driver
from boxwright.parts.store import Store

SHEET = ("name=Test 8", "fs=30 Hz", "qts=0.4", "qms=5", "vas=40 L", "sd=215 cm2", "re=3.4 ohm")


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite3"


def test_a_part_is_added_shown_found_and_removed(store: Path) -> None:
    added = answer(inside("parts", "add", "driver", *SHEET, "--json", store=store))
    assert added["derived"]["fs"] == pytest.approx(30.0, rel=1e-9)
    shown = answer(inside("parts", "show", "test 8", "--json", store=store))
    assert shown["given"]["vas"] == "40 L"
    assert shown["derived"]["vas"] == pytest.approx(0.040, rel=1e-9)
    with Store(store) as opened:
        kept = opened.get("driver", "Test 8")
    assert isinstance(kept, Driver)
    assert kept.qts == pytest.approx(0.4, rel=1e-9)
    assert kept.vas(standard_air()) == pytest.approx(0.040, rel=1e-9)
    found = answer(inside("parts", "find", "test", "--json", "--no-examples", store=store))
    assert [part["name"] for part in found] == ["Test 8"]
    refused(inside("parts", "add", "driver", *SHEET, store=store), "must be new")
    assert inside("parts", "add", "driver", *SHEET, "--replace", store=store).exit_code == 0
    assert inside("parts", "remove", "driver", "Test 8", store=store).exit_code == 0
    refused(inside("parts", "remove", "driver", "Test 8", store=store), "Test 8")


def test_ranges_take_units_and_open_ends(store: Path) -> None:
    def names(*where: str) -> set[str]:
        words = [word for text in where for word in ("--where", text)]
        return {p["name"] for p in answer(inside("parts", "list", "driver", *words, "--json", store=store))}

    everything = answer(inside("parts", "list", "driver", "--json", store=store))
    low = {p["name"] for p in everything if 20.0 <= p["derived"]["fs"] <= 25.0}
    assert low
    assert names("fs=20..25") == names("fs=20 Hz..25 Hz") == low
    long = {p["name"] for p in everything if p.get("xmax", 0.0) >= 0.012}
    assert names("xmax=12 mm..") == long
    assert names("fs=20..25", "xmax=12mm..") == low & long
    assert names("fs=..1") == set()


def test_lists_are_tables(store: Path) -> None:
    result = inside("parts", "list", store=store)
    assert result.exit_code == 0
    for heading in ("drivers", "passives", "vents", "amplifiers", "sheets"):
        assert heading in result.stdout
    assert "drivers" not in inside("parts", "list", "passive", store=store).stdout
    nothing = inside("parts", "find", "qqqq", store=store)
    assert (nothing.exit_code, nothing.stdout, nothing.stderr) == (0, "", "no such parts\n")


def test_check_names_the_disagreement_in_percent(store: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    # qts = qms·qes/(qms+qes) = 0.4348 by definition (IEC 60268-5, small1972direct), stated 8 % above
    sheet.write_text("name,fs,qms,qes,qts,vas,sd,re\nA,30 Hz,5,0.4761905,0.469565,40 L,215 cm2,3.4 ohm\n")
    said = answer(inside("parts", "check", sheet, "--json", store=store))
    values = {v["symbol"]: v for v in said["parts"][0]["values"]}
    assert values["qts"]["implied"] == pytest.approx(5 * 0.4761905 / 5.4761905, rel=1e-6)
    assert values["qts"]["percent"] == pytest.approx(8.0, abs=0.01)
    text = inside("parts", "check", sheet, store=store)
    assert text.exit_code == 0
    assert "+8.0 %" in text.stdout
    assert not store.exists()  # checking changes nothing


def test_import_keeps_the_good_rows_and_names_the_others(store: Path, tmp_path: Path) -> None:
    table = tmp_path / "parts.csv"
    table.write_text(
        "part,name,fs,qms,qes,vas,sd,re\n"
        "driver,Good,30 Hz,5,0.4,40 L,215 cm2,3.4 ohm\n"
        'driver,Comma,"30,5 Hz",5,0.4,40 L,215 cm2,3.4 ohm\n'
        "driver,Few,30 Hz,,,,,\n"
    )
    result = inside("parts", "import", table, "--json", store=store)
    said = json.loads(result.stdout)
    assert result.exit_code == 0
    assert said["added"] == ["Good"]
    assert [p["line"] for p in said["skipped"]] == [3, 4]
    assert "decimal comma" in said["skipped"][0]["message"]
    assert "line 3 left out" in result.stderr
    table.write_text("part,name,fs\ndriver,Few,30 Hz\n")
    assert inside("parts", "import", table, store=store).exit_code == 2


def test_export_and_import_give_the_same_parts(store: Path, tmp_path: Path) -> None:
    for ending in ("csv", "toml"):
        file, other = tmp_path / f"all.{ending}", tmp_path / f"{ending}.sqlite3"
        assert inside("parts", "export", file, "--examples", store=store).exit_code == 0
        refused(inside("parts", "export", file, "--examples", store=store), "--force")
        assert inside("parts", "import", file, store=other).exit_code == 0
        with Store(other) as own, Store(store, include_examples=True) as examples:
            for kind in ("driver", "passive", "vent", "amplifier", "sheet"):
                assert own.matching(kind, ("*",)) == examples.matching(kind, ("*",))


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("list", "gizmo"), "kind of part"),
        (("list", "driver", "--where", "fs"), "FIELD=RANGE"),
        (("list", "driver", "--where", "fss=1..2"), "nearest"),
        (("list", "driver", "--where", "fs=40..20"), "from less to more"),
        (("list", "driver", "--where", "fs=20 mm.."), "unit of a length"),
        (("list", "--where", "fs=20.."), "kind of part"),
        (("show", "Heron 2000"), "nearest"),
        (("add", "driver", "name"), "FIELD=VALUE"),
        (("add", "driver", "name=A", "name=B"), "once"),
        (("add", "driver", "name=A", "fs=30 Hz"), "fs"),
        (("add", "driver", "name=A", "colour=red"), "colour"),
        (("remove", "driver", "Heron 200"), "example"),
        (("import", "none.csv"), "none.csv"),
        (("check", "/dev/null/x.csv"), "x.csv"),
        (("export", "x.docx"), ".csv or .toml"),
    ],
)
def test_bad_input_gets_one_line(store: Path, words: tuple[str, ...], expected: str) -> None:
    refused(inside("parts", *words, store=store), expected)


def test_a_store_that_is_none_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "text.sqlite3"
    path.write_text("not a database, but long enough to be looked at as one would be" * 10)
    refused(inside("parts", "list", "driver", "--store", path), "database")
    refused(inside("parts", "list", "driver", "--store", tmp_path), "folder")
    refused(inside("parts", "list", "driver", "--store", ""), "must have a name")
