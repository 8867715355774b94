"""Laplace's equation around the flanged, rounded end of a round duct: what the end adds to the duct's length."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu


def added_length(flare: float, cells: int, far: float = 10.0, duct: float = 3.0) -> float:
    """Length beyond the plane of the mouth, over the duct's radius.

    Finite volumes over r and z, ``cells`` to the radius, faces weighted by their open share; the mouth at z = 0 in
    a rigid baffle, a unit flow in at the duct's far end, a point source's potential 1/(2πR) at R = ``far``.
    """
    h = 1.0 / cells
    rows = int(far / h) + 2
    behind = round((duct + flare) / h)
    r = (np.arange(rows) + 0.5) * h
    z = (np.arange(-behind, rows) + 0.5) * h
    rr, zz = np.meshgrid(r, z, indexing="ij")
    fine = (np.arange(16) + 0.5) / 16 - 0.5

    def is_open(at_r: np.ndarray, at_z: np.ndarray) -> np.ndarray:
        along = np.clip(at_z + flare, 0.0, flare)
        wall = 1.0 + flare - np.sqrt(np.maximum(flare**2 - along**2, 0.0))
        return np.where(at_z < 0.0, at_r < wall, True)

    side = (
        np.mean([is_open(rr[:-1] + h / 2, zz[:-1] + s * h) for s in fine], axis=0) * (r[:-1] + h / 2)[:, None]
    )
    at = zz[:, :-1] + h / 2
    at[:, behind - 1] = -1e-9  # the baffle closes this face outside the mouth
    front = np.mean([is_open(rr[:, :-1] + s * h, at) * (rr[:, :-1] + s * h) for s in fine], axis=0)

    index = np.arange(rr.size).reshape(rr.shape)
    one = np.concatenate((index[:-1].ravel(), index[:, :-1].ravel()))
    other = np.concatenate((index[1:].ravel(), index[:, 1:].ravel()))
    g = np.concatenate((side.ravel(), front.ravel()))
    one, other, g = one[g > 0], other[g > 0], g[g > 0]
    entries = (np.concatenate((-g, -g, g, g)), (np.r_[one, other, one, other], np.r_[other, one, one, other]))
    matrix = coo_matrix(entries, shape=(rr.size, rr.size)).tocsr()

    inlet = np.array([np.mean(((x + fine * h) < 1.0) * (x + fine * h)) for x in r])
    inflow = np.zeros(rr.size)
    inflow[index[:, 0]] = inlet / inlet.sum() / (2.0 * np.pi)
    fixed = ((zz > 0.0) & (np.hypot(rr, zz) > far)).ravel()
    p = np.zeros(rr.size)
    p[fixed] = (1.0 / (2.0 * np.pi * np.hypot(rr, zz))).ravel()[fixed]
    free = ~fixed & (matrix.diagonal() > 0.0)
    inside = matrix[free]
    p[free] = splu(inside[:, free].tocsc()).solve(inflow[free] - inside[:, fixed] @ p[fixed])
    drive = float(np.sum(p.reshape(rr.shape)[:, 0] * inlet) / inlet.sum())
    return drive * np.pi - (duct + flare - h / 2)
