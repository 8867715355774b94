"""Parts from and to files: exact both ways, and nothing a file holds raises anything but InputError."""

from __future__ import annotations

import os
import resource
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boxwright.errors import InputError
from boxwright.parts import Amplifier, Body, Coil, Curve, Curves, Driver, Passive, Sheet, VentStock
from boxwright.parts.exchange import export_parts, import_parts, to_csv, to_toml
from boxwright.parts.fields import KINDS, Part
from boxwright.parts.reading import known_fields, read_parts
from boxwright.parts.store import Store, open_store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "parts.sqlite3") as opened:
        yield opened


def _file(folder: Path, text: str | bytes, name: str = "parts.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


# reading

# The synthetic driver whose Thiele-Small values were computed apart from this package (closed forms, eight
# digits) from Re 5.6 Ω, Bl 8.5 T·m, Mms 32 g, Cms 0.75 mm/N, Rms 1.6 N·s/m, Sd 215 cm².
FS, QMS, QES, QTS = 32.48736672, 4.08248290, 0.50628439, 0.45042540


@pytest.mark.parametrize(
    "text",
    [
        "name,re,bl,mms,cms,rms,sd\nA,5.6,8.5,0.032,0.00075,1.6,0.0215\n",
        "Name;Re [ohm];BL (T*m);Mms [g];Cms [mm/N];Rms;Sd [cm2]\nA;5.6;8.5;32;0.75;1.6;215\n",
        "name\tre\tbl\tmms\tcms\trms\tsd\nA\t5.6 Ω\t8.5 N/A\t32 g\t750 µm/N\t1.6 kg/s\t215 cm²\r\n",
        "\ufeff\n\nNAME, RE ,bl,Mms [kg],Cms [mm/N],rms,sd [cm2],,\n\nA, 5.6 ,8.5,32 g,0.75,1.6,215,,\n",
        '"name","re","bl","mms","cms","rms","sd"\n"A","5.6","8.5","32 g","0.75 mm/N","1.6","215 cm2"',
        "part,name,re,bl,mms,cms,rms,sd\ndriver,A,5.6,8.5,0.032,0.00075,1.6,0.0215\n",
        f"name,re,bl,mms [g],fs,qms,sd\nA,5.6,8.5,32,{FS},{QMS},0.0215\n",
        f"name,re,qes,mms [g],fs [Hz],qts,sd [cm2]\nA,5.6,{QES},32,{FS},{QTS},215\n",
    ],
)
def test_headings_units_and_delimiters(tmp_path: Path, text: str) -> None:
    parts, problems = read_parts(_file(tmp_path, text))
    assert problems == ()
    (read,) = parts
    assert read.warnings == ()
    assert isinstance(read.part, Driver)
    want = {"re": 5.6, "bl": 8.5, "mms": 0.032, "cms": 0.75e-3, "rms": 1.6, "sd": 0.0215}
    for name, value in want.items():
        assert getattr(read.part, name) == pytest.approx(value, rel=2e-7), name


def test_a_row_that_cannot_be_read_is_reported_and_the_rest_kept(tmp_path: Path, store: Store) -> None:
    text = (
        "name,mmp [g],cmp [mm/N],rmp,sp [cm2],notes\n"
        "Good,52,1.2,1.0,219,\n"
        'Two lines,52,1.2,1.0,219,"first\nsecond"\n'
        "Comma,52,1.2,1.0,219,\n"
        "Short,52,1.2\n"
        '"Word",heavy,1.2,1.0,219,\n'
        '"Decimal","52,5",1.2,1.0,219,\n'
        "Unit,52 Hz,1.2,1.0,219,\n"
        "NaN,nan,1.2,1.0,219,\n"
        "Inf,inf,1.2,1.0,219,\n"
        "Huge,1e400,1.2,1.0,219,\n"
        "Minus,-52,1.2,1.0,219,\n"
        "Zero,0,1.2,1.0,219,\n"
        "Few,52,,,219,\n"
        ",52,1.2,1.0,219,\n"
        "GOOD,53,1.2,1.0,219,\n"
        "Long,52,1.2,1.0,219,,,,5\n"
        "Last,53,1.2,1.0,219,\n"
    )
    report = import_parts(store, _file(tmp_path, text))
    assert report.added == ("Good", "Two lines", "Comma", "Last")
    assert report.replaced == ()
    said = {problem.line: problem.message for problem in report.skipped}
    wanted = {
        6: "must have 6 cells",
        7: "mmp must be a mass",
        8: "decimal comma",
        9: "unit of",
        10: "mmp must be",
        11: "mmp must be",
        12: "outside the range",
        13: "mmp must be > 0",
        14: "mmp must be > 0",
        15: "would be enough",
        16: "name must be given",
        17: "as in line 2",
        18: "got 9",
    }
    assert sorted(said) == sorted(wanted)
    for line, words in wanted.items():
        assert words in said[line], (line, said[line])
    assert store.names("passive") == ("Comma", "Good", "Last", "Two lines")
    entry = store.entry("passive", "good")
    assert entry.given["mmp"] == "52 g"
    assert entry.provenance.endswith("parts.csv, line 2")
    assert any("same parameters as Good" in warning for warning in report.warnings)


def test_duplicates_in_the_store(tmp_path: Path, store: Store) -> None:
    path = _file(tmp_path, "name,power,load\nAmp,100,4\n")
    assert import_parts(store, path).added == ("Amp",)
    again = _file(tmp_path, "name,power,load\nAMP,200,4\nOther,50,8\n")
    report = import_parts(store, again)
    assert report.added == ("Other",)
    assert "the store has already" in report.skipped[0].message
    assert store.amplifiers(["amp"])[0].power == 100
    report = import_parts(store, again, replace=True)
    assert report.replaced == ("AMP", "Other")
    assert store.amplifiers(["amp"])[0].power == 200


def test_a_data_sheet_that_disagrees_with_itself_is_a_warning(tmp_path: Path, store: Store) -> None:
    # fs stated 20 % above what mms and cms give
    text = f"name,re,bl,mms [g],cms [mm/N],rms,sd [cm2],fs\nA,5.6,8.5,32,0.75,1.6,215,{1.2 * FS}\n"
    report = import_parts(store, _file(tmp_path, text))
    assert report.added == ("A",)
    assert any(warning.startswith("A: fs is stated as 39.0 Hz") for warning in report.warnings)


def test_which_kind_of_part(tmp_path: Path) -> None:
    assert isinstance(
        read_parts(_file(tmp_path, "name,diameter\nT,0.1\n"), kind="vents")[0][0].part, VentStock
    )
    with pytest.raises(InputError, match="kind of part must be said") as caught:
        read_parts(_file(tmp_path, "name,price\nT,1\n"))
    assert caught.value.place.endswith("line 1")
    mixed = (
        "part,name,power,load,length,width,thickness\n"
        "amplifier,A,100,4,,,\n"
        "Sheet,S,,,2.5,1.25,0.018\n"
        "horn,H,,,,,\n"
        ",N,1,1,,,\n"
    )
    parts, problems = read_parts(_file(tmp_path, mixed))
    assert [type(read.part) for read in parts] == [Amplifier, Sheet]
    assert [problem.line for problem in problems] == [4, 5]
    parts, problems = read_parts(_file(tmp_path, mixed), kind="sheet")
    assert [type(read.part) for read in parts] == [Sheet]
    wrong = "part,name,power,load,sd\namplifier,A,100,4,0.02\n"
    assert "sd" in read_parts(_file(tmp_path, wrong))[1][0].message


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_known_field_is_a_heading(tmp_path: Path, kind: str) -> None:
    text = ",".join(known_fields(kind)) + "\n"
    assert read_parts(_file(tmp_path, text), kind=kind) == ((), ())


@pytest.mark.parametrize(
    ("text", "words", "line"),
    [
        ("", "empty file", 0),
        (" \n\n", "empty file", 0),
        ("name,re,re\n", "twice", 1),
        ("name,sd [cm2],SD (mm2)\n", "twice", 1),
        ("\nname,re,fz,qts,vas,sd\nA,1,2,3,4,5\n", 'got "fz"', 2),
        ("name,mms [cm2],fs\nA,1,2\n", "unit of an area", 1),
        ("name [mm],mms,fs\nA,1,2\n", "must have no unit", 1),
        ("name,[g],fs\n", "heading must be", 1),
        ("name,,fs\n", "heading must be", 1),
        ('name,fs\n"A,30\nB,40\n', "could not be read", 3),
        ('name,fs\n"A"x,30\n', "could not be read", 2),
        ("name,fs\nA,3\x000\n", "zero byte", 2),
        (b"name,notes,fs\nB\xfcro,x,30\n", "byte 0xFC", 2),
        ("name,fs\nA,30\n".encode("utf-16"), "UTF-16", 0),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "byte 0x89", 1),
        (b"x" * (20 * 1024 * 1024 + 1), "at most 20 MB", 0),
        (",".join(f"a{n}" for n in range(300)), "at most 200 headings", 1),
        ("fs\n" + "9" * 200_000, "could not be read", 2),
    ],
)
def test_files_that_are_refused_as_a_whole(
    tmp_path: Path, store: Store, text: str | bytes, words: str, line: int
) -> None:
    with pytest.raises(InputError, match=words) as caught:
        import_parts(store, _file(tmp_path, text))
    assert "parts.csv" in caught.value.place
    if line:
        assert caught.value.place.endswith(f"line {line}")
    assert not store.path.exists()


def test_what_is_no_file(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    cases = {"folder": "a folder", "missing.csv": "must exist", "a\0b": "could not be read", "file/x": "read"}
    (tmp_path / "file").write_bytes(b"")
    for name, words in cases.items():
        with pytest.raises(InputError, match=words):
            read_parts(f"{tmp_path}/{name}")
    with pytest.raises(InputError, match="device"):
        read_parts("/dev/zero")


def test_an_import_is_kept_whole_or_not_at_all(tmp_path: Path, store: Store) -> None:
    import_parts(store, _file(tmp_path, "name,power,load\nOld,100,4\n"))
    rows = "".join(f"A {n},{n + 1},4,{'x' * 2000}\n" for n in range(100))
    path = _file(tmp_path, "name,power,load,notes\nOld,50,4,\n" + rows)
    # A file-size limit makes the kernel refuse the write half-way, as a full disk does.
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (store.path.stat().st_size + 50_000, hard))
    try:
        with pytest.raises(InputError, match="full"):
            import_parts(store, path, replace=True)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert [amplifier.power for amplifier in store.amplifiers()] == [100.0]
    assert len(import_parts(store, path, replace=True).added) == 100


# TOML

TOML = """
format = "boxwright-parts/1"

[[driver]]
name = "A"
re = 5.6
bl = "8.5 N/A"
mms = "32 g"
cms = "0.75 mm/N"
rms = 1.6
Sd = "215 cm2"
bl_curve = { polynomial = [1, 0.0, -2500.0] }

[[passive]]
name = "P"
mmp = "heavy"

[[ "passive" ]]
name = "Q"
sp = "219 cm2"
mmp = "52 g"
fp = "20 Hz"
qmp = 7
"""


def test_toml(tmp_path: Path, store: Store) -> None:
    report = import_parts(store, _file(tmp_path, TOML, "parts.toml"))
    assert report.added == ("A", "Q")
    assert [(problem.line, "mmp must be a mass" in problem.message) for problem in report.skipped] == [
        (14, True)
    ]
    driver = store.get("driver", "A")
    assert isinstance(driver, Driver)
    assert driver.curves.bl == Curve(polynomial=(1.0, 0.0, -2500.0))
    assert driver.sd == 0.0215
    passive = store.get("passive", "Q")
    assert isinstance(passive, Passive)
    assert passive.fp == pytest.approx(20.0, rel=1e-12)
    assert passive.qmp == pytest.approx(7.0, rel=1e-12)
    assert store.entry("passive", "Q").provenance.endswith("parts.toml, line 18")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = 1\nname = 2\n", "overwrite a value"),
        ("= 3", "must be TOML"),
        ("[[driver]]\nname = 'A'\n", "format must be"),
        ('format = "boxwright-parts/9"\n', "format must be"),
        ('format = ["x"]\n', "got a list"),
        ('format = "boxwright-parts/1"\n[driver]\nname = "A"\n', "list of parts"),
        ('format = "boxwright-parts/1"\ndriver = 3\n', "list of parts"),
        ('format = "boxwright-parts/1"\n[[horn]]\nname = "A"\n', "kind of part"),
        ('format = "boxwright-parts/1"\n[[driver]]\nname = "A"\nNAME = "B"\n', "given once"),
        ("a = " + "[" * 5000 + "]" * 5000, "nested too deeply"),
        ("a = " + "9" * 10_000, "must be TOML"),
        ("a = 2024-99-99", "must be TOML"),
    ],
)
def test_toml_that_is_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        read_parts(_file(tmp_path, text, "parts.toml"))
    assert "parts.toml" in caught.value.place


@pytest.mark.parametrize(
    "value",
    [
        "nan",
        "inf",
        "true",
        "[1]",
        "{a = 1}",
        "2024-01-01",
        '""',
        '"1e400"',
        '"6,5"',
        "-1",
        "0",
        "0x" + "f" * 400,
    ],
)
def test_toml_values_that_are_no_number(tmp_path: Path, value: str) -> None:
    text = f'format = "boxwright-parts/1"\n[[amplifier]]\nname = "A"\nload = 4\npower = {value}\n'
    parts, problems = read_parts(_file(tmp_path, text, "parts.toml"))
    assert parts == ()
    assert problems[0].line == 2
    assert problems[0].message.startswith("power must be")


# writing


_positive = st.floats(1e-9, 1e9)
_maybe = st.one_of(st.none(), _positive)
_name = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=20
).filter(lambda text: text == text.strip() and text.strip())
_notes = st.text(
    st.one_of(
        st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")),
        st.sampled_from("\n\t\"',;"),
    ),
    max_size=30,
)
_curve = st.one_of(
    st.none(),
    st.builds(lambda a: Curve(polynomial=tuple(a)), st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=4)),
    st.builds(
        lambda xs: Curve(table=tuple((x, 1 / 3) for x in sorted(xs))),
        st.sets(st.floats(-1, 1, allow_subnormal=False), min_size=1, max_size=4),
    ),
)
_body = st.builds(
    Body, frame_diameter=_maybe, depth=_maybe, bolts=st.integers(0, 12), displacement=_maybe, weight=_maybe
)
_driver = st.builds(
    Driver,
    name=_name, re=_positive, bl=_positive, mms=_positive, cms=_positive, rms=st.floats(0, 1e9), sd=_positive,
    coil=st.builds(Coil, le=st.floats(0, 1e9), k=st.floats(0, 1e9), n=st.floats(0, 1)),
    creep=st.floats(0, 0.99), xmax=_maybe, pmax=_maybe, coils=st.integers(1, 4),
    coils_as=st.sampled_from(["series", "parallel", "single"]), body=_body,
    curves=st.builds(Curves, bl=_curve, kms=_curve, le=_curve), price=st.one_of(st.none(), st.floats(0, 1e9)),
    notes=_notes,
)  # fmt: skip
_passive = st.builds(
    Passive, name=_name, mmp=_positive, cmp=_positive, rmp=_positive, sp=_positive, xmax=_maybe,
    added_mass_max=_maybe, body=_body, curves=st.builds(Curves, kmp=_curve), notes=_notes,
)  # fmt: skip
_stock = st.one_of(
    st.builds(
        VentStock, name=_name, diameter=_positive, wall=_positive, max_length=_maybe, bend_price=_maybe
    ),
    st.builds(
        VentStock, name=_name, shape=st.just("slot"), width=_maybe, height=_maybe, price_per_metre=_maybe
    ),
    st.builds(Amplifier, name=_name, power=_positive, load=_positive, max_voltage=_maybe, notes=_notes),
    st.builds(Sheet, name=_name, length=_positive, width=_positive, thickness=_positive, density=_positive),
)


@pytest.mark.parametrize("name", ["parts.csv", "parts.toml"])
@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    parts=st.lists(
        st.one_of(_driver, _passive, _stock), min_size=1, max_size=3, unique_by=lambda p: (type(p), p.name)
    )
)
def test_import_of_an_export_is_the_same_to_the_last_bit(
    tmp_path: Path, parts: list[Part], name: str
) -> None:
    export_parts(parts, tmp_path / name)
    read, problems = read_parts(tmp_path / name)
    assert problems == ()
    assert [each.part for each in read] == parts
    assert all(each.warnings == () for each in read)


def test_the_example_store_survives_both_formats(tmp_path: Path) -> None:
    with open_store(tmp_path / "none.sqlite3") as examples:
        parts = [part for kind in KINDS for part in examples.matching(kind, ["*"])]
    for name in ("all.csv", "all.toml"):
        export_parts(parts, tmp_path / name)
        with Store(tmp_path / f"{name}.sqlite3") as store:
            report = import_parts(store, tmp_path / name)
            assert report.skipped == ()
            assert len(report.added) == len(parts)
            assert [part for kind in KINDS for part in store.matching(kind, ["*"])] == parts


def test_exports_carry_units() -> None:
    part = Passive(name='Say "so"', mmp=0.052, cmp=1.2e-3, rmp=1.0, sp=0.0219, xmax=0.012, price=36.0)
    assert to_csv([part]).splitlines() == [
        "part,name,mmp,cmp,rmp,sp,xmax,price",
        'passive,"Say ""so""",52 g,1.2 mm/N,1 N*s/m,219 cm2,12 mm,36',
    ]
    table = tomllib.loads(to_toml([part]))
    assert table == {
        "format": "boxwright-parts/1",
        "passive": [
            {"name": 'Say "so"', "mmp": "52 g", "cmp": "1.2 mm/N", "rmp": "1 N*s/m", "sp": "219 cm2",
             "xmax": "12 mm", "price": 36},
        ],
    }  # fmt: skip


def test_an_export_that_fails_keeps_the_old_file(tmp_path: Path) -> None:
    path = _file(tmp_path, "old")
    with pytest.raises(InputError, match="sd must be > 0"):
        export_parts([replace(_sample(), sd=-1.0)], path)
    assert path.read_text() == "old"


def _sample() -> Driver:
    return Driver(name="A", re=5.6, bl=8.5, mms=0.032, cms=0.75e-3, rms=1.6, sd=0.0215)


# hostile text

_bits = st.sampled_from(
    ["name", "part", "driver", "re", "sd [cm2]", "mms (g)", "[", "]", "(", ")", ",", ";", "\t", "\n", "\r", '"', "5.6",
     "1e400", "nan", "-0", "6,5", "1/0", "\x00", "\ufeff", "Ω", "fs", "qts", "vas", "bl_curve", "{", "}", "'", "=",
     '{"polynomial": [1]}', "format", "[[driver]]", "\u2028", "𝟓", "9" * 70]
)  # fmt: skip
_hostile = st.one_of(
    st.binary(max_size=200),
    st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")),
    st.lists(_bits, max_size=40).map(lambda bits: "".join(bits).encode("utf-8", "surrogatepass")),
    st.lists(_bits, max_size=30).map(lambda bits: ("name,re,bl,mms,fs,qms,sd\n" + ",".join(bits)).encode()),
    st.lists(_bits, max_size=30).map(
        lambda bits: ('format = "boxwright-parts/1"\n[[driver]]\n' + "".join(bits)).encode()
    ),
)


@pytest.mark.parametrize("name", ["parts.csv", "parts.toml"])
@settings(deadline=None, max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=_hostile)
def test_hostile_files_raise_nothing_but_input_errors(tmp_path: Path, data: bytes, name: str) -> None:
    path = _file(tmp_path, data, name)
    said = "parts."
    try:
        parts, problems = read_parts(path)
    except InputError as error:
        said = str(error)
    else:
        assert all("\n" not in problem.message for problem in problems)
        assert to_toml([read.part for read in parts])
    assert "\n" not in said
    assert "parts." in said  # the file is named
