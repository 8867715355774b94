"""Everything a file can have wrong gets one clear line with the key and the place."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boxwright.errors import InputError
from boxwright.files import loads_brief, loads_design, loads_design_with_notes

DESIGN = """\
format = "boxwright-design/1"

[source]
voltage = "2.83 V"

[driver]
re = 3.4
bl = 11.5
mms = "62 g"
cms = "0.42 mm/N"
rms = 2.1
sd = "215 cm2"

[rear]
volume = "18 L"

[[opening]]
kind = "vent"
chamber = "rear"
diameter = "100 mm"
length = "150 mm"
"""

BRIEF = """\
format = "boxwright-brief/1"

[space]
width = "620 mm"
height = "190 mm"
depth = "400 mm"

[target]
reach = "32 Hz"
level = "102 dB"
"""


def refusal(text: str) -> str:
    read = loads_brief if "boxwright-brief" in text else loads_design
    with pytest.raises(InputError) as caught:
        read(text, place="box.toml")
    assert caught.value.exit_code == 2
    assert "\n" not in str(caught.value)
    return str(caught.value)


def changed(old: str, new: str, text: str = DESIGN) -> str:
    assert text.count(old) == 1
    return text.replace(old, new)


def test_the_texts_themselves_are_valid() -> None:
    assert loads_design(DESIGN).rear is not None
    assert loads_brief(BRIEF).target.reach == 32.0


def test_an_unknown_key_names_the_nearest_and_the_line() -> None:
    text = changed('"18 L"', '"18 L"\nq_laek = 7')
    assert refusal(text) == "unknown key `q_laek` in [rear] (box.toml, line 16); did you mean `q_leak`?"


@pytest.mark.parametrize(
    ("old", "new", "line", "parts"),
    [
        ('volume = "18 L"', 'volume = "18 L"\nvolum = 1', 16, ["unknown key `volum` in [rear]", "`volume`"]),
        ("[rear]", "[raer]", 14, ["unknown key `raer` in the file", "`rear`"]),
        ("diameter", "Diameter", 20, ["unknown key `Diameter` in [[opening]]", "`diameter`"]),
        ("diameter", '"diаmeter"', 20, ["unknown key", "U+0430", "CYRILLIC", "`diameter`"]),
        ("diameter", "fp", 20, ["unknown key `fp` in [[opening]]"]),
        ('"18 L"', '"18 cm2"', 15, ["volume", "18 cm2"]),
        ('"18 L"', '"18 litters"', 15, ["volume", "18 litters"]),
        ('"18 L"', '"18,5 L"', 15, ["volume", "decimal comma", '"18.5 L"']),
        ('"18 L"', '""', 15, ["volume", "empty"]),
        ('"18 L"', "0", 15, ["volume must be > 0 m³, got 0"]),
        ('"18 L"', "-0.02", 15, ["volume must be > 0 m³, got -0.02"]),
        ('"18 L"', '"-20 L"', 15, ['volume must be > 0 m³, got "-20 L"']),
        ('"18 L"', "nan", 15, ["volume must be a finite number, got nan"]),
        ('"18 L"', "inf", 15, ["volume must be a finite number, got inf"]),
        ('"18 L"', "1e400", 15, ["volume must be a finite number"]),
        ('"18 L"', '"1e400 L"', 15, ["volume"]),
        ('"18 L"', "1e-400", 15, ["volume must be > 0 m³"]),
        ('"18 L"', "1e300", 15, ["volume must be ≤ 1e+12 m³"]),
        ('"18 L"', "9" * 400, 15, ["volume must be a finite number"]),
        ('"18 L"', "true", 15, ["volume must be a number or a text with a unit, got true"]),
        ('"18 L"', "[18]", 15, ["volume must be a number or a text with a unit, got a list"]),
        ('"18 L"', "{ L = 18 }", 15, ["volume must be a number or a text with a unit, got a table"]),
        ('"18 L"', "1979-05-27", 15, ["volume must be a number or a text with a unit"]),
        ('"18 L"', '"１８ L"', 15, ["volume", "FULLWIDTH DIGIT ONE"]),
        ('"18 L"', '"\\u001b[31m18 L"', 15, ["volume", "\\u001b"]),
        ('"18 L"', '"' + "1" * 3000 + '"', 15, ["volume"]),
        ('volume = "18 L"', "fill = 0.2", 14, ["a chamber must have `volume`"]),
        ("re = 3.4", "", 6, ["re"]),
        ("re = 3.4", "re = 0", 7, ["re must be > 0 Ω, got 0"]),
        ("re = 3.4", "re = 3.4\ncount = 0", 8, ["count must be 1 to 64, got 0"]),
        ("re = 3.4", "re = 3.4\ncount = 65", 8, ["count must be 1 to 64, got 65"]),
        ("re = 3.4", "re = 3.4\ncount = 2.0", 8, ["count must be a whole number, got 2.0"]),
        ("re = 3.4", "re = 3.4\ncount = true", 8, ["count must be a whole number, got true"]),
        ("re = 3.4", 're = 3.4\ncount = 2\nwiring = "3s1p"', 9, ["wiring", "2"]),
        ("re = 3.4", 're = 3.4\nmounting = "push-push"', 8, ["mounting push-push", "even"]),
        ("re = 3.4", 're = 3.4\nmounting = "push-pul"', 8, ["mounting must be", '"push-push"']),
        (
            "re = 3.4",
            're = 3.4\nname = "' + "x" * 300 + '"',
            8,
            ["name must have at most 200 characters, got 300"],
        ),
        (
            "re = 3.4",
            're = 3.4\nname = "a\\u0007"',
            8,
            ["name must not contain control characters, got U+0007"],
        ),
        ("re = 3.4", "re = 3.4\nname = 5", 8, ["name must be a text, got 5"]),
        ("re = 3.4", "re = 3.4\nxmax = 0.02\nxmech = 0.01", 9, ["xmech must be at least xmax"]),
        ("re = 3.4", "re = 3.4\ncreep = 1", 8, ["creep"]),
        ("re = 3.4", "re = 3.4\nle = 0.001\ncoil.le = 0.001", 8, ["le must be given once"]),
        ("re = 3.4", "re = 3.4\nqts = 0.9\nqms = 0.5", 8, ["qts must be below qms"]),
        ('chamber = "rear"', 'chamber = "raer"', 19, ['chamber of this file (rear), got "raer"', '"rear"']),
        ('chamber = "rear"', 'to = "rear"', 19, ["to must be another place than chamber"]),
        ('chamber = "rear"', 'to = "attic"', 19, ['got "attic"']),
        ('kind = "vent"', 'kind = "vnet"', 18, ["kind must be passive or vent", '"vent"']),
        ('kind = "vent"', "kind = 5", 18, ["kind must be passive or vent, got 5"]),
        ('kind = "vent"', "", 17, ["[[opening]] must have `kind`"]),
        ("[[opening]]", "[opening]", 17, ["opening must be a list of tables", "[[opening]]"]),
        ("[rear]", "[[rear]]", 14, ["rear must be a table, got a list", "[rear]"]),
        ('length = "150 mm"', "", 17, ["[[opening]] must have `length`"]),
        ('length = "150 mm"', "length = 0", 21, ["length must be > 0 m, got 0"]),
        ('diameter = "100 mm"', 'width = "1 m"', 20, ["width must be left out of a round vent"]),
        ('diameter = "100 mm"', "", 17, ["a round vent must have `diameter`"]),
        (
            'diameter = "100 mm"',
            'diameter = 0.1\nends = "open"',
            21,
            ["ends must be the outer and the inner end"],
        ),
        ('diameter = "100 mm"', "diameter = 0.1\nwalls = 1", 21, ["walls must be 0 for a round vent"]),
        ('voltage = "2.83 V"', "max_power = 150", 4, ["max_power must come with `load`"]),
        ('voltage = "2.83 V"', 'voltage = "2.83 A"', 4, ["voltage", "2.83 A"]),
        ('format = "boxwright-design/1"', "", 1, ['"boxwright-design/1"', "got none"]),
        ("boxwright-design/1", "boxwright-design/2", 1, ['"boxwright-design/1"', '"boxwright-design/2"']),
        ('format = "boxwright-design/1"', "format = 1", 1, ['"boxwright-design/1"', "got 1"]),
        ('[source]\nvoltage = "2.83 V"', "placement = 5", 3, ["placement must be a table, got 5"]),
        ('[source]\nvoltage = "2.83 V"', 'placement = "hlaf"', 3, ["space must be free, half", '"half"']),
        (
            '[source]\nvoltage = "2.83 V"',
            "air.temperature = 20",
            3,
            ["temperature must have a unit", '"20 degC"'],
        ),
        ('[source]\nvoltage = "2.83 V"', 'air.temperature = "100 degC"', 3, ["temperature must be from"]),
        ('[source]\nvoltage = "2.83 V"', "air.density = 1.2", 3, ["density and speed_of_sound", "together"]),
        ('[source]\nvoltage = "2.83 V"', 'air = { pressure = 1e5, altitude = "1 m" }', 3, ["give one"]),
        ('[source]\nvoltage = "2.83 V"', "air.gamma = 1.4", 3, ["gamma must be left out"]),
    ],
)
def test_a_wrong_value_is_named_with_its_line(old: str, new: str, line: int, parts: list[str]) -> None:
    message = refusal(changed(old, new))
    assert f"(box.toml, line {line})" in message, message
    for part in parts:
        assert part in message


@pytest.mark.parametrize(
    ("extra", "line", "parts"),
    [
        (
            '[[chamber]]\nname = "a"\nvolume = 1\n[[chamber]]\nname = "a"\nvolume = 1',
            26,
            ["its own", '"a" twice'],
        ),
        ('[[chamber]]\nname = "rear"\nvolume = 1', 23, ['must not be "rear"']),
        ("[[chamber]]\nvolume = 1", 22, ["[[chamber]] must have `name`"]),
        ('[front]\nname = "x"\nvolume = 1', 23, ["name of [front]"]),
        ("[front]\nvolume = 1\nend = 'open'", 24, ["end must be left out"]),
        ("[front]\n[[front.segment]]\nlength = 1", 23, ["section once"]),
        ("[front]\n[[front.segment]]\nlength = 1\narea = 1\ndiameter = 1", 23, ["section once"]),
        (
            "[front]\nvolume = 1\n[[front.segment]]\nlength = 1\narea = 0.5",
            23,
            ["that of the segments, 500 L"],
        ),
        ("[placement.table]\nfrequency = [20, 10]\nlevel = [0, 0]", 23, ["must rise", "10 after 20 Hz"]),
        ("[placement.table]\nfrequency = [10, 20]\nlevel = [0]", 24, ["level must have as many values"]),
        ("[placement.table]\nfrequency = [10, 0]\nlevel = [0, 0]", 23, ["frequency must be > 0 Hz, got 0"]),
        ("[placement.table]\nfrequency = [\n10,\n'x']\nlevel = [0, 0]", 25, ["frequency"]),
        ("[placement.room]\nsize = [1, 2]\nsource = [0,0,0]\nlistener = [0,0,0]", 23, ["size must have 3"]),
        (
            "[placement.room]\nsize = [1, 2, 3, 4]\nsource = [0,0,0]\nlistener = [0,0,0]",
            23,
            ["size must have 3"],
        ),
        (
            "[placement.room]\nsize = [1, 2, 3]\nsource = [0,0,0]\nlistener = [0,2.5,0]",
            25,
            ["inside the room"],
        ),
        ("[driver.curves]\nbl = { polynomial = [0.5] }", 23, ["1 at rest"]),
        ("[driver.curves]\nbl = { table = [[-0.1, 0.5], [0.1, 0.5]] }", 23, ["travel 0 with ratio 1"]),
        ("[driver.curves]\nbl = { table = [[0, 1], [0, 1]] }", 23, ["must rise"]),
        ("[driver.curves]\nbl = { table = [[0, 1], [0.1]] }", 23, ["2 or more values"]),
        ("[driver.curves]\nbl = { table = [[0, 1], ['10 kg', 1]] }", 23, ["table", "10 kg"]),
        ("[driver.curves]\nbl = {}", 23, ["either `polynomial` or `table`"]),
        ("[driver.curves]\nkmp = {}", 23, ["unknown key `kmp` in [driver.curves]", "`kms`"]),
        ("[[source.filter]]\nkind = 'high-pass'", 22, ["[[source.filter]] must have `frequency`"]),
        ("[[source.filter]]\nkind = 'peak'\nfrequency = 30", 22, ["must have `gain`"]),
        ("[[source.filter]]\nkind = 'low-pass'\nfrequency = 30\ngain = 3", 25, ["gain must be left out"]),
        (
            "[[source.filter]]\nkind = 'low-pass'\nfamily = 'linkwitz-riley'\norder = 3\nfrequency = 30",
            25,
            ["order must be even"],
        ),
        ("[box]\nprofile = [[0,0],[1,1],[1,0],[0,1]]", 23, ["does not cross itself"]),
        ("[[opening]]\nkind = 'passive'\nfp = 20", 22, ["passive must be determined by its values"]),
        ("[[opening]]\n" * 70, 22, ["[[opening]] must have `kind`"]),
    ],
)
def test_wrong_tables_are_named_with_their_line(extra: str, line: int, parts: list[str]) -> None:
    message = refusal(f"{DESIGN}{extra}\n")
    assert f"(box.toml, line {line})" in message, message
    for part in parts:
        assert part in message


@pytest.mark.parametrize(
    ("old", "new", "line", "parts"),
    [
        ('depth = "400 mm"', "", 3, ["must have `depth` > 0"]),
        ('depth = "400 mm"', "depth = 0.4\nshape = 'wedge'", 3, ["must have `depth_top` > 0"]),
        ('depth = "400 mm"', "depth = 0.4\ndepth_top = 0.2", 7, ["depth_top must be left out"]),
        (
            'depth = "400 mm"',
            "depth = 0.4\nshape = 'sphere'",
            7,
            ["shape must be box, wedge, profile or volume"],
        ),
        ('level = "102 dB"', "", 8, ["[target] must have `level`"]),
        ('level = "102 dB"', "level = 102\nband_top = 20", 11, ["band_top must be above reach"]),
        ('level = "102 dB"', 'level = "102 Hz"', 10, ["level", "102 Hz"]),
        ('level = "102 dB"', "level = 102\n[limits]\nbudget = '320 EUR'", 12, ["budget"]),
        (
            'level = "102 dB"',
            "level = 102\n[limits]\nfamilies = ['vneted']",
            12,
            ["families must be", '"vented"'],
        ),
        ('level = "102 dB"', "level = 102\n[limits]\nfamilies = []", 12, ["at least one"]),
        (
            'level = "102 dB"',
            "level = 102\n[limits]\ndriver_faces = ['frond']",
            12,
            ["driver_faces", '"front"'],
        ),
        ('level = "102 dB"', "level = 102\n[limits]\ncones = 0", 12, ["cones must be 1 to 64"]),
        ('level = "102 dB"', "level = 102\n[parts]\ndrivers = 5", 12, ["drivers must be a list, got 5"]),
        (
            'level = "102 dB"',
            "level = 102\n[[sheet]]\nlength = 1\nwidth = 1",
            11,
            ["[[sheet]] must have `thickness`"],
        ),
        (
            'level = "102 dB"',
            "level = 102\n[[vent]]\nname='a'\ndiameter=1\n[[vent]]\nname='a'\ndiameter=1",
            15,
            ["its own", '"a" twice'],
        ),
        (
            'level = "102 dB"',
            "level=102\n[source]\nprotection='none'\n[[source.filter]]\nkind='high-pass'\nfrequency=20",
            12,
            ["protection must be"],
        ),
        ("boxwright-brief/1", "boxwright-design/1", 1, []),
    ],
)
def test_wrong_briefs_are_named_with_their_line(old: str, new: str, line: int, parts: list[str]) -> None:
    text = changed(old, new, BRIEF)
    with pytest.raises(InputError) as caught:
        loads_brief(text, place="box.toml")
    assert f"(box.toml, line {line})" in str(caught.value), str(caught.value)
    for part in parts:
        assert part in str(caught.value)


def test_of_several_problems_the_first_in_the_file_is_reported() -> None:
    broken = changed('"18 L"', "-1")
    assert "line 15" in refusal(broken)
    assert "line 4" in refusal(changed('"2.83 V"', "nan", broken))
    assert "line 15" in refusal(changed("length", "lenth", broken))
    late = changed('"18 L"', "-1", changed("[rear]", "[zzz]\na = 1\n[rear]"))
    assert "`zzz`" in refusal(late)


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("re = 3.4", "re = 3.4\ncount = 2", "2 drivers are taken as wired in parallel"),
        ("re = 3.4", "re = 3.4\nfs = 40", "fs is stated as 40.0 Hz"),
        ('voltage = "2.83 V"', '[[chamber]]\nname = "loft"\nvolume = 1', '"loft" is reached by no opening'),
        (
            'voltage = "2.83 V"',
            "[placement.table]\nfrequency = [10, 20]\nlevel = [0, 0]",
            "has no phase: taken as 0 throughout",
        ),
        ('voltage = "2.83 V"', '[air]\ntemperature = "-10 degC"', "extrapolated"),
        (
            'voltage = "2.83 V"',
            "[[opening]]\nkind = 'passive'\nmmp = 0.1\nfp = 20\nqmp = 8\nsp = 0.03\n"
            "added_mass_max = 0.1\nadded_mass = 0.2",
            "added_mass of 200 g is more than the passive takes, 100 g",
        ),
    ],
)
def test_choices_and_disagreements_become_notes(old: str, new: str, found: str) -> None:
    notes = loads_design_with_notes(changed(old, new), place="box.toml")[1]
    assert any(found in note and "box.toml, line" in note for note in notes), notes
    assert loads_design_with_notes(DESIGN)[1] == ()


_KEYS = (
    "format name air source driver rear front chamber opening placement box kind volume diameter re count table "
    "frequency level room size profile curves bl polynomial segment filter coil space target limits"
)
KEYS = st.sampled_from(_KEYS.split())
SCALARS = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(["18 L", "vent", "passive", "rear", "outside", "1 m", "half", "round", "slot"])
)
TREES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=6),
    max_leaves=25,
)


@given(st.dictionaries(KEYS, TREES, max_size=8), st.sampled_from(["design", "brief"]))
@settings(max_examples=200)
def test_any_tree_of_values_is_read_or_refused(tree: dict[str, object], sort: str) -> None:
    import tomlkit

    def without_none(value: object) -> object:
        if isinstance(value, dict):
            return {key: without_none(each) for key, each in value.items() if each is not None}
        if isinstance(value, list):
            return [without_none(each) for each in value if each is not None]
        return value

    tree["format"] = f"boxwright-{sort}/1"
    text = tomlkit.dumps(without_none(tree))
    try:
        (loads_design if sort == "design" else loads_brief)(text)
    except InputError as error:
        assert "line" in str(error)  # noqa: PT017


@given(st.data())
@settings(max_examples=200)
def test_any_damage_to_a_text_is_read_or_refused(data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(DESIGN)))
    end = data.draw(st.integers(start, min(len(DESIGN), start + 30)))
    piece = data.draw(
        st.text(max_size=8) | st.sampled_from(["[[", "]]", "=", '"""', "{", "'", "\n[rear]\n", "1e999"])
    )
    try:
        loads_design(DESIGN[:start] + piece + DESIGN[end:])
    except InputError as error:
        assert str(error)  # noqa: PT017
