"""Coupled chambers: the nodal solve, for openings that join one chamber to another."""

from __future__ import annotations

import numpy as np

from boxwright.acoustics.loads import Branch, Complex, Node
from boxwright.errors import CannotSolve

__all__ = ["nodal_pressures"]


def nodal_pressures(nodes: tuple[Node, ...], branches: tuple[Branch, ...], sd: float) -> dict[str, Complex]:
    """Pressure in each chamber for a cone velocity of 1 m/s outward. [Pa·s/m].

    Solves ``Y·p = U`` at every frequency, Y the nodal admittance matrix of all chambers; where no opening joins two
    chambers it is the two-load form.

    Parameters
    ----------
    sd : float
        Cone area of the equivalent driver. [m²]

    Returns
    -------
    dict of str to ndarray, shape (nf,)

    Raises
    ------
    CannotSolve
        If the network is singular, which takes a chamber that nothing reaches.
    """
    index = {node.name: i for i, node in enumerate(nodes)}
    nf = nodes[0].air.size
    matrix = np.zeros((nf, len(nodes), len(nodes)), np.complex128)
    flow = np.zeros((len(nodes), 1), np.complex128)
    for node in nodes:
        i = index[node.name]
        matrix[:, i, i] += node.air + node.leak
        flow[i, 0] = {"rear": -sd, "front": sd}.get(node.name, 0.0)
    for branch in branches:
        i = index[branch.chamber]
        matrix[:, i, i] += branch.y11
        if branch.to != "outside":
            j = index[branch.to]
            matrix[:, j, j] += branch.y22
            matrix[:, i, j] -= branch.y21
            matrix[:, j, i] -= branch.y21
    try:
        solved = np.linalg.solve(matrix, np.broadcast_to(flow, (nf, *flow.shape)))
    except np.linalg.LinAlgError as error:
        raise CannotSolve("the chambers' network has no unique solution") from error
    return {node.name: np.ascontiguousarray(solved[:, index[node.name], 0], np.complex128) for node in nodes}
