"""An edit changes the values asked for and not one byte besides."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from boxwright.errors import InputError
from boxwright.files import edit_brief, edit_design, edit_design_text, loads_design

TEXT = """\
# a box for the shed
format = "boxwright-design/1"   # do not touch

notes = '''
[rear]  not a table
volume = 3 # not a key
'''

[driver]  # the red one
re = 3.4
bl    =   11.5   # measured
mms = "62 g"
cms = "0.42 mm/N"
rms = 2.1
sd = "215 cm2"

# what is behind it
[rear] # tight
volume = "18 L"   # net
q_leak = 7 # guessed

# first opening
[[opening]]
kind = "vent"
diameter = "100 mm"
length = "150 mm" # cut long

   # second opening
[[opening]]
kind='passive'
fp = "20 Hz"
qmp = 8
mmp = "95 g"
sp = "330 cm2"
added_mass = "120 g"
curves.kmp = { polynomial = [
    1.0, # at rest
    0.0, 2300.0 ] } # bent

[placement]
space = "half"
# the end"""

EDITS = [
    ("rear.volume", "20 L", '"18 L"', '"20 L"'),
    ("rear.volume", 0.02, '"18 L"', '"20 L"'),
    ("driver.bl", 12, "11.5 ", "12 "),
    ("driver.bl", 12.25, "11.5 ", '"12.25 T*m" '),
    ("opening.0.length", "14 cm", '"150 mm"', '"14 cm"'),
    ("opening.1.added_mass", 0.045, '"120 g"', '"45 g"'),
    ("opening.1.fp", 21, '"20 Hz"', "21"),
    ("rear.fill", 0.25, "q_leak = 7 # guessed\n", "q_leak = 7 # guessed\nfill = 0.25\n"),
    ("opening.0.count", 2, "# cut long\n", "# cut long\ncount = 2\n"),
    ("opening.1.facing", "down", "# bent\n", '# bent\nfacing = "down"\n'),
    ("driver.name", 'A "red" one', 'sd = "215 cm2"\n', 'sd = "215 cm2"\nname = "A \\"red\\" one"\n'),
    ("name", "Shed", "key\n'''\n", "key\n'''\nname = \"Shed\"\n"),
    ("rear.q_leak", None, "q_leak = 7 # guessed\n", ""),
    (
        "opening.1.curves.kmp",
        None,
        "curves.kmp = { polynomial = [\n    1.0, # at rest\n    0.0, 2300.0 ] } # bent\n",
        "",
    ),
    ("placement.distance", "2 m", 'space = "half"\n', 'space = "half"\ndistance = "2 m"\n'),
    ("source.voltage", 4.0, "# the end", '# the end\n\n[source]\nvoltage = "4 V"\n'),
    ("source.filter", None, "", None),
    (
        "driver.curves.bl",
        {"polynomial": [1.0, 0.0, -900.0]},
        'sd = "215 cm2"\n',
        'sd = "215 cm2"\ncurves.bl = { polynomial = [1, 0, -900] }\n',
    ),
]


@pytest.mark.parametrize(("key", "value", "old", "new"), [edit for edit in EDITS if edit[3] is not None])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_only_the_value_changes(
    key: str, value: object, old: str, new: str, newline: str, tmp_path: Path
) -> None:
    assert TEXT.count(old) == 1
    path = tmp_path / "box.toml"
    path.write_bytes(TEXT.replace("\n", newline).encode())
    design = edit_design(path, {key: value})
    after = path.read_bytes().decode()
    assert after == TEXT.replace(old, new).replace("\n", newline)
    assert loads_design(after) == design
    assert list(tmp_path.iterdir()) == [path]


def comments(text: str) -> list[str]:
    """The comments of a text by an independent parser that keeps them."""
    found: list[str] = []

    def walk(container: object) -> None:
        for _, item in getattr(container, "body", []):
            if isinstance(item, tomlkit.items.Whitespace | tomlkit.items.Null):
                continue
            trivia = getattr(item, "trivia", None)
            if trivia is not None and trivia.comment:
                found.append(trivia.comment)
            walk(getattr(item, "value", None) if hasattr(item, "value") else item)
            for table in getattr(item, "body", []) if not hasattr(item, "value") else []:
                walk(table.value)

    walk(tomlkit.parse(text))
    return found


@given(
    st.lists(
        st.sampled_from([edit for edit in EDITS if edit[1] is not None]), min_size=1, unique_by=lambda e: e[0]
    )
)
def test_many_edits_at_once_keep_every_comment(edits: list[tuple[str, object, str, str]]) -> None:
    after = edit_design_text(TEXT, {key: value for key, value, _, _ in edits})
    assert len(comments(TEXT)) >= 8
    assert sorted(comments(after)) == sorted(comments(TEXT))
    before_values, after_values = tomllib.loads(TEXT), tomllib.loads(after)
    touched = {key.split(".")[0] for key, _, _, _ in edits}
    for key in before_values.keys() - touched:
        assert after_values[key] == before_values[key]


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"rear.volum": 1}, "did you mean `volume`"),
        ({"opening.7.count": 1}, "number 7 must exist"),
        ({"opening.0": {}}, "must exist in the format"),
        ({"": 1}, "must exist in the format"),
        ({"rear.volume": "18 cm2"}, "18 cm2.*as changed"),
        ({"rear.volume": -1}, "volume must be > 0"),
        ({"rear.volume": float("nan")}, "finite"),
        ({"rear.volume": object()}, "must be a number, text, list or mapping, got object"),
        ({"rear.volume": None}, r"\[rear\]|chamber must have `volume`"),
        ({"rear.fill": None}, "line of its own"),
        ({"opening.1.curves.kmp.polynomial": None}, "line of its own"),
        ({"opening.1.curves.kmp.table": [[0.0, 1.0]]}, "changed as a whole"),
        ({"opening.0.chamber": "attic"}, "attic"),
        ({"format": "boxwright-brief/1"}, "format must be"),
        ({"rear.volume": "20 L", "driver.re": 0}, "re must be > 0"),
    ],
)
def test_a_refused_edit_leaves_the_file_alone(changes: dict[str, object], found: str, tmp_path: Path) -> None:
    path = tmp_path / "box.toml"
    path.write_text(TEXT)
    with pytest.raises(InputError, match=found):
        edit_design(path, changes)
    assert path.read_text() == TEXT
    assert list(tmp_path.iterdir()) == [path]


def test_a_failed_write_leaves_the_file_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "box.toml"
    path.write_text(TEXT)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(InputError, match="disk is full"):
        edit_design(path, {"rear.volume": "20 L"})
    assert path.read_text() == TEXT
    assert list(tmp_path.iterdir()) == [path]


def test_a_list_can_be_changed_by_one_element_and_inside_braces() -> None:
    after = edit_design_text(TEXT, {"opening.1.curves.kmp.polynomial": [1.0, 0.0, 99.0]})
    assert "polynomial = [1, 0, 99] } # bent" in after


def test_a_brief_is_edited_too(tmp_path: Path) -> None:
    path = tmp_path / "brief.toml"
    text = (
        'format = "boxwright-brief/1"\n[space]\nwidth = 0.6 # wide\nheight = 0.2\ndepth = 0.4\n'
        "[target]\nreach = 32\nlevel = 100\n"
    )
    path.write_text(text)
    assert edit_brief(path, {"space.width": "62 cm", "limits.families": ["closed"]}).space.width == 0.62
    assert path.read_text() == text.replace("0.6 #", '"62 cm" #') + '\n[limits]\nfamilies = ["closed"]\n'
