"""Briefs that contradict themselves, ask for the impossible or come from someone who means ill."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.support.boxes import BRIEF
from tests.support.command import answer, inside, refused

SPACE = 'width = "620 mm"\nheight = "190 mm"\ndepth = "400 mm"'
REACH, LEVEL, BUDGET = 'reach = "36 Hz"', 'level = "98 dB"', "budget = 320"
SHEET = 'sheet = "Birch ply 15"'


def changed(tmp_path: Path, old: str, new: str) -> Path:
    assert BRIEF.count(old) == 1
    path = tmp_path / "brief.toml"
    path.write_text(BRIEF.replace(old, new))
    return path


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (REACH, 'reach = "120 Hz"', ("band_top must be above reach (120 Hz), got 100 Hz", "line")),
        (REACH, "reach = 1e-9", ("reach must be from 1 to 1000 Hz, got 1e-09 Hz", "line 10")),
        (REACH, "reach = 1e400", ("reach must be a finite number", "line 10")),
        (REACH, REACH + "\nband_top = 1e9", ("band_top must be from 1 to 10000 Hz", "line 11")),
        (REACH, REACH + "\ncontent_from = 50", ("content_from must not be above reach (36 Hz)", "line 11")),
        (REACH, REACH + "\ncontent_from = 1e-9", ("content_from must be ≥ 0.1 Hz", "line 11")),
        (LEVEL, 'level = "300 dB"', ("level must be ≤ 200 dB", "line 11")),
        (LEVEL, 'level = "98 W"', ("unit of a power", "line 11")),
        (LEVEL, LEVEL + '\nplacement = "moon"', ("free, half, quarter or eighth", "line 12")),
        (BUDGET, "budget = 0", ("budget must be > 0, got 0", "line 18")),
        (BUDGET, "budget = -1", ("budget must be > 0, got -1", "line 18")),
        (BUDGET, 'budget = "320 EUR"', ("no currency sign", "line 18")),
        (BUDGET, BUDGET + "\ncones = 0", ("cones must be 1", "line 19")),
        (BUDGET, BUDGET + "\ncones = 64", ("cones must be 1 to 4, got 64", "line 19")),
        (BUDGET, BUDGET + "\npassives = 0", ("passives must be 1 to 8, got 0", "line 19")),
        (BUDGET, BUDGET + "\nfamilies = []", ("families must name at least one", "line 19")),
        (BUDGET, BUDGET + '\nfamilies = ["horn"]', ("closed, vented, passive or bandpass", "line 19")),
        (BUDGET, BUDGET + '\ndriver_faces = ["inside"]', ('got "inside"', "line 19")),
        (BUDGET, BUDGET + "\nq_leak = inf", ("q_leak must be a finite number", "line 19")),
        (SPACE, "width = 0.62\nheight = 0.02\ndepth = 0.4", ("walls of 14.7 mm leave nothing", "line 4", "thinner")),
        (SPACE, "width = 1e-3\nheight = 1e-3\ndepth = 1e-3", ("width must be 5 mm to 20 m", "line 5")),
        (SPACE, "width = 300\nheight = 3\ndepth = 3", ("width must be 5 mm to 20 m, got 300 m", "line 5")),
        (SPACE, 'shape = "sphere"', ("shape must be box, wedge, profile or volume", "line 5")),
        (SPACE, 'shape = "volume"\nnet_volume = 0', ("net_volume must be > 0 m³", "line 6")),
        (SPACE, 'shape = "volume"\nnet_volume = 1e6', ("5 mm to 20 m", "line 4")),
        (
            SPACE,
            'shape = "wedge"\nwidth = 0.6\nheight = 0.4\ndepth = 0.3\ndepth_top = 1e-6',
            ("depth_top must be 5 mm", "line 9"),
        ),
        (
            SPACE,
            'shape = "profile"\nwidth = 0.6\nprofile = [[0, 0], [1, 1], [1, 0], [0, 1]]',
            ("does not cross itself", "line 7"),
        ),
        (
            SPACE,
            'shape = "profile"\nwidth = 0.6\nprofile = [[0,0],[0.4,0],[0.4,0.3],[0.2,1e-7],[0,0.3]]',
            ("into 2 rooms", "line 4"),
        ),
        ('drivers = ["Heron 200"]', 'drivers = ["Nobody*"]', ('got "Nobody*"',)),
        (SHEET, 'sheet = "none"', ('got "none"',)),
        (SHEET, SHEET + "\nsheet = 1", ("a key is given twice", "line 26")),
        ("reach =", "rеach =", ("CYRILLIC SMALL LETTER IE", "line 10")),
        ('load = "4 ohm"', "", ("add load", "line 14")),
        ('load = "4 ohm"', 'load = "4 ohm"\nprotection = "maybe"', ("none, given or chosen", "line 16")),
        (
            LEVEL,
            LEVEL + "\nplacement = { room = { size = [3, 2, 2], source = [0, 0, 0], listener = [0, 0, 0] } }",
            ("listener must be ≥ 0.1 m", "line 12"),
        ),
        (SHEET, SHEET + "\n[air]\ndensity = 1e-12\nspeed_of_sound = 1e-12", ("density must be", "line 27")),
    ],
)  # fmt: skip
def test_a_brief_that_cannot_be_is_refused_with_its_line(
    old: str, new: str, words: tuple[str, ...], tmp_path: Path
) -> None:
    refused(inside("shortlist", changed(tmp_path, old, new)), *words)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        (BUDGET, "budget = 1e-3", "over budget"),
        ('weight = "16 kg"', 'weight = "1 mg"', "over the weight limit"),
        (BUDGET, BUDGET + "\ndriver_faces = []", "no place on the faces"),
        (BUDGET, BUDGET + '\nedge = "1 m"', "no place on the faces"),
        (SPACE, 'shape = "volume"\nnet_volume = 1e-9', "leave no air"),
        ('load = "4 ohm"', 'load = "1 Mohm"', "below what the amplifier is rated for"),
    ],
)
def test_what_is_possible_but_hopeless_is_an_empty_shortlist_with_reasons(
    old: str, new: str, reason: str, tmp_path: Path
) -> None:
    said = answer(inside("shortlist", changed(tmp_path, old, new), "--json"))
    assert said["candidates"] == []
    assert any(reason in rejection["reason"] for rejection in said["rejections"])


def test_no_drivers_is_said(tmp_path: Path) -> None:
    result = inside("shortlist", changed(tmp_path, 'drivers = ["Heron 200"]', "drivers = []"))
    assert result.exit_code == 0
    assert "no driver is offered" in result.stdout


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--save", "abc"), '--save must be a whole number of 1 or more, got "abc"'),
        (("--save", "1.5"), "whole number"),
        (("--save", "-1"), "whole number"),
        (("--workers", "0"), "--workers must be a whole number from 1 to 256"),
        (("--workers", "-3"), "from 1 to 256"),
        (("--workers", "99999"), "from 1 to 256"),
        (("--most", "0"), "--most must be a whole number of 1 or more"),
        (("--cluster", ""), "--cluster must be the address"),
        (("--cluster", "nonsense"), "write it like tcp://host:8786"),
        (("--cluster", "tcp://localhost:99999"), "address of a scheduler"),
        (("--store", ""), "got a folder"),
        (("--store", "/dev/null"), "ordinary file"),
        (("--save", "1", "--to", ""), "must have a name"),
        (("--save", "1", "--to", "none/c.toml"), "folder of the output must exist"),
        (("--save", "1", "--to", "/dev/full", "--force"), "ordinary file"),
    ],
)
def test_options_that_cannot_be(words: tuple[str, ...], expected: str, tmp_path: Path) -> None:
    path = tmp_path / "brief.toml"
    path.write_text(BRIEF)
    refused(inside("shortlist", path, *words), expected)
    assert [each.name for each in tmp_path.iterdir()] == ["brief.toml"]


def test_the_brief_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "brief.toml"
    path.write_text(BRIEF)
    link = tmp_path / "link.toml"
    link.symlink_to(path)
    for to in (path, link):
        refused(
            inside("shortlist", path, "--save", "1", "--to", to, "--force"),
            "must not be the file that is read",
        )
    assert path.read_text() == BRIEF
