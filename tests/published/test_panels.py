"""Plates against tables, against a finite-element solve, and panels of a box against both."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse.linalg import eigsh, spsolve
from skfem import Basis, BilinearForm, ElementTriMorley, LinearForm, MeshTri
from skfem.helpers import dd, ddot
from tests.support.cases import Case, load

from boxwright.design import BoxPlan
from boxwright.largesignal.panels import examine_panels
from boxwright.largesignal.plates import (
    bending_stiffness,
    clamped_deflection,
    clamped_modes,
    clamped_volume,
    mode_frequency,
    supported_deflection,
    supported_modes,
    supported_volume,
)
from boxwright.parts import Sheet

CASES = load("plates.toml")


def of(start: str) -> list[Case]:
    return [case for case in CASES if case.name.startswith(start)]


@pytest.mark.parametrize("case", of("supported"), ids=lambda c: c.name)
def test_supported(case: Case) -> None:
    case.check(**dict(zip("abc", supported_modes(case.inputs["ratio"]), strict=True)))


@pytest.mark.parametrize("case", of("clamped") + of("printed"), ids=lambda c: c.name)
def test_clamped(case: Case) -> None:
    case.check(**dict(zip("abc", clamped_modes(case.inputs["ratio"]), strict=True)))


@pytest.mark.parametrize("case", of("static"), ids=lambda c: c.name)
def test_static(case: Case) -> None:
    ratio = 1.0 / case.inputs["longer"]
    case.check(clamped=clamped_deflection(ratio), supported=supported_deflection(ratio))


def test_worked_panel() -> None:
    (case,) = of("worked")
    i = case.inputs
    stiffness = bending_stiffness(i["modulus"], i["thickness"], i["poisson"])
    mass, ratio = i["density"] * i["thickness"], i["short"] / i["long"]
    case.check(
        stiffness=stiffness,
        supported=mode_frequency(supported_modes(ratio)[0], i["short"], stiffness, mass),
        clamped=mode_frequency(clamped_modes(ratio)[0], i["short"], stiffness, mass),
    )


def finite_elements(b: float, cells: int, *, clamped: bool) -> tuple[float, float]:
    """First λ and swept volume of a plate 1 × b by Morley's triangle, D = p = ρh = 1."""
    nu = 0.3
    mesh = MeshTri.init_tensor(np.linspace(0.0, 1.0, cells + 1), np.linspace(0.0, b, round(cells * b) + 1))
    basis = Basis(mesh, ElementTriMorley())

    @BilinearForm
    def bending(u, v, _):  # type: ignore[no-untyped-def]
        k, m = dd(u), dd(v)
        return (1.0 - nu) * ddot(k, m) + nu * (k[0, 0] + k[1, 1]) * (m[0, 0] + m[1, 1])

    @BilinearForm
    def inertia(u, v, _):  # type: ignore[no-untyped-def]
        return u * v

    @LinearForm
    def pressure(v, _):  # type: ignore[no-untyped-def]
        return 1.0 * v

    stiffness, mass, push = bending.assemble(basis), inertia.assemble(basis), pressure.assemble(basis)
    edge = basis.get_dofs()
    held = edge if clamped else edge.all(["u"])  # the other dofs of Morley's triangle are slopes across edges
    inner = np.setdiff1d(np.arange(basis.N), held.all() if clamped else held)
    k, m = stiffness[inner][:, inner].tocsc(), mass[inner][:, inner].tocsc()
    lowest = eigsh(k, M=m, sigma=0.0, k=1, return_eigenvectors=False)[0]
    return math.sqrt(lowest), float(push[inner] @ spsolve(k, push[inner]))


@pytest.mark.parametrize("b", [1.0, 1.5, 2.5])
@pytest.mark.parametrize("clamped", [False, True], ids=["supported", "clamped"])
def test_against_finite_elements(b: float, clamped: bool) -> None:
    """The error of the elements falls with the square of their size, towards our values."""
    ours = (
        (clamped_modes(1.0 / b)[0], clamped_volume(1.0 / b) * b)
        if clamped
        else (supported_modes(1.0 / b)[0], supported_volume(1.0 / b) * b)
    )
    coarse, fine = finite_elements(b, 16, clamped=clamped), finite_elements(b, 32, clamped=clamped)
    for ours_one, rough, better in zip(ours, coarse, fine, strict=True):
        assert 3.5 < (rough - ours_one) / (better - ours_one) < 4.5
        extrapolated = better + (better - rough) / 3.0
        assert extrapolated == pytest.approx(ours_one, rel=2e-3)


SHEET = Sheet(length=2.44, width=1.22, thickness=0.018, density=720.0, youngs_modulus=3.5e9)


def test_the_worked_panel_in_a_box() -> None:
    (case,) = of("worked")
    plan = BoxPlan(width=0.436, height=0.636, depth=0.336, wall=0.018)
    found = examine_panels(plan, SHEET, band_top=200.0)
    assert {p.face for p in found.panels[:2]} == {"front", "back"}
    assert found.lowest == pytest.approx(float(case.expected["supported"]), abs=1e-3)
    assert found.panels[0].clamped == pytest.approx(float(case.expected["clamped"]), abs=1e-3)
    assert any(
        "front panel (600 × 400 mm free) may ring inside the band" in words for words in found.warnings
    )


def test_give_is_the_mean_deflection_of_the_panel() -> None:
    """A pascal on a square panel: the volume by quadrature of the double series, term by term."""
    plan = BoxPlan(width=0.436, height=0.436, depth=0.236, wall=0.018)
    found = examine_panels(plan, SHEET, volume=0.03)
    front = next(p for p in found.panels if p.face == "front")
    stiffness, a = 1869.2308, 0.4
    odd = range(1, 60, 2)
    whole = sum(
        64.0 * a**6 / (math.pi**8 * m * m * n * n * (m * m + n * n) ** 2 * stiffness)
        for m in odd
        for n in odd
    )
    assert front.give_supported == pytest.approx(whole, rel=1e-6)
