"""Run as a module: lay out one small box, so that the layout is compiled and kept for whoever asks next."""

from __future__ import annotations

import gc

import numpy as np

from boxwright.brief import Space
from boxwright.design import BoxPlan
from boxwright.workshop.items import Item
from boxwright.workshop.layout import lay_out, least_stretches

__all__ = ["rehearse"]


def rehearse() -> None:
    """Call what a search calls of the layout, once each."""
    kinds = [
        Item(kind="driver", frame_diameter=0.17, cutout_diameter=0.15, behind_diameter=0.09, depth=0.07),
        Item(kind="passive", frame_diameter=0.17, cutout_diameter=0.15, behind_diameter=0.12, depth=0.05),
    ]
    space = Space(width=0.5, height=0.3, depth=0.4)
    least_stretches(space, 0.018, "width", kinds, np.array([[0, 1]]), edge=0.01)
    lay_out(BoxPlan(width=0.5, height=0.3, depth=0.4), kinds, edge=0.01)


if __name__ == "__main__":
    gc.disable()  # a tenth of the time, and soon over
    rehearse()
