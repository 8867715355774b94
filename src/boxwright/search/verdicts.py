"""The limits in words."""

from __future__ import annotations

from boxwright.search.blocks import LAYOUT
from boxwright.search.candidate import (
    AIR_SPEED,
    BUDGET,
    CONE_TRAVEL,
    CURRENT,
    LENGTH_LONG,
    LENGTH_SHORT,
    MASS_HEAVY,
    MASS_LIGHT,
    NET_LARGE,
    NO_AIR,
    PASSIVE_TRAVEL,
    POWER,
    PROTECTION,
    REACH,
    VENT_FILLS,
    VOLTAGE,
    WEIGHT,
)

__all__ = ["BINDING", "FAMILY_WORDS", "LOAD_WORDS", "REASON_WORDS"]

REASON_WORDS: dict[int, str] = {
    NET_LARGE: "more air inside than the brief allows",
    NO_AIR: "the parts leave no air in the box",
    VENT_FILLS: "a vent long enough would take up the whole box",
    MASS_LIGHT: "the passives are too heavy for this tuning even without added mass",
    MASS_HEAVY: "the passives would need more mass than they take",
    LENGTH_SHORT: "the vent would be shorter than the wall is thick",
    LENGTH_LONG: "the vent is too long for the space, folded included",
    BUDGET: "over budget",
    WEIGHT: "over the weight limit",
    CONE_TRAVEL: "the cone leaves its travel before the level is reached",
    PASSIVE_TRAVEL: "the passives leave their travel before the level is reached",
    AIR_SPEED: "the air in the vent is too fast before the level is reached",
    VOLTAGE: "the amplifier runs out of volts before the level is reached",
    CURRENT: "the amplifier runs out of current before the level is reached",
    POWER: "the driver's rated power is used up before the level is reached",
    REACH: "the response is more than 3 dB down at the reach",
    PROTECTION: "cone or passives leave their travel below the reach, whatever high-pass is allowed",
    LAYOUT: "cones, frames or vents find no place on the faces allowed",
}

FAMILY_WORDS: dict[str, str] = {
    "closed": "closed",
    "vented": "port",
    "passive": "passive",
    "bandpass": "bandpass",
}

LOAD_WORDS = "the load is below what the amplifier is rated for"

BINDING: dict[int, str] = {
    CONE_TRAVEL: "driver travel",
    PASSIVE_TRAVEL: "passive travel",
    AIR_SPEED: "air speed",
    VOLTAGE: "amplifier voltage",
    CURRENT: "amplifier current",
    POWER: "rated power",
}
