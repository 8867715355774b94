"""The bundled example parts: enough of each kind, invented, and consistent with themselves and with their size."""

from __future__ import annotations

import math

import pytest

from boxwright.air import standard_air
from boxwright.parts import Driver, Passive, Sheet, VentStock
from boxwright.parts.completing import complete_driver, complete_passive
from boxwright.parts.examples import example_entries
from boxwright.parts.fields import KINDS

AIR = standard_air()


def _parts(kind: str) -> list[object]:
    return [entry.part for entry in example_entries(kind).values()]


DRIVERS = [part for part in _parts("driver") if isinstance(part, Driver)]
PASSIVES = [part for part in _parts("passive") if isinstance(part, Passive)]
VENTS = [part for part in _parts("vent") if isinstance(part, VentStock)]
SHEETS = [part for part in _parts("sheet") if isinstance(part, Sheet)]

# Cone area by nominal size. Common practice, no source: 219 cm² for 8 inch, 515 cm² for 12 inch, 830 cm² for 15 inch
# and so on; makers differ by some percent.
CONE_AREA = {100: 55e-4, 130: 88e-4, 165: 136e-4, 200: 219e-4, 250: 346e-4, 300: 515e-4, 380: 830e-4}


def _nominal(part: Driver | Passive) -> int:
    return int(part.name.split()[1])


def test_there_are_enough_of_each() -> None:
    assert len(DRIVERS) >= 32
    assert len(PASSIVES) >= 22
    round_vents = [vent for vent in VENTS if vent.shape == "round"]
    assert len({vent.diameter for vent in round_vents}) >= 8
    assert any(vent.flare for vent in round_vents)
    assert any(vent.bend_price is not None for vent in round_vents)
    assert len([vent for vent in VENTS if vent.shape == "slot"]) >= 6
    assert len(_parts("amplifier")) >= 4
    assert len(SHEETS) >= 4
    assert {_nominal(driver) for driver in DRIVERS} == set(CONE_AREA)
    assert {_nominal(passive) for passive in PASSIVES} == set(CONE_AREA) - {100}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_part_says_that_it_is_invented_and_what_it_costs(kind: str) -> None:
    entries = example_entries(kind).values()
    assert entries
    for entry in entries:
        assert "invented" in entry.part.notes
        assert entry.part.price is not None
        assert entry.part.price > 0
        assert entry.example
        KINDS[kind].check(entry.part)


@pytest.mark.parametrize("driver", DRIVERS, ids=lambda driver: driver.name)
def test_a_driver_is_plausible(driver: Driver) -> None:
    # As a data sheet would print it, with four digits of everything: no value more than 1 % from the others.
    stated = {"re": driver.re, "bl": driver.bl, "mms": driver.mms, "cms": driver.cms, "rms": driver.rms}
    derived = {"sd": driver.sd, "fs": driver.fs, "qms": driver.qms, "qes": driver.qes, "qts": driver.qts}
    derived["vas"] = AIR.density * AIR.speed_of_sound**2 * driver.sd**2 * driver.cms
    rounded = {name: float(f"{value:.4g}") for name, value in {**stated, **derived}.items()}
    completed = complete_driver(rounded, air=AIR)
    percents = [each.percent for each in completed.disagreements]
    assert all(percent is not None and abs(percent) <= 1.0 for percent in percents)
    assert completed.warnings == ()
    # ranges of common practice, no source
    assert 0.25 <= driver.qts <= 0.7
    # 112.15 dB: 1 W of sound into half space at 1 m, from ρc
    level = 112.15 + 10.0 * math.log10(driver.eta0(AIR))
    assert 80.0 <= level <= 92.0
    assert driver.xmax is not None
    assert 3e-3 <= driver.xmax <= 18e-3
    assert driver.xmech is not None
    assert driver.xmech > driver.xmax
    assert 0.3e-3 <= driver.coil.le <= 3e-3
    assert 15.0 <= driver.fs <= 70.0
    ohms = next(ohms for ohms in (2, 4, 8) if f"{ohms} ohm" in driver.notes.split(";")[1])
    # IEC 60268-5 asks for |Z| of at least 80 % of the rated value; |Z| is never below re (from memory)
    assert 0.65 * ohms <= driver.re <= ohms
    assert driver.coils == (2 if driver.name.startswith("Bittern") else 1)


def test_drivers_are_varied() -> None:
    notes = [driver.notes for driver in DRIVERS]
    assert all(any(f"{ohms} ohm" in text for text in notes) for ohms in (2, 4, 8))
    assert any(driver.coils == 2 for driver in DRIVERS)


@pytest.mark.parametrize("passive", PASSIVES, ids=lambda passive: passive.name)
def test_a_passive_is_plausible(passive: Passive) -> None:
    stated = {"mmp": passive.mmp, "cmp": passive.cmp, "rmp": passive.rmp, "sp": passive.sp}
    derived = {"fp": passive.fp, "qmp": passive.qmp}
    derived["vap"] = AIR.density * AIR.speed_of_sound**2 * passive.sp**2 * passive.cmp
    rounded = {name: float(f"{value:.4g}") for name, value in {**stated, **derived}.items()}
    completed = complete_passive(rounded, air=AIR)
    assert all(abs(each.percent or 0.0) <= 1.0 for each in completed.disagreements)
    assert len([each for each in completed.disagreements if each.percent is not None]) == len(rounded)
    assert 4.99 <= passive.qmp <= 12.1
    assert 9.99 <= passive.fp <= 25.1
    assert passive.xmax is not None
    assert 6e-3 <= passive.xmax <= 25e-3
    assert passive.added_mass_max is not None
    assert passive.added_mass_max >= 2.0 * passive.mmp
    # turned to face down with all the mass it takes, it keeps over half of its travel: m·g/K
    sag = 9.81 * (passive.mmp + passive.added_mass_max) * passive.cmp
    assert sag < 0.5 * passive.xmax


@pytest.mark.parametrize("part", [*DRIVERS, *PASSIVES], ids=lambda part: part.name)
def test_a_body_goes_with_its_cone(part: Driver | Passive) -> None:
    area = part.sd if isinstance(part, Driver) else part.sp
    assert area == pytest.approx(CONE_AREA[_nominal(part)], rel=0.035)
    body = part.body
    sizes = (body.frame_diameter, body.bolt_circle, body.cutout_diameter)
    assert all(size is not None for size in sizes)
    assert sizes == tuple(sorted(sizes, reverse=True))  # type: ignore[type-var]
    assert body.cutout_diameter is not None
    assert body.cutout_diameter > 2.0 * math.sqrt(area / math.pi)
    assert body.magnet_diameter is not None
    assert body.magnet_diameter < body.cutout_diameter  # it goes through its hole
    assert body.depth is not None
    assert part.xmech is not None
    assert body.depth > part.xmech
    assert body.displacement is not None
    # not more than the cylinder it fits in
    assert 0.0 < body.displacement < math.pi / 4.0 * body.cutout_diameter**2 * body.depth
    assert body.weight is not None
    moving = part.mms if isinstance(part, Driver) else part.mmp
    assert body.weight > 2.0 * moving
    assert body.bolts >= 4


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_a_sheet_is_within_the_handbook(sheet: Sheet) -> None:
    # Wood Handbook, FPL-GTR-190, Table 12-1: specific gravity and modulus of elasticity in GPa
    ranges = {"ply": (400.0, 600.0, 6.96e9, 8.55e9), "MDF": (700.0, 900.0, 3.59e9, 3.59e9)}
    light, heavy, soft, stiff = next(ranges[name] for name in ranges if name in sheet.name)
    assert light <= sheet.density <= heavy
    assert sheet.youngs_modulus is not None
    assert soft <= sheet.youngs_modulus <= stiff
    nominal = sheet.nominal_thickness or sheet.thickness
    assert nominal == pytest.approx(int(sheet.name.split()[-1]) / 1000)
    # EN 315 for sanded plywood, +(0.2 + 0.03·t)/−(0.4 + 0.03·t) mm (from memory); MDF is tighter
    assert -(0.4e-3 + 0.03 * nominal) <= sheet.thickness - nominal <= 0.2e-3 + 0.03 * nominal


def test_the_battery_amplifier() -> None:
    amplifier = next(part for part in _parts("amplifier") if part.name == "Ember 24")  # type: ignore[attr-defined]
    assert (amplifier.power, amplifier.load) == (150.0, 4.0)  # type: ignore[attr-defined]
    # rated power into the rated load within its limits
    assert amplifier.max_voltage >= math.sqrt(150.0 * 4.0)  # type: ignore[attr-defined]
    assert amplifier.max_current >= math.sqrt(150.0 / 4.0)  # type: ignore[attr-defined]


# The example brief: outer 620 × 190 × 400 mm, 102 dB at 1 m in half space at 32 Hz.


def _needed_volume() -> float:
    """Peak volume displacement for 102 dB at 32 Hz: 1e-3 m³ at 20 Hz gives 100.5575 dB, and level goes as f²·Vd."""
    return 1e-3 * 10.0 ** ((102.0 - 100.5575 - 40.0 * math.log10(32.0 / 20.0)) / 20.0)


def test_the_example_brief_can_be_met_by_passives_and_not_by_a_cone_alone() -> None:
    needed = _needed_volume()
    assert needed == pytest.approx(4.61e-4, rel=2e-3)  # by hand: 100.5575 + 8.165 − 102 = 6.722 dB to spare
    pair = {p.name: 2.0 * p.sp * (p.xmax or 0.0) for p in PASSIVES if p.body.frame_diameter < 0.3}  # type: ignore[operator]
    assert pair["Moth 250"] > 2.0 * needed
    assert len([name for name, volume in pair.items() if volume > needed]) >= 5
    # 190 mm less two walls of 15 mm and 20 mm of air behind the magnet, counted from the outer face
    fits = {d.name for d in DRIVERS if (d.body.depth or 1.0) <= 0.190 - 0.015 - 0.020}
    eight_inch = {d.name for d in DRIVERS if _nominal(d) == 200}
    assert "Heron 200" in fits
    assert eight_inch & fits
    assert eight_inch - fits
    alone = [d for d in DRIVERS if d.name in eight_inch and d.sd * (d.xmax or 0.0) > needed]
    assert alone == []


def test_a_closed_box_of_that_size_does_not_reach_so_low() -> None:
    # fc/fs = √(1 + Vas/V); Small 1972. The frequency 3 dB down from the transfer function s²/(s² + s/Q + 1).
    volume = (0.620 - 0.03) * (0.190 - 0.03) * (0.400 - 0.03)
    for driver in DRIVERS:
        raised = math.sqrt(1.0 + driver.vas(AIR) / volume)
        a = 1.0 / (driver.qts * raised) ** 2 - 2.0
        reach = driver.fs * raised * math.sqrt((a + math.sqrt(a * a + 4.0)) / 2.0)
        assert reach > 1.1 * 32.0, driver.name
