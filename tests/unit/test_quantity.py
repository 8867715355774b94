"""Units at the edges: what is read, what is refused and in which words, and that nothing is lost."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boxwright.errors import InputError
from boxwright.quantity import Kind, parse, show, write
from boxwright.units import unit_worth

# Factors by definition: the inch is 25.4 mm and the pound 0.453 592 37 kg exactly (international agreement of
# 1959), the US liquid gallon 231 in³; all other units are decimal multiples in the SI.
INCH = Fraction("0.0254")
READ = [
    ("8.25 in", Kind.LENGTH, Fraction("8.25") * INCH),
    ("8 1/4 in", Kind.LENGTH, Fraction("8.25") * INCH),
    ('8-1/4"', Kind.LENGTH, Fraction("8.25") * INCH),
    ('8.25"', Kind.LENGTH, Fraction("8.25") * INCH),
    ("8.25″", Kind.LENGTH, Fraction("8.25") * INCH),
    ("3/4 inch", Kind.LENGTH, Fraction(3, 4) * INCH),
    ("2 ft", Kind.LENGTH, 24 * INCH),
    ("1200 m", Kind.LENGTH, Fraction(1200)),
    ("6.5 mm", Kind.LENGTH, Fraction("0.0065")),
    ("6.5mm", Kind.LENGTH, Fraction("0.0065")),
    ("6.5\N{NO-BREAK SPACE}mm", Kind.LENGTH, Fraction("0.0065")),
    ("500 µm", Kind.LENGTH, Fraction("0.0005")),
    ("500 μm", Kind.LENGTH, Fraction("0.0005")),
    ("500 um", Kind.LENGTH, Fraction("0.0005")),
    ("215 cm2", Kind.AREA, Fraction("0.0215")),
    ("215 cm²", Kind.AREA, Fraction("0.0215")),
    ("215 cm^2", Kind.AREA, Fraction("0.0215")),
    ("33.3 sq in", Kind.AREA, Fraction("33.3") * INCH**2),
    ("18 L", Kind.VOLUME, Fraction("0.018")),
    ("18L", Kind.VOLUME, Fraction("0.018")),
    ("18 l", Kind.VOLUME, Fraction("0.018")),
    ("18 dm3", Kind.VOLUME, Fraction("0.018")),
    ("18 litres", Kind.VOLUME, Fraction("0.018")),
    ("0.5 cu ft", Kind.VOLUME, Fraction("0.5") * 1728 * INCH**3),
    ("0.5 ft3", Kind.VOLUME, Fraction("0.5") * 1728 * INCH**3),
    ("0.5 cubic feet", Kind.VOLUME, Fraction("0.5") * 1728 * INCH**3),
    ("5 gal", Kind.VOLUME, 5 * 231 * INCH**3),
    ("28 g", Kind.MASS, Fraction("0.028")),
    ("2 lb", Kind.MASS, 2 * Fraction("0.45359237")),
    ("0.42 mm/N", Kind.COMPLIANCE, Fraction("0.00042")),
    ("2.4 N/mm", Kind.STIFFNESS, Fraction(2400)),
    ("7.1 N/A", Kind.FORCE_FACTOR, Fraction("7.1")),
    ("7.5 T m", Kind.FORCE_FACTOR, Fraction("7.5")),
    ("7.5 T*m", Kind.FORCE_FACTOR, Fraction("7.5")),
    ("7.5 T·m", Kind.FORCE_FACTOR, Fraction("7.5")),
    ("7.5 Tm", Kind.FORCE_FACTOR, Fraction("7.5")),
    ("1.6 kg/s", Kind.MECHANICAL_RESISTANCE, Fraction("1.6")),
    ("1.6 N s/m", Kind.MECHANICAL_RESISTANCE, Fraction("1.6")),
    ("1.6 N*s/m", Kind.MECHANICAL_RESISTANCE, Fraction("1.6")),
    ("1.6 Ns/m", Kind.MECHANICAL_RESISTANCE, Fraction("1.6")),
    ("3.6 ohm", Kind.RESISTANCE, Fraction("3.6")),
    ("3.6 Ω", Kind.RESISTANCE, Fraction("3.6")),
    ("3.6 \N{OHM SIGN}", Kind.RESISTANCE, Fraction("3.6")),
    ("0.9 mH", Kind.INDUCTANCE, Fraction("0.0009")),
    ("32 Hz", Kind.FREQUENCY, Fraction(32)),
    ("1.2 kHz", Kind.FREQUENCY, Fraction(1200)),
    ("24 V", Kind.VOLTAGE, Fraction(24)),
    ("10 A", Kind.CURRENT, Fraction(10)),
    ("150 W", Kind.POWER, Fraction(150)),
    ("20 degC", Kind.TEMPERATURE, Fraction("293.15")),
    ("68 °F", Kind.TEMPERATURE, Fraction("293.15")),
    ("-40 °F", Kind.TEMPERATURE, Fraction("233.15")),
    ("−40 °C", Kind.TEMPERATURE, Fraction("233.15")),
    ("1013 hPa", Kind.PRESSURE, Fraction(101300)),
    ("1 atm", Kind.PRESSURE, Fraction(101325)),
    ("3.5 GPa", Kind.PRESSURE, Fraction(3500000000)),
    ("700 kg/m3", Kind.DENSITY, Fraction(700)),
    ("17 m/s", Kind.SPEED, Fraction(17)),
    ("12 ms", Kind.TIME, Fraction("0.012")),
    ("2 min", Kind.TIME, Fraction(120)),
    ("2000 Pa s/m2", Kind.FLOW_RESISTIVITY, Fraction(2000)),
    ("2000 N s/m^4", Kind.FLOW_RESISTIVITY, Fraction(2000)),
    ("50 %", Kind.RATIO, Fraction(1, 2)),
    ("50%", Kind.RATIO, Fraction(1, 2)),
    ("102 dB", Kind.LEVEL, Fraction(102)),
    ("79.90", Kind.PRICE, Fraction("79.90")),
    ("4", Kind.COUNT, Fraction(4)),
    ("1 kg/(m s2)", Kind.PRESSURE, Fraction(1)),
    (".5e-1 m", Kind.LENGTH, Fraction("0.05")),
]


@pytest.mark.parametrize(("text", "kind", "exact"), READ, ids=[text for text, _, _ in READ])
def test_text_is_read_to_the_last_bit(text: str, kind: Kind, exact: Fraction) -> None:
    assert parse(text, kind, field="x") == float(exact)


@pytest.mark.parametrize(
    "expression",
    ["mm/N", "T*m", "N*s/m", "ft^3", "gal", "oz", "lb", "mH", "kHz", "hPa", "Pa*s/m^2", "atm", "cc", "deg"],
)
def test_the_table_agrees_with_pint(expression: str) -> None:
    # reference library: pint's own definitions of the same units
    spelled = {"gal": "gallon", "T*m": "tesla*m"}.get(expression, expression)
    expected = pint.UnitRegistry().Quantity(1.0, spelled).to_base_units().magnitude
    assert float(unit_worth(expression).factor) == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        # NIST SP 811, appendix B.8 (from memory)
        ("14.7 psi", Kind.PRESSURE, 14.7 * 6894.757),
        ("1 fathom", Kind.LENGTH, 1.8288),
        ("2 knot", Kind.SPEED, 2 * 0.5144444),
        ("12 lbf", Kind.FORCE, 12 * 4.448222),
    ],
)
def test_rarer_units_come_from_pint(text: str, kind: Kind, si: float) -> None:
    assert parse(text, kind, field="x") == pytest.approx(si, rel=3e-6)


def test_plain_numbers_are_si() -> None:
    assert parse(0.018, Kind.VOLUME, field="x") == 0.018
    assert parse("0.018", Kind.VOLUME, field="x") == 0.018
    assert parse(4, Kind.RESISTANCE, field="x") == 4.0


REFUSED = [
    ("6,5 mm", Kind.LENGTH, "decimal comma", 'write "6.5 mm"'),
    ("0,420 mm/N", Kind.COMPLIANCE, "decimal comma", 'write "0.420 mm/N"'),
    ("1.234,5 mm", Kind.LENGTH, "decimal comma", 'write "1234.5 mm"'),
    ("1,200 m", Kind.LENGTH, "comma", 'write "1.200 m" or "1200 m"'),
    ("1,234,567 Hz", Kind.FREQUENCY, "thousands separators", 'write "1234567 Hz"'),
    ("1,234.5 mm", Kind.LENGTH, "thousands separators", 'write "1234.5 mm"'),
    ("1 200 m", Kind.LENGTH, "thousands separators", 'write "1200 m"'),
    ("1'200 m", Kind.LENGTH, "thousands separators", 'write "1200 m"'),
    ("1_200 m", Kind.LENGTH, "thousands separators", 'write "1200 m"'),
    ("18 L", Kind.LENGTH, '"L" is the unit of a volume', "210 mm"),
    ("7.5 T", Kind.FORCE_FACTOR, "something else", "T*m"),
    ("20 hz", Kind.FREQUENCY, '"hz" is not a known unit', 'the nearest known is "Hz"'),
    ("20 mhz", Kind.FREQUENCY, '"mhz" is not a known unit', 'the nearest known is "Hz"'),
    ("5 rpm", Kind.FREQUENCY, "something else", "32 Hz"),
    ("10 dBm", Kind.LEVEL, "offset", "102 dB"),
    ("7 degC/m", Kind.TEMPERATURE, "compound", "20 degC"),
    ("nan", Kind.LENGTH, "does not begin with a number", "210 mm"),
    ("inf", Kind.LENGTH, "does not begin with a number", "210 mm"),
    ("nan mm", Kind.LENGTH, "does not begin with a number", "210 mm"),
    ("1e400", Kind.LENGTH, "outside the range", "210 mm"),
    ("1e-400 m", Kind.LENGTH, "outside the range", "210 mm"),
    ("1e999999999", Kind.LENGTH, "outside the range", "210 mm"),
    ("1e308 km", Kind.LENGTH, "outside the range", "210 mm"),
    ("", Kind.LENGTH, "it is empty", "210 mm"),
    (" \t ", Kind.LENGTH, "it is empty", "210 mm"),
    ("mm", Kind.LENGTH, "does not begin with a number", "210 mm"),
    ("１８ L", Kind.VOLUME, "FULLWIDTH DIGIT ONE", "plain Latin letters"),
    ("١٨ L", Kind.VOLUME, "ARABIC-INDIC DIGIT ONE", "plain Latin letters"),
    ("18 мм", Kind.LENGTH, "CYRILLIC SMALL LETTER EM", "plain Latin letters"),
    ("3.6 О", Kind.RESISTANCE, "CYRILLIC CAPITAL LETTER O", "plain Latin letters"),
    ("5\x00 mm", Kind.LENGTH, "U+0000", "plain Latin letters"),
    ("5 \ud800", Kind.LENGTH, "U+D800", "plain Latin letters"),
    ("5 m**9999999", Kind.LENGTH, "exponents", "210 mm"),
    ("5 m^0", Kind.LENGTH, "exponents", "210 mm"),
    ("5 m^2^2^2", Kind.LENGTH, "is not a unit", "210 mm"),
    ("5 (m)^2", Kind.AREA, "is not a unit", "215 cm2"),
    ("5 ((m)", Kind.LENGTH, "open bracket", "210 mm"),
    ("5 m)", Kind.LENGTH, "bracket too many", "210 mm"),
    ("5 m/", Kind.LENGTH, "is not a unit", "210 mm"),
    ("5 " + "m*" * 20 + "m", Kind.LENGTH, "too many parts", "210 mm"),
    ("5 6 mm", Kind.LENGTH, "one number", "210 mm"),
    ("5..3 mm", Kind.LENGTH, "one number", "210 mm"),
    ("1/0 in", Kind.LENGTH, "0 below the line", "210 mm"),
    ("5 __import__('os')", Kind.LENGTH, "is not a unit", "210 mm"),
    ("9" * 65, Kind.LENGTH, "longer than 64", "210 mm"),
    ("5 EUR", Kind.PRICE, "no currency sign", "leave the unit out"),
    ("€5", Kind.PRICE, "EURO SIGN", "plain Latin letters"),
    ("2.5", Kind.COUNT, "a whole number", '"2"'),
    ("-300 degC", Kind.TEMPERATURE, "absolute zero", "20 degC"),
    (True, Kind.COUNT, "got True", '"2"'),
    (None, Kind.LENGTH, "got None", "210 mm"),
    ([1.0], Kind.LENGTH, "a length", "210 mm"),
    (math.nan, Kind.LENGTH, "not a finite number", "210 mm"),
    (-math.inf, Kind.LENGTH, "outside the range", "210 mm"),
    (10**400, Kind.LENGTH, "outside the range", "210 mm"),
    (10**6000, Kind.LENGTH, "outside the range", "210 mm"),
]


@pytest.mark.parametrize(("value", "kind", "reason", "mend"), REFUSED, ids=range(len(REFUSED)))
def test_what_is_refused_says_why_and_what_would_mend_it(
    value: object, kind: Kind, reason: str, mend: str
) -> None:
    with pytest.raises(InputError) as caught:
        parse(value, kind, field="xmax", place="design.toml, line 7")  # type: ignore[arg-type]
    error = caught.value
    assert error.message.startswith(f"xmax must be {kind.what}, got ")
    assert reason in error.message
    assert mend in error.mend
    assert error.place == "design.toml, line 7"
    assert len(str(error)) < 300
    assert "\n" not in str(error)


# Letters of the units and digits make it past the first checks far more often than arbitrary text does.
nearly_a_quantity = st.text(alphabet="0123456789.,+-*/^()'\"_ °²³%µΩeEmMkgsNAVTLftinHzPachdoul", max_size=24)


@given(text=st.one_of(st.text(max_size=80), nearly_a_quantity), kind=st.sampled_from(list(Kind)))
def test_any_text_is_a_finite_number_or_an_input_error(text: str, kind: Kind) -> None:
    try:
        value = parse(text, kind, field="x")
    except InputError:
        return
    assert math.isfinite(value)


finite = st.floats(allow_nan=False, allow_infinity=False)


@given(value=st.one_of(finite, st.floats(1e-9, 1e9), st.decimals(0, 1000, places=3).map(float)))
@pytest.mark.parametrize("kind", list(Kind), ids=lambda kind: kind.name)
def test_written_values_come_back_to_the_last_bit(kind: Kind, value: float) -> None:
    if kind is Kind.TEMPERATURE:
        value = abs(value)
    if kind is Kind.COUNT:
        value = float(int(value) % 1000)
    back = parse(write(value, kind), kind, field="x")
    assert back == value
    assert math.copysign(1.0, back) == math.copysign(1.0, value)


@given(value=st.floats(1e-6, 1e6), digits=st.integers(2, 8), system=st.sampled_from(["metric", "inch"]))
@pytest.mark.parametrize(
    "kind", [kind for kind in Kind if kind not in {Kind.COUNT, Kind.PRICE}], ids=lambda k: k.name
)
def test_shown_values_read_back_within_their_rounding(
    kind: Kind, value: float, digits: int, system: str
) -> None:
    if kind is Kind.TEMPERATURE:
        value += 200.0
    back = parse(show(value, kind, system=system, digits=digits), kind, field="x")  # type: ignore[arg-type]
    if kind is Kind.TEMPERATURE:  # rounded on its own scale, which has another zero
        assert back == pytest.approx(value, abs=(value + 460.0) * 10.0 ** (1 - digits))
    else:
        assert back == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits))


@pytest.mark.parametrize(
    ("value", "kind", "metric", "inch"),
    [
        (0.018, Kind.VOLUME, "18.0 L", "0.636 cu ft"),
        (0.00009, Kind.VOLUME, "90.0 cm³", "5.49 cu in"),
        (0.20955, Kind.LENGTH, "210 mm", "8.25 in"),
        (0.9996, Kind.LENGTH, "1.00 m", "39.4 in"),
        (0.00042, Kind.COMPLIANCE, "0.420 mm/N", "0.420 mm/N"),
        (0.0215, Kind.AREA, "215 cm²", "33.3 sq in"),
        (293.15, Kind.TEMPERATURE, "20.0 °C", "68.0 °F"),
        (0.0009, Kind.INDUCTANCE, "0.900 mH", "0.900 mH"),
        (0.0, Kind.LENGTH, "0 mm", "0 in"),
        (math.inf, Kind.RATIO, "∞", "∞"),
        (79.9, Kind.PRICE, "79.90", "79.90"),
        (3.0, Kind.COUNT, "3", "3"),
        (-0.25, Kind.LEVEL, "-0.250 dB", "-0.250 dB"),
    ],
)
def test_values_are_shown_in_the_units_of_the_trade(value: float, kind: Kind, metric: str, inch: str) -> None:
    assert show(value, kind) == metric
    assert show(value, kind, system="inch") == inch


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [
        (0.018, Kind.VOLUME, "18 L"),
        (0.00042, Kind.COMPLIANCE, "0.42 mm/N"),
        (7.5, Kind.FORCE_FACTOR, "7.5 T*m"),
        (0.0215, Kind.AREA, "215 cm2"),
        (293.15, Kind.TEMPERATURE, "20 degC"),
        (3.6, Kind.RESISTANCE, "3.6 ohm"),
        (0.35, Kind.RATIO, "0.35"),
    ],
)
def test_files_get_short_plain_text(value: float, kind: Kind, text: str) -> None:
    assert write(value, kind) == text
    assert text.isascii()


def test_usual_units_do_not_import_pint() -> None:
    code = (
        "import sys; from boxwright.quantity import Kind, parse, show, write\n"
        "for text, kind in (('18 L', Kind.VOLUME), ('0.42 mm/N', Kind.COMPLIANCE),\n"
        "                   ('8.25 in', Kind.LENGTH), ('7.5 T m', Kind.FORCE_FACTOR),\n"
        "                   ('20 degC', Kind.TEMPERATURE), ('5 gal', Kind.VOLUME)):\n"
        "    x = parse(text, kind, field='x'); show(x, kind); write(x, kind)\n"
        "print('pint' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
