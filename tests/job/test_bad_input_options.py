"""Options, outputs and files of parts that cannot be: one line each, exit code 2, nothing on stdout, nothing lost."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.support.boxes import passive_box
from tests.support.command import inside, refused

from boxwright.design import VentOpening
from boxwright.files import save_design

SHEET = ("fs=30", "re=4", "sd=210 cm2", "vas=40 L", "qms=4")


@pytest.fixture
def design(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    save_design(passive_box(), tmp_path / "box.toml")
    return tmp_path / "box.toml"


@pytest.mark.parametrize("verb", ["predict", "report"])
@pytest.mark.parametrize(
    "text", ["0", "-1", "nan", "inf", "1e400", "", "12,5", "1e-300", "1e300", "12 kg", "١٢ V", "12\nV"]
)
def test_voltages(design: Path, verb: str, text: str) -> None:
    line = inside(verb, design, "--voltage", text)
    refused(line, "oltage")
    assert "line" not in line.stderr  # the file's voltage is not to blame


@pytest.mark.parametrize(
    "text", ["", "abc", "0", "1e9", "nan", "inf", "1e400", "-5", ",", "10,", "1;2", "1e-5", "٣", "10 mm"]
)
def test_frequencies(design: Path, text: str) -> None:
    refused(inside("predict", design, "--frequencies", text), "--frequencies")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--points", "1e9"), 'whole number from 1 to 100000, got "1e9"'),
        (("--points", "abc"), "whole number"),
        (("--points", "9" * 5000), "whole number"),
        (("--points", "٣"), "whole number"),
        (("--from", "0"), "--from must lie between"),
        (("--to", "1e9"), "--to must lie between"),
        (("--to", "nan"), "--to must be a frequency"),
        (("--from", "20", "--to", "20"), "--from must be below --to"),
        (("--nonsense",), "no such option: --nonsense (boxwright predict)"),
        (("--voltag", "3"), "did you mean --voltage?"),
        (("--voltage",), "requires an argument"),
        (("more",), "boxwright predict --help"),
    ],
)
def test_ranges_and_words(design: Path, words: tuple[str, ...], expected: str) -> None:
    refused(inside("predict", design, *words), expected)


@pytest.mark.parametrize("text", ["10,10,10", "50,20"])
def test_order_and_repetition_do_not_matter(design: Path, text: str) -> None:
    assert inside("predict", design, "--csv", "--frequencies", text).exit_code == 0


@pytest.mark.parametrize(
    ("to", "expected"),
    [
        ("old.pdf", "--force"),
        ("folder.pdf", "got a folder"),
        ("none/x.pdf", "folder of the output must exist"),
        ("old.pdf/x.pdf", "must be a folder, got a file"),
        ("box.toml", "must end in .pdf or .html"),
        ("", "must have a name"),
        ("a\0.pdf", "must have a name"),
        ("a" * 300 + ".pdf", "too long"),
    ],
)
def test_outputs(design: Path, to: str, expected: str) -> None:
    (design.parent / "old.pdf").write_text("mine")
    (design.parent / "folder.pdf").mkdir()
    before = design.read_bytes()
    refused(inside("report", design, "--to", to), expected)
    assert (design.parent / "old.pdf").read_text() == "mine"
    assert design.read_bytes() == before
    assert sorted(each.name for each in design.parent.iterdir()) == ["box.toml", "folder.pdf", "old.pdf"]


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("volume", '"-3 L"', ("volume must be > 0 m³", "line")),
        ("volume", "nan", ("finite", "line")),
        ("volume", "1e400", ("finite", "line")),
        ("volume", '"18 kg"', ("unit of a mass", "line")),
        ("volume", '"18,5 L"', ("decimal comma", "line")),
        ("q_leak", "0", ("q_leak must be > 0", "line")),
    ],
)
def test_designs(design: Path, key: str, value: str, words: tuple[str, ...]) -> None:
    lines = [
        f"{key} = {value}" if line.startswith(f"{key} =") else line for line in design.read_text().split("\n")
    ]
    assert f"{key} = {value}" in lines
    design.write_text("\n".join(lines))
    for verb in ("predict", "report"):
        refused(inside(verb, design), *words)


def test_what_only_the_computation_finds_has_its_line_too(tmp_path: Path) -> None:
    path = tmp_path / "box.toml"
    short = VentOpening(diameter=0.075, length=0.1, flare=0.01)
    save_design(replace(passive_box(), openings=(short,)), path)
    lines = path.read_text().split("\n")
    at = next(number for number, line in enumerate(lines) if line.startswith("length ="))
    lines[at] = 'length = "1 mm"'
    path.write_text("\n".join(lines))
    for verb in ("predict", "report"):
        refused(inside(verb, path), "twice its flare", f"line {at + 1}")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("add", "driver", "name=X"), "would be enough"),
        (("add", "driver", "x"), "FIELD=VALUE"),
        (("add", "horn", "name=x"), "driver, passive, vent, amplifier, sheet"),
        (("add", "driver", "name=Q", *SHEET, "qes=nan"), "qes must be a ratio"),
        (("add", "driver", "name=Q", *SHEET, "qes=-1"), "qes must be > 0"),
        (("add", "driver", "name=Q", *SHEET, "qes=0,4"), 'write "0.4"'),
        (("add", "driver", "name=Q", *SHEET, "qts=8"), "qts must be below qms"),
        (("add", "driver", "name=Q", *SHEET, "qes=0.4", "price=12 EUR"), "no currency sign"),
        (("add", "driver", "name=Q", *SHEET, "qеs=0.4"), "CYRILLIC SMALL LETTER IE"),
        (("add", "driver", "name=Q", "name=R", *SHEET), "given once"),
        (("add", "driver", *SHEET, "qes=0.4"), "name must be given"),
        (("add", "driver", "name=a\x1b[31m", *SHEET, "qes=0.4"), "control character U+001B"),
        (("add", "driver", f"name={'n' * 300}", *SHEET, "qes=0.4"), "at most 120 characters"),
        (("add", "sheet", "name=s", "length=1", "width=0", "thickness=0.01"), "width must be > 0"),
        (("list", "horn"), "kind of part"),
        (("list", "driver", "--where", "fs"), "FIELD=RANGE"),
        (("list", "driver", "--where", "fs=30..20"), "from less to more"),
        (("list", "driver", "--where", "fs=nan.."), "fs must be a frequency"),
        (("list", "driver", "--where", "name=a"), 'field must be a number of a driver, got "name"'),
        (("list", "--where", "fs=20.."), "must go with a kind"),
        (("show", "nobody"), "boxwright parts list"),
        (("show", "\x1b[31m"), "\\u001b"),
        (("remove", "driver", "nobody"), 'got "nobody"'),
        (("export", "x.txt"), ".csv or .toml"),
        (("export", "none/x.csv"), "folder of the output must exist"),
    ],
)
def test_parts(words: tuple[str, ...], expected: str, tmp_path: Path) -> None:
    refused(inside("parts", *words, store=tmp_path / "s"), expected)
    assert list(tmp_path.iterdir()) == []


def test_find_takes_any_words(tmp_path: Path) -> None:
    for words in ('"; drop table part', "*", "a OR b", "x" * 10_000, "\0", ""):
        assert inside("parts", "find", words, "--no-examples", store=tmp_path / "s").exit_code == 0


@pytest.mark.parametrize(
    ("name", "content", "expected"),
    [
        ("a.csv", "part,name,fs\ndriver,X,abc\n", "line 2 left out: fs must be a frequency"),
        ("a.csv", "part,nаme\ndriver,X\n", "CYRILLIC SMALL LETTER A"),
        ("a.csv", "part,name,name\ndriver,X,Y\n", "twice"),
        ("a.csv", 'part,name\ndriver,"X\n', "not closed"),
        ("a.csv", "part,name\ndriver,\0\n", "zero byte"),
        ("a.csv", "", "headings"),
        ("a.toml", 'format = "x"', "boxwright-parts/1"),
        ("a.toml", "format = [[[", "TOML"),
        ("a.toml", "a = " + "[" * 5000, "deep"),
    ],
)
def test_tables_of_parts(name: str, content: str, expected: str, tmp_path: Path) -> None:
    path, store = tmp_path / name, tmp_path / "s"
    path.write_text(content)
    for words in (("import", path), ("check", path)):
        result = inside("parts", *words, store=store)
        assert result.exit_code == 2
        assert result.stdout == ""
        assert len(result.stderr.strip().split("\n")) == 1
    assert expected in inside("parts", "import", path, store=store).stderr
    assert not store.exists()


def test_files_of_100_megabytes_are_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "big.toml"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    for words in (("predict",), ("shortlist",), ("report",), ("parts", "check"), ("parts", "import")):
        refused(inside(*words, path, store=tmp_path / "s"), "at most")
