"""Hypothesis strategies for whole valid parts, designs and briefs, in SI and in physically sane ranges."""

from __future__ import annotations

import math
from typing import Any

from hypothesis import strategies as st

from boxwright.air import Air, standard_air
from boxwright.brief import FACES, FAMILIES, Brief, Limits, PartsChoice, Space, Target
from boxwright.design import (
    Arrangement,
    BoxPlan,
    Chamber,
    Design,
    DuctSegment,
    Filter,
    Opening,
    PassiveOpening,
    Placement,
    Room,
    Source,
    TransferTable,
    VentOpening,
)
from boxwright.parts import Body, Coil, Curve, Curves, Driver, Passive, Sheet, VentStock

__all__ = [
    "DESIGN_FAMILIES",
    "air",
    "briefs",
    "chambers",
    "designs",
    "drivers",
    "openings",
    "passives",
    "placements",
    "sources",
]

Draw = st.DrawFn


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """A float, even over the logarithm; now and then a round one, as people write them."""
    exact = st.floats(math.log10(low), math.log10(high)).map(lambda power: min(max(10**power, low), high))
    rounded = exact.map(lambda value: min(max(float(f"{value:.2g}"), low), high))
    return st.one_of(exact, rounded)


def perhaps(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """The value, or None."""
    return st.none() | strategy


def words(longest: int = 30) -> st.SearchStrategy[str]:
    """Names in any script, with quotes, signs and backslashes, without control characters."""
    return st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=longest)


def prose() -> st.SearchStrategy[str]:
    """Text over several lines."""
    return st.lists(words(40), max_size=4).map("\n".join)


@st.composite
def air(draw: Draw) -> Air:
    """Air outright, between a high mountain and a diving bell."""
    stated = {"density": draw(number(0.5, 3.0)), "speed_of_sound": draw(number(250.0, 450.0))}
    if draw(st.booleans()):
        stated |= {
            "viscosity": draw(number(1e-5, 3e-5)),
            "pressure": draw(number(4e4, 3e5)),
            "temperature": draw(number(220.0, 330.0)),
        }
    return Air(**stated)


@st.composite
def curve(draw: Draw, reach: float = 0.03) -> Curve:
    """A curve that is 1 at rest and stays positive over the travel."""
    if draw(st.booleans()):
        share = st.floats(-0.3, 0.3, allow_subnormal=False)
        return Curve(polynomial=(1.0, draw(share) / reach, draw(share) / reach**2))
    sides = [sorted(draw(st.sets(st.floats(1e-4, reach), min_size=1, max_size=4))) for _ in range(2)]
    travels = [-each for each in reversed(sides[0])] + [0.0] + sides[1]
    rows = tuple((each, 1.0 if each == 0.0 else draw(number(0.2, 5.0))) for each in travels)
    return Curve(table=rows)


@st.composite
def body(draw: Draw, area: float) -> Body:
    """The outside of a part with this cone."""
    diameter = math.sqrt(4.0 * area / math.pi)
    return Body(
        frame_diameter=draw(perhaps(number(1.05, 1.4))) and 1.25 * diameter,
        cutout_diameter=draw(perhaps(number(1.0, 1.1).map(lambda share: share * diameter))),
        depth=draw(perhaps(number(0.03, 0.25))),
        magnet_diameter=draw(perhaps(number(0.05, 0.2))),
        bolt_circle=draw(perhaps(number(1.1, 1.2).map(lambda share: share * diameter))),
        bolts=draw(st.integers(0, 12)),
        displacement=draw(perhaps(number(1e-4, 8e-3))),
        weight=draw(perhaps(number(0.3, 15.0))),
    )


@st.composite
def coils(draw: Draw) -> Coil:
    """Any of the coil models, or several at once."""
    return Coil(
        le=draw(st.just(0.0) | number(1e-5, 5e-3)),
        k=draw(st.just(0.0) | number(1e-3, 0.1)),
        n=draw(st.just(0.7) | st.floats(0.4, 0.9)),
        l2=draw(st.just(0.0) | number(1e-5, 5e-3)),
        r2=draw(st.just(0.0) | number(0.5, 50.0)),
    )


def _travels(draw: Draw) -> dict[str, float | None]:
    xmax = draw(perhaps(number(1e-3, 0.03)))
    xmech = draw(perhaps(number(1.0, 2.0).map(lambda share: share * (xmax or 0.02))))
    return {"xmax": xmax, "xmech": xmech}


@st.composite
def drivers(draw: Draw) -> Driver:
    """A driver for low notes."""
    sd = draw(number(5e-3, 0.12))
    mms = draw(number(0.5, 4.0)) * sd**1.2
    fs, qms, qes = draw(number(15.0, 80.0)), draw(number(1.5, 15.0)), draw(number(0.2, 1.5))
    re = draw(number(1.5, 14.0))
    cms = 1.0 / ((2.0 * math.pi * fs) ** 2 * mms)
    several = draw(st.booleans())
    return Driver(
        name=draw(words()),
        re=re,
        bl=math.sqrt(math.sqrt(mms / cms) * re / qes),
        mms=mms,
        cms=cms,
        rms=math.sqrt(mms / cms) / qms,
        sd=sd,
        coil=draw(coils()),
        creep=draw(st.just(0.0) | st.floats(0.01, 0.2)),
        **_travels(draw),
        pmax=draw(perhaps(number(20.0, 2000.0))),
        coils=2 if several else 1,
        coils_as=draw(st.sampled_from(["series", "parallel", "single"])) if several else "series",
        body=draw(st.just(Body()) | body(sd)),
        curves=Curves(**{key: draw(perhaps(curve())) for key in ("bl", "kms", "le")}),
        price=draw(perhaps(number(5.0, 900.0))),
        notes=draw(prose()),
    )


@st.composite
def passives(draw: Draw) -> Passive:
    """A passive for low notes."""
    sp = draw(number(5e-3, 0.15))
    mmp, fp, qmp = draw(number(0.5, 6.0)) * sp**1.2, draw(number(8.0, 60.0)), draw(number(3.0, 20.0))
    cmp = 1.0 / ((2.0 * math.pi * fp) ** 2 * mmp)
    return Passive(
        name=draw(words()),
        mmp=mmp,
        cmp=cmp,
        rmp=math.sqrt(mmp / cmp) / qmp,
        sp=sp,
        **_travels(draw),
        added_mass_max=draw(perhaps(number(0.02, 1.0))),
        body=draw(st.just(Body()) | body(sp)),
        curves=Curves(kmp=draw(perhaps(curve()))),
        price=draw(perhaps(number(5.0, 400.0))),
        notes=draw(prose()),
    )


@st.composite
def filters(draw: Draw) -> Filter:
    """A pass, shelf or peak, with only the values that it has a use for."""
    kind = draw(st.sampled_from(["high-pass", "low-pass", "low-shelf", "high-shelf", "peak"]))
    frequency = draw(number(10.0, 500.0))
    if not kind.endswith("pass"):
        return Filter(
            kind=kind, frequency=frequency, q=draw(number(0.3, 5.0)), gain=draw(st.floats(-12.0, 12.0))
        )
    family = draw(st.sampled_from(["butterworth", "linkwitz-riley", "bessel", "chebyshev"]))
    order = draw(st.sampled_from([2, 4, 8] if family == "linkwitz-riley" else [1, 2, 3, 4, 6, 8]))
    ripple = draw(number(0.05, 3.0)) if family == "chebyshev" else 0.5
    return Filter(kind=kind, family=family, order=order, frequency=frequency, ripple=ripple)


@st.composite
def sources(draw: Draw) -> Source:
    """An amplifier with whatever of its limits is known."""
    load = draw(perhaps(number(1.0, 16.0)))
    return Source(
        voltage=draw(st.just(2.83) | number(0.1, 100.0)),
        max_voltage=draw(perhaps(number(1.0, 200.0))),
        max_current=draw(perhaps(number(0.5, 50.0))),
        max_power=draw(perhaps(number(5.0, 3000.0))) if load else None,
        load=load,
        series_resistance=draw(st.just(0.0) | number(0.01, 1.0)),
        filters=tuple(draw(st.lists(filters(), max_size=3))),
    )


@st.composite
def segments(draw: Draw) -> tuple[DuctSegment, ...]:
    """A line of one to four pieces."""
    pieces = []
    for _ in range(draw(st.integers(1, 4))):
        start = draw(number(5e-3, 0.1))
        pieces.append(
            DuctSegment(
                length=draw(number(0.05, 2.0)),
                area_start=start,
                area_end=draw(st.just(start) | number(5e-3, 0.1)),
                flow_resistivity=draw(st.just(0.0) | number(50.0, 2e4)),
            )
        )
    return tuple(pieces)


@st.composite
def chambers(draw: Draw, *, name: str = "", line: bool = False) -> Chamber:
    """A lumped chamber, or a line of truncated cones."""
    stated: dict[str, Any] = {"volume": draw(number(2e-3, 0.4))}
    if line:
        pieces = draw(segments())
        areas = [(each.area_start, each.area_end) for each in pieces]
        volume = math.fsum(
            each.length / 3.0 * (a + b + math.sqrt(a * b)) for each, (a, b) in zip(pieces, areas, strict=True)
        )
        stated = {"volume": volume, "segments": pieces, "line_end": draw(st.sampled_from(["closed", "open"]))}
    return Chamber(
        name=name,
        q_leak=draw(perhaps(number(3.0, 100.0))),
        q_absorption=draw(perhaps(number(5.0, 200.0))),
        fill=draw(st.just(0.0) | st.floats(0.0, 1.0, allow_subnormal=False)),
        **stated,
    )


@st.composite
def openings(draw: Draw, *, chamber: str = "rear", to: str = "outside") -> Opening:
    """A vent or a set of passives."""
    common: dict[str, Any] = {"chamber": chamber, "to": to, "count": draw(st.integers(1, 4))}
    facing = draw(st.sampled_from(["sideways", "up", "down"]))
    if draw(st.booleans()):
        added = draw(st.just(0.0) | number(1e-3, 0.5))
        return PassiveOpening(passive=draw(passives()), added_mass=added, facing=facing, **common)
    if draw(st.booleans()):
        shape: dict[str, Any] = {"diameter": draw(number(0.03, 0.2))}
    else:
        shape = {
            "shape": "slot",
            "width": draw(number(0.05, 0.5)),
            "height": draw(number(0.01, 0.08)),
            "walls": draw(st.integers(0, 3)),
        }
    end = st.sampled_from(["flanged", "free"])
    return VentOpening(
        length=draw(number(0.01, 1.0)),
        ends=(draw(end), draw(end)),
        flare=draw(st.just(0.0) | number(2e-3, 0.03)),
        max_air_speed=draw(perhaps(number(5.0, 40.0))),
        price=draw(perhaps(number(1.0, 60.0))),
        **shape,
        **common,
    )


@st.composite
def rooms(draw: Draw) -> Room:
    """A cabin or room with source and listener inside."""
    size = tuple(draw(number(0.8, 12.0)) for _ in range(3))
    inside = st.floats(0.0, 1.0, allow_subnormal=False)
    return Room(
        size=size,
        source=tuple(draw(inside) * each for each in size),
        listener=tuple(draw(inside) * each for each in size),
        damping=draw(st.just(0.05) | number(0.005, 0.3)),
        leak_frequency=draw(st.just(0.0) | number(0.5, 15.0)),
    )


@st.composite
def tables(draw: Draw) -> TransferTable:
    """A measured transfer."""
    frequencies = sorted(draw(st.sets(number(5.0, 500.0), min_size=2, max_size=20)))
    count = len(frequencies)
    values = st.lists(st.floats(-40.0, 30.0), min_size=count, max_size=count)
    return TransferTable(
        frequency=tuple(frequencies),
        level=tuple(draw(values)),
        phase=tuple(9.0 * each for each in draw(values)),
    )


@st.composite
def placements(draw: Draw) -> Placement:
    """Anywhere the box may play."""
    return Placement(
        space=draw(st.sampled_from(["free", "half", "quarter", "eighth"])),
        distance=draw(st.just(1.0) | number(0.1, 50.0)),
        room=draw(perhaps(rooms())),
        table=draw(perhaps(tables())),
    )


def _outline(draw: Draw, shape: str) -> dict[str, Any]:
    length = number(0.1, 2.0)
    if shape == "profile":
        depth, height = draw(length), draw(length)
        cut = draw(st.floats(0.1, 0.9))
        corners = ((0.0, 0.0), (depth, 0.0), (depth, cut * height), (cut * depth, height), (0.0, height))
        return {"shape": shape, "width": draw(length), "profile": corners}
    sizes = {"shape": shape, "width": draw(length), "height": draw(length), "depth": draw(length)}
    return sizes | ({"depth_top": draw(length)} if shape == "wedge" else {})


@st.composite
def plans(draw: Draw) -> BoxPlan:
    """The box around the air."""
    return BoxPlan(
        **_outline(draw, draw(st.sampled_from(["box", "wedge", "profile"]))),
        wall=draw(number(3e-3, 0.04)),
        sheet=draw(words()),
        braces=draw(st.integers(0, 6)),
    )


DESIGN_FAMILIES = ("closed", "open", "line", "opened", "bandpass", "coupled")
"""``open`` has no rear chamber, ``opened`` a rear chamber with vents and passives."""


@st.composite
def designs(draw: Draw, *, family: str | None = None) -> Design:
    """A design of the family, or of any of DESIGN_FAMILIES."""
    family = family or draw(st.sampled_from(DESIGN_FAMILIES))
    rear = None if family == "open" else draw(chambers(line=family == "line"))
    front = draw(chambers()) if family in {"open", "bandpass"} else None
    further: tuple[Chamber, ...] = ()
    found: list[Opening] = []
    if family in {"opened", "coupled"}:
        found = draw(st.lists(openings(), min_size=1, max_size=3))
    if front is not None:
        found += draw(st.lists(openings(chamber="front"), min_size=1, max_size=2))
    if family == "coupled":
        names = draw(
            st.sets(
                words(12).filter(lambda name: name not in {"", "rear", "front", "outside"}),
                min_size=1,
                max_size=3,
            )
        )
        further = tuple(draw(chambers(name=name)) for name in sorted(names))
        before = "rear"
        for chamber in further:
            found.append(draw(openings(chamber=before, to=chamber.name)))
            before = chamber.name
        found.append(draw(openings(chamber=before)))
    pairs = draw(st.booleans())
    return Design(
        name=draw(words()),
        air=draw(st.just(standard_air()) | air()),
        source=draw(sources()),
        driver=draw(drivers()),
        arrangement=Arrangement(
            series=draw(st.integers(1, 3)),
            parallel=2 if pairs else draw(st.integers(1, 3)),
            coil_wiring=draw(st.sampled_from([None, "series", "parallel", "single"])),
            mounting=draw(st.sampled_from(["push-push", "face-to-face"])) if pairs else "side-by-side",
            facing=draw(st.sampled_from(["sideways", "up", "down"])),
        ),
        rear=rear,
        front=front,
        chambers=further,
        openings=tuple(found),
        placement=draw(st.just(Placement()) | placements()),
        box=draw(perhaps(plans())),
        notes=draw(prose()),
    )


@st.composite
def stock_vents(draw: Draw, name: str = "") -> VentStock:
    """A tube, or a slot whose size may be left open."""
    if draw(st.booleans()):
        shape: dict[str, Any] = {"diameter": draw(number(0.03, 0.2))}
    else:
        shape = {
            "shape": "slot",
            "width": draw(perhaps(number(0.05, 0.5))),
            "height": draw(perhaps(number(0.01, 0.1))),
        }
    money = perhaps(number(0.5, 60.0))
    return VentStock(
        name=name,
        wall=draw(number(1e-3, 0.02)),
        flare=draw(st.just(0.0) | number(2e-3, 0.03)),
        max_length=draw(perhaps(number(0.1, 3.0))),
        bend_price=draw(money),
        price=draw(money),
        price_per_metre=draw(money),
        notes=draw(prose()),
        **shape,
    )


@st.composite
def sheets(draw: Draw, name: str = "") -> Sheet:
    """A sheet good."""
    return Sheet(
        name=name,
        length=draw(number(0.5, 3.0)),
        width=draw(number(0.3, 1.6)),
        thickness=draw(number(3e-3, 0.03)),
        nominal_thickness=draw(perhaps(number(3e-3, 0.03))),
        density=draw(number(300.0, 1200.0)),
        youngs_modulus=draw(perhaps(number(1e9, 2e10))),
        price=draw(perhaps(number(5.0, 300.0))),
        notes=draw(prose()),
    )


@st.composite
def spaces(draw: Draw) -> Space:
    """Any envelope."""
    shape = draw(st.sampled_from(["box", "wedge", "profile", "volume"]))
    if shape == "volume":
        return Space(shape=shape, net_volume=draw(number(3e-3, 0.5)))
    return Space(**_outline(draw, shape), net_volume=draw(perhaps(number(3e-3, 0.5))))


@st.composite
def briefs(draw: Draw) -> Brief:
    """A whole brief."""
    reach = draw(number(15.0, 60.0))
    top = draw(st.just(100.0) | number(1.5, 5.0).map(lambda share: share * reach))
    faces = st.sets(st.sampled_from(FACES)).map(lambda found: tuple(face for face in FACES if face in found))
    families = st.sets(st.sampled_from(FAMILIES), min_size=1).map(sorted).map(tuple)
    names = st.lists(words(12), max_size=3, unique=True)
    source = draw(sources())
    high_pass = any(each.kind == "high-pass" for each in source.filters)
    patterns = st.lists(words(12), max_size=3).map(tuple)
    return Brief(
        name=draw(words()),
        air=draw(st.just(standard_air()) | air()),
        space=draw(spaces()),
        target=Target(
            reach=reach,
            level=draw(number(80.0, 130.0)),
            band_top=top,
            content_from=draw(perhaps(number(0.3, 1.0).map(lambda share: share * reach))),
            placement=draw(st.just(Placement()) | placements()),
        ),
        source=source,
        protection=draw(st.sampled_from(["given", "chosen"] if high_pass else ["none", "given", "chosen"])),
        limits=Limits(
            budget=draw(perhaps(number(50.0, 3000.0))),
            weight=draw(perhaps(number(2.0, 80.0))),
            cones=draw(st.integers(1, 8)),
            passives=draw(st.integers(0, 8)),
            vents=draw(st.integers(0, 4)),
            families=draw(families),
            driver_faces=draw(faces),
            passive_faces=draw(faces),
            vent_faces=draw(faces),
            edge=draw(number(1e-3, 0.05)),
            depth_clearance=draw(number(1e-3, 0.05)),
            air_speed=draw(perhaps(number(5.0, 40.0))),
            q_leak=draw(number(3.0, 30.0)),
        ),
        parts=draw(
            st.just(PartsChoice())
            | st.builds(PartsChoice, drivers=patterns, passives=patterns, vents=patterns, sheet=words())
        ),
        drivers=tuple(draw(st.lists(drivers(), max_size=2, unique_by=lambda part: part.name))),
        passives=tuple(draw(st.lists(passives(), max_size=2, unique_by=lambda part: part.name))),
        vents=tuple(draw(stock_vents(name)) for name in draw(names)),
        sheets=tuple(draw(sheets(name)) for name in draw(names)),
        passive_facing=draw(st.sampled_from(["sideways", "up", "down", "any"])),
        notes=draw(prose()),
    )
