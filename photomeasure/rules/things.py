"""Which things can meet in a fit-up, what kind is each of, and what can hurt there?

A rule names the things it is for; a measurement names the things it lies between. A brake
hose is a hose, so a rule for hoses holds for it; another word for the same thing is a kind
of it too.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from photomeasure.records.job import HAZARDS
from photomeasure.registry import Registry

ANYTHING = "anything"


@dataclass(frozen=True)
class Thing:
    """One kind of thing. kind_of : the wider kinds it belongs to; hazards : what can hurt."""

    name: str
    kind_of: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


THINGS: Registry[Thing] = Registry(
    "thing",
    (
        Thing(ANYTHING),
        Thing("fixed part"),
        Thing("moving part", hazards=("moving",)),
        Thing("engine", hazards=("heat", "moving")),
        Thing("motor", ("engine",)),
        Thing("soft-mounted engine", ("engine",)),
        Thing("solid-mounted engine", ("engine",)),
        Thing("gearbox", ("engine",)),
        Thing("mount", ("fixed part",)),
        Thing("fan", ("moving part",)),
        Thing("cooler", ("fixed part",), ("heat", "pressure")),
        Thing("shroud", ("fixed part",)),
        Thing("exhaust", hazards=("heat",)),
        Thing("muffler", ("exhaust",)),
        Thing("silencer", ("exhaust",)),
        Thing("wet exhaust", ("exhaust",)),
        Thing("dry exhaust", ("exhaust",)),
        Thing("exhaust hose", ("hose", "wet exhaust")),
        Thing("combustible"),
        Thing("wood", ("combustible",)),
        Thing("wire"),
        Thing("cable", ("wire",)),
        Thing("battery cable", ("wire",)),
        Thing("battery", hazards=("heat",)),
        Thing("ignition source", hazards=("heat", "fuel")),
        Thing("fuel line", hazards=("fuel",)),
        Thing("fuel hose", ("fuel line", "hose")),
        Thing("fuel tank", ("fixed part",), ("fuel",)),
        Thing("petrol part", hazards=("fuel",)),
        Thing("oil line", hazards=("heat", "pressure")),
        Thing("gas line", hazards=("fuel", "pressure")),
        Thing("brake line", hazards=("brakes", "pressure")),
        Thing("brake hose", ("brake line", "hose")),
        Thing("hose"),
        Thing("coolant hose", ("hose",), ("heat", "pressure")),
        Thing("hydraulic hose", ("hose",), ("pressure",)),
        Thing("pressure hose", ("hose",), ("pressure",)),
        Thing("hose clamp"),
        Thing("spigot"),
        Thing("fitting"),
        Thing("duct"),
        Thing("control", hazards=("moving",)),
        Thing("throttle", ("control",)),
        Thing("suspension", ("moving part",), ("steering",)),
        Thing("tyre", ("moving part",)),
        Thing("tire", ("tyre",)),
        Thing("bicycle tyre", ("tyre",)),
        Thing("snow chain", ("tyre",)),
        Thing("wheel", ("moving part",)),
        Thing("arch", ("fixed part",)),
        Thing("frame", ("fixed part",)),
        Thing("brake caliper", hazards=("brakes",)),
        Thing("wheel guard", ("fixed part",)),
        Thing("guard", ("fixed part",)),
        Thing("steering part", ("moving part",), ("steering",)),
        Thing("handlebar", ("steering part",)),
        Thing("lever", ("steering part",)),
        Thing("chain", ("moving part",)),
        Thing("belt", ("moving part",)),
        Thing("V-belt", ("belt",)),
        Thing("toothed belt", ("belt",)),
        Thing("sprocket", ("moving part",)),
        Thing("pulley", ("moving part",)),
        Thing("shaft", ("moving part",)),
        Thing("universal joint", ("moving part",)),
        Thing("coupling", ("moving part",)),
        *(
            Thing(part, hazards=("moving",))
            for part in ("finger", "toes", "hand", "arm", "foot", "leg", "head", "body")
        ),
        Thing("plate"),
        Thing("plate edge"),
        Thing("bend"),
        Thing("hole"),
        Thing("laser-cut hole", ("hole",)),
        Thing("waterjet corner"),
        Thing("rivet hole", ("hole",)),
        Thing("gasket hole", ("hole",)),
        Thing("gasket"),
        Thing("screw"),
        Thing("cover"),
        Thing("printed part"),
    ),
    "photomeasure rules",
)
"""Everything a rule or a measurement can name."""


def is_a(name: str) -> tuple[str, ...]:
    """A thing's name and all the wider kinds it belongs to. Raises JobError if unknown."""
    wider = (kind for parent in THINGS[name].kind_of for kind in is_a(parent))
    return tuple(dict.fromkeys((name, *wider)))


def fits(wanted: str, thing: str) -> bool:
    """Whether a thing is of the kind wanted; everything is "anything"."""
    return wanted == ANYTHING or wanted in is_a(thing)


def thing_hazards(things: Iterable[str]) -> tuple[str, ...]:
    """What can hurt where these things meet, in the order of HAZARDS."""
    kinds = [THINGS[kind] for thing in things for kind in is_a(thing)]
    return tuple(h for h in HAZARDS if any(h in kind.hazards for kind in kinds))
