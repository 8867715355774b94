"""From a brief to a loudspeaker box for low notes, proved before it is cut and trimmed after it was built.

The public surface: what to load, what to compute, and the things it is done with. Everything else is reached through
its module. Names are imported when they are first used, so that ``import boxwright`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from boxwright.keeping import keep_compiled_code

if TYPE_CHECKING:
    from boxwright.acoustics.response import Response, predict
    from boxwright.acoustics.tuning import added_mass_for, passive_tuning, vent_length_for, vented_tuning
    from boxwright.air import Air, standard_air
    from boxwright.brief import Brief, Limits, PartsChoice, Space, Target
    from boxwright.design import (
        Arrangement,
        BoxPlan,
        Chamber,
        Design,
        DuctSegment,
        Filter,
        PassiveOpening,
        Placement,
        Room,
        Source,
        TransferTable,
        VentOpening,
    )
    from boxwright.errors import BoxwrightError, CannotSolve, DoesNotFit, InputError
    from boxwright.files import edit_design, load_brief, load_design, save_brief, save_design
    from boxwright.job import parts_for
    from boxwright.largesignal.proof import Proof, prove
    from boxwright.parts import Amplifier, Body, Coil, Driver, Passive, Sheet, VentStock
    from boxwright.parts.completing import complete_driver, complete_passive
    from boxwright.parts.store import Store, open_store
    from boxwright.search.families import PartsOffer
    from boxwright.search.run import shortlist
    from boxwright.search.shortlist import Candidate, Shortlist

_WHERE = {
    "boxwright.acoustics.response": ("Response", "predict"),
    "boxwright.acoustics.tuning": ("added_mass_for", "passive_tuning", "vent_length_for", "vented_tuning"),
    "boxwright.air": ("Air", "standard_air"),
    "boxwright.brief": ("Brief", "Limits", "PartsChoice", "Space", "Target"),
    "boxwright.design": (
        "Arrangement", "BoxPlan", "Chamber", "Design", "DuctSegment", "Filter", "PassiveOpening", "Placement", "Room",
        "Source", "TransferTable", "VentOpening",
    ),
    "boxwright.errors": ("BoxwrightError", "CannotSolve", "DoesNotFit", "InputError"),
    "boxwright.files": ("edit_design", "load_brief", "load_design", "save_brief", "save_design"),
    "boxwright.job": ("parts_for",),
    "boxwright.largesignal.proof": ("Proof", "prove"),
    "boxwright.parts": ("Amplifier", "Body", "Coil", "Driver", "Passive", "Sheet", "VentStock"),
    "boxwright.parts.completing": ("complete_driver", "complete_passive"),
    "boxwright.parts.store": ("Store", "open_store"),
    "boxwright.search.families": ("PartsOffer",),
    "boxwright.search.run": ("shortlist",),
    "boxwright.search.shortlist": ("Candidate", "Shortlist"),
}  # fmt: skip
_HOME = {name: module for module, names in _WHERE.items() for name in names}

__all__ = [
    "Air",
    "Amplifier",
    "Arrangement",
    "Body",
    "BoxPlan",
    "BoxwrightError",
    "Brief",
    "Candidate",
    "CannotSolve",
    "Chamber",
    "Coil",
    "Design",
    "DoesNotFit",
    "Driver",
    "DuctSegment",
    "Filter",
    "InputError",
    "Limits",
    "PartsChoice",
    "PartsOffer",
    "Passive",
    "PassiveOpening",
    "Placement",
    "Proof",
    "Response",
    "Room",
    "Sheet",
    "Shortlist",
    "Source",
    "Space",
    "Store",
    "Target",
    "TransferTable",
    "VentOpening",
    "VentStock",
    "added_mass_for",
    "complete_driver",
    "complete_passive",
    "edit_design",
    "load_brief",
    "load_design",
    "open_store",
    "parts_for",
    "passive_tuning",
    "predict",
    "prove",
    "save_brief",
    "save_design",
    "shortlist",
    "standard_air",
    "vent_length_for",
    "vented_tuning",
]


keep_compiled_code()


def __getattr__(name: str) -> object:
    """Import a public name when it is first asked for."""
    if name not in _HOME:
        raise AttributeError(f"module 'boxwright' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """The public names."""
    return sorted(__all__)
