"""The shaped burst against its closed forms, its thresholds, and loudest bursts against the linear model."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.support.boxes import closed_box, passive_box
from tests.support.cases import load

from boxwright.acoustics.motion import solve
from boxwright.acoustics.placement import transfer
from boxwright.compound import equivalent_driver
from boxwright.design import Design, Placement, Source
from boxwright.errors import InputError
from boxwright.largesignal.bursts import (
    CYCLES,
    FREQUENCIES,
    THRESHOLDS,
    burst_levels,
    burst_wave,
    harmonic_peaks,
)
from boxwright.largesignal.model import model_of
from boxwright.largesignal.transient import follow_voltage
from boxwright.parts.curve import Curve, Curves

CASES = {case.name: case for case in load("bursts.toml")}
FLAT = Curve(polynomial=(1.0,))
RATE = 6400.0
F = 32.0


def spectrum(multiple: float) -> float:
    """Magnitude of the burst's transform at a multiple of its frequency."""
    wave = burst_wave(F, RATE)
    return float(abs(np.sum(wave * np.exp(-2j * np.pi * multiple * F * np.arange(wave.size) / RATE)))) / RATE


def edge(drop: float, low: float, high: float) -> float:
    """Where the spectrum has fallen by so many dB between two multiples; bisection."""
    wanted = spectrum(1.0) * 10.0 ** (-drop / 20.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if spectrum(middle) < wanted else (low, middle)
    return low


def null(low: float, high: float) -> float:
    """The lowest point of the spectrum between two multiples."""
    at = np.linspace(low, high, 4001)
    return float(at[np.argmin([spectrum(float(m)) for m in at])])


def test_shape() -> None:
    wave = burst_wave(F, RATE)
    rms = math.sqrt(float(np.mean(wave[:-1] ** 2)))
    CASES["shape"].check(
        peak=float(np.max(np.abs(wave))), rms=rms, crest=-20.0 * math.log10(rms), energy=2.0 * rms**2 * CYCLES
    )
    assert wave.size == int(CYCLES / F * RATE) + 1


def test_spectrum() -> None:
    wave = burst_wave(F, RATE)
    count = 2**20
    size = np.abs(np.fft.rfft(wave, count)) / RATE
    noise = float(np.sum(size**2)) * (RATE / count) / spectrum(1.0) ** 2 / F
    CASES["spectrum"].check(
        half_power=CYCLES * width(10.0 * math.log10(2.0)),
        six_decibels=CYCLES * width(6.0),
        noise=CYCLES * noise,
        lower_null=CYCLES * (1.0 - null(0.65, 0.75)),
        upper_null=CYCLES * (null(1.25, 1.35) - 1.0),
    )


def width(drop: float) -> float:
    """Full width at a drop, over the frequency."""
    lower = edge(drop, 0.72, 1.0)
    wanted = spectrum(1.0) * 10.0 ** (-drop / 20.0)
    low, high = 1.0, 1.28
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if spectrum(middle) > wanted else (low, middle)
    return low - lower


def test_leakage() -> None:
    case = CASES["what a linear box shows at its harmonics"]
    base = spectrum(1.0)
    second, fourth, sixth = (20.0 * math.log10(spectrum(float(n)) / base) for n in (2, 4, 6))
    case.check(second=second, fourth=fourth, sixth=sixth)
    # odd harmonics lie whole bins of the raised cosine away: nothing is left there
    assert spectrum(3.0) < 1e-9 * base


def test_thresholds() -> None:
    CASES["thresholds"].check(**{f"h{n}": THRESHOLDS[n] for n in (2, 3, 4, 5, 6, 8, 9, 16)})
    assert sorted(THRESHOLDS) == list(range(2, 17))
    assert pytest.approx([19.9526, 25.1189, 31.6228, 39.8107, 50.1187, 63.0957], abs=5e-5) == FREQUENCIES


def test_a_known_harmonic_is_read_off() -> None:
    wave = burst_wave(F, RATE)
    cubed = np.concatenate([wave + 0.5 * wave**3, np.zeros(wave.size)])
    found = harmonic_peaks(cubed, RATE, F)
    # sin³ = ¾·sin − ¼·sin 3: under the window w the fundamental is w + ⅜·w³ and the third ⅛·w³, each summed up
    window = 0.5 * (1.0 - np.cos(2.0 * np.pi * np.arange(wave.size) * F / RATE / CYCLES))
    expected = 20.0 * math.log10(0.125 * float(np.sum(window**3)) / float(np.sum(window + 0.375 * window**3)))
    assert found[3] == pytest.approx(expected, abs=0.02)
    assert found[2] < -50.0


def straight(design: Design) -> Design:
    return replace(
        design,
        driver=replace(design.driver, curves=Curves(bl=FLAT, kms=FLAT, le=FLAT), xmech=None, xmax=None),
    )


def test_a_linear_box_plays_the_amplifiers_burst() -> None:
    """The loudest burst of a box that bends nothing, through its transfer function and the Fourier transform."""
    box = straight(replace(closed_box(), source=Source(voltage=6.0, max_voltage=18.0)))
    (found,) = burst_levels(model_of(box), (40.0,))
    assert found.binding == "amplifier voltage"
    assert found.voltage == pytest.approx(18.0 * math.sqrt(2.0))
    rate, count = 40.0 * 64.0, 2**15
    frequency = np.arange(1, count // 2 + 1, dtype=np.float64) * rate / count
    driver = equivalent_driver(box.driver, box.arrangement)
    response = solve(box, driver, frequency).outside * transfer(Placement(), box.air, frequency)
    sent = np.fft.rfft(found.voltage * burst_wave(40.0, rate), count)
    sent[0], sent[1:] = 0.0, sent[1:] * response
    peak = float(np.max(np.abs(np.fft.irfft(sent, count))))
    assert found.level == pytest.approx(20.0 * math.log10(peak / 20e-6), abs=0.03)


def test_the_loudest_burst_stands_at_its_limit() -> None:
    """Half a decibel up, the limit that binds is broken; what is reported is not."""
    box = replace(passive_box(), source=Source(voltage=20.0, max_power=4000.0, load=4.0))
    model = model_of(box)
    for burst in burst_levels(model, (25.0, 40.0)):
        assert burst.binding.startswith(("harmonic", "cone", "passive"))
        assert all(level <= THRESHOLDS[n] + 1e-9 for n, level in burst.harmonics.items())
        rate = 64.0 * burst.frequency
        louder = burst.voltage * 10.0 ** (0.5 / 20.0) * burst_wave(burst.frequency, rate)
        moved = follow_voltage(model, np.concatenate([louder, np.zeros(louder.size)]), rate)
        if burst.binding == "cone stop":
            assert float(np.max(np.abs(moved.travel))) > (box.driver.xmech or 0.0)
        else:
            # far from a room pressure is the rate of change of what flows out
            pressure = np.gradient(moved.outside, 1.0 / rate)
            order = int(burst.binding.split()[1])
            assert harmonic_peaks(pressure, rate, burst.frequency)[order] > THRESHOLDS[order] - 0.3


def test_stricter_thresholds_are_never_louder() -> None:
    box = replace(passive_box(), source=Source(voltage=20.0, max_power=4000.0, load=4.0))
    levels: list[NDArray[np.float64]] = []
    for shift in (0.0, -10.0, -20.0):
        asked = {order: level + shift for order, level in THRESHOLDS.items()}
        found = burst_levels(model_of(box), (25.0, 31.5, 50.0), thresholds=asked)
        levels.append(np.array([b.level for b in found]))
    assert np.all(levels[1] <= levels[0] + 1e-6)
    assert np.all(levels[2] < levels[1] - 0.5)


def test_without_an_amplifier_something_else_binds() -> None:
    (found,) = burst_levels(model_of(replace(passive_box(), source=Source(voltage=2.0))), (31.5,))
    assert found.binding not in {"amplifier voltage", "amplifier current", "none"}
    assert found.voltage > 2.0


def test_a_burst_needs_a_frequency() -> None:
    with pytest.raises(InputError, match="frequency of a burst"):
        burst_wave(0.0, 1000.0)
