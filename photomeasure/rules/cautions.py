"""What must a person be told before acting on numbers about things that can hurt?

The cautions are printed in every output of a job that touches fuel, heat, brakes, steering,
pressure, lifting or moving parts. They leave the judgement to local codes and licensed
practice: a number that obeys a rule is only that.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from photomeasure.errors import JobError
from photomeasure.records.job import HAZARDS, Job, Rule
from photomeasure.rules.things import thing_hazards

CAUTIONS: dict[str, str] = {
    "fuel": (
        "Fuel: a teaspoon of petrol can explode a drum, and an emptied tank, can or line holds "
        "as much vapour (HSE leaflet INDG314, read as an excerpt). Before you weld, cut, grind "
        "or drill what held fuel: replace it, mend it cold, have it freed of gas, or give it to "
        "a specialist. The local code says who must pass fuel and gas parts."
    ),
    "heat": (
        "Heat: this photo shows cold parts standing still. Hot parts grow, move and set fire to "
        "what is near. Watch the gaps through the first warm run with an extinguisher at hand, "
        "and keep to the local fire code."
    ),
    "brakes": (
        "Brakes: no photo approves a brake. Whatever holds, feeds or works one is checked on "
        "the finished machine by a licensed person under the local code before it is used."
    ),
    "steering": (
        "Steering: no photo approves a steering part. Check from lock to lock and through the "
        "whole travel, and have it passed by a licensed person under the local code before use."
    ),
    "pressure": (
        "Pressure: vessels, gas and hydraulic lines burst without warning. Let the pressure off "
        "before you touch them; repair and test belong to licensed practice and the local code."
    ),
    "lifting": (
        "Lifting: a load that hangs or stands on a jack can fall. Keep from under it; lifting "
        "gear is rated and tested by licensed practice under the local code, never by a photo."
    ),
    "moving": (
        "Moving parts: this photo shows one position at rest. Stop and lock the machine before "
        "you reach in, turn it through its whole travel by hand, and put the guards back. No "
        "photo approves a guard: the local code says what must be guarded and how."
    ),
}

_WORDS: dict[str, str] = {
    "fuel": "fuel|petrol|gasoline|diesel|kerosene|carburett?or|tank|spigot|weld",
    "heat": "heat|hot|exhaust|muffler|silencer|burner|flue|stove|weld",
    "brakes": "brake",
    "steering": "steer|handlebar",
    "pressure": "pressure|hydraulic|pneumatic|compressed|boiler|lpg|cng",
    "lifting": "lift|hoist|crane|jack|sling|winch",
    "moving": "moving|belt|chain|pulley|gear|shaft|crank|crush|fan|driven?|motor",
}
_ENDINGS = "(?:s|es|ed|ing|er|ers)?"


def caution_hazards(job: Job, rules: Iterable[Rule] = ()) -> tuple[str, ...]:
    """The hazards a job declares, and those its words, its rules and what meets speak of.

    rules : the rules the job uses, from the library or its own. Raises JobError for a
    hazard that is not known.
    """
    return tuple(hazard for hazard, _ in _with_reasons(job, rules))


def cautions(job: Job, rules: Iterable[Rule] = ()) -> tuple[str, ...]:
    """The cautions for a job, in the order of HAZARDS; see `caution_hazards`.

    One that nobody declared says at its end what in the job called it up.
    """
    return tuple(f"{CAUTIONS[hazard]}{why}" for hazard, why in _with_reasons(job, rules))


def _with_reasons(job: Job, rules: Iterable[Rule]) -> Iterator[tuple[str, str]]:
    unknown = [hazard for hazard in job.hazards if hazard not in HAZARDS]
    if unknown:
        raise JobError(
            f"Unknown hazards: {', '.join(unknown)}. Known: {', '.join(HAZARDS)}. Change them."
        )
    texts = _texts_of(job, rules)
    for hazard in HAZARDS:
        if hazard in job.hazards:
            yield hazard, ""
            continue
        found = _called_up_by(hazard, job, texts)
        if found:
            yield hazard, f" (Told because {found}; the job's hazards do not name it.)"


def _called_up_by(hazard: str, job: Job, texts: Sequence[tuple[str, str]]) -> str:
    """What in a job speaks of a hazard, in words; empty where nothing does."""
    for entry in job.judged:
        if hazard in thing_hazards(entry.between):
            return f"{entry.name!r} is between {' and '.join(entry.between)}"
    wanted = re.compile(rf"\b(?:{_WORDS[hazard]}){_ENDINGS}\b")
    for where, text in texts:
        said = wanted.search(text.lower().replace("_", " "))
        if said:
            return f"{where} says “{said[0]}”"
    return ""


def _texts_of(job: Job, rules: Iterable[Rule]) -> list[tuple[str, str]]:
    """Everything in words that a job says: where it stands, and the text."""
    return [
        ("the title", job.title),
        ("the note", job.note),
        ("the position", job.position),
        *((f"feature {feature.name!r}", feature.name) for feature in job.features),
        *((f"{entry.name!r}", f"{entry.name} {entry.note}") for entry in job.judged),
        *((f"rule {r.name!r}", f"{r.name} {r.condition} {r.why}") for r in rules),
    ]
