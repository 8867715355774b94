"""An independent look at a layout: shapely for the faces, sampled points for the bodies, no code of the kernel."""

from __future__ import annotations

import numpy as np
from shapely import Point, Polygon, box, contains_xy

from boxwright.workshop.prism import faces
from boxwright.workshop.shape import outer_profile

SLACK = 1e-6


def _inside(plan, points):
    """Signed: all points within the inner prism, by shapely's own inward offset."""
    inner = Polygon(outer_profile(plan)).buffer(-plan.wall + SLACK, join_style="mitre", mitre_limit=100)
    x = points[:, 0]
    return (
        (x >= plan.wall - SLACK)
        & (x <= plan.width - plan.wall + SLACK)
        & contains_xy(inner, points[:, 2], points[:, 1])
    )


def _frame_of(inward):
    inward = np.array(inward)
    across = np.array([1.0, 0, 0]) if abs(inward[0]) < 0.5 else np.array([0, 0, 1.0])
    return inward, across, np.cross(inward, across)


def _parts(item, plan):
    """(radius, depth) of the round parts behind the panel."""
    parts = [
        (item.cutout_diameter / 2, item.shoulder_depth),
        (item.behind_diameter / 2, item.depth + item.clearance),
    ]
    return [(r, d) for r, d in parts if d > plan.wall and r > 0]


def _samples(place, item, plan, rng, n=1500):
    inward, a, b = _frame_of(place.inward)
    clouds = []
    for r, d in _parts(item, plan):
        rho = r * np.sqrt(rng.random(n))
        rho[: n // 3] = r
        phi = rng.random(n) * 2 * np.pi
        t = plan.wall + rng.random(n) * (d - plan.wall)
        t[n // 4 : n // 2] = d
        clouds.append(
            np.array(place.point)
            + t[:, None] * inward
            + (rho * np.cos(phi))[:, None] * a
            + (rho * np.sin(phi))[:, None] * b
        )
    return np.concatenate(clouds) if clouds else np.zeros((0, 3))


def _in_body(points, place, item, plan):
    inward, a, b = _frame_of(place.inward)
    rel = points - np.array(place.point)
    t, rho = rel @ inward, np.hypot(rel @ a, rel @ b)
    hit = np.zeros(len(points), bool)
    for r, d in _parts(item, plan):
        hit |= (t > plan.wall + SLACK) & (t < d - SLACK) & (rho < r - SLACK)
    return hit


def faults(plan, items, layout, edge, seed=0):
    """Everything that is wrong with a layout, in words; round items only behind the panel."""
    rng = np.random.default_rng(seed)
    every = {f.name: f for f in faces(plan)}
    found = []
    if sorted(p.item for p in layout.places) != list(range(len(items))):
        found.append("not every item has one place")
    for p in layout.places:
        item, face = items[p.item], every[p.face]
        if p.side not in item.faces:
            found.append(f"item {p.item} on {p.side}")
        outline = Polygon(face.usable)
        if item.frame_diameter:
            centre = Point(p.u, p.v)
            room = outline.exterior.distance(centre) if outline.contains(centre) else -1
            if room < item.frame_diameter / 2 + edge - SLACK:
                found.append(f"item {p.item}: {room} from the rim")
        elif not outline.buffer(SLACK).contains(
            box(p.u - p.half_u, p.v - p.half_v, p.u + p.half_u, p.v + p.half_v)
        ):
            found.append(f"slot {p.item} over the rim")
        cloud = _samples(p, item, plan, rng)
        if len(cloud) and not _inside(plan, cloud).all():
            found.append(f"item {p.item} through a wall")
        for q in layout.places:
            if q.item == p.item:
                continue
            if q.face == p.face:
                shapes = []
                for w in (p, q):
                    if items[w.item].frame_diameter:
                        shapes.append((Point(w.u, w.v), items[w.item].frame_diameter / 2))
                    else:
                        rect = box(w.u - w.half_u, w.v - w.half_v, w.u + w.half_u, w.v + w.half_v)
                        shapes.append((rect, 0.0))
                gap = shapes[0][0].distance(shapes[1][0]) - shapes[0][1] - shapes[1][1]
                if gap < edge - SLACK:
                    found.append(f"items {p.item} and {q.item}: {gap} apart")
            if len(cloud) and _in_body(cloud, q, items[q.item], plan).any():
                found.append(f"bodies {p.item} and {q.item} collide")
    return found
