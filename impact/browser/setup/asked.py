"""The ten questions of a new folder: what is asked, why, and the defaults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from impact.base.catalogue import Names
from impact.browser.setup.fields import Field, sections

STANDS, KNOWN = "weighed", "known"
UNKNOWN = "unknown"

Default = str | tuple[str, str]
"""A default; where it hangs on the units, that in metric and that in US customary ones."""


@dataclass(frozen=True, slots=True)
class Question:
    """One screen.

    Attributes
    ----------
    name, title, why : str
        Name; what is asked; why it is.
    fields : mapping of str to Default
        Keys of its fields, each with its default.
    """

    name: str
    title: str
    why: str
    fields: Mapping[str, Default] = field(default_factory=dict)


SHARES = {"landfill": "", "incineration": "", "recycling": "", "composting": "", "evidence": ""}

QUESTIONS = (
    Question(
        "where", "Where is your workshop, and what is it called?",
        "Electricity, landfills and recycling differ from country to country: no answer changes the figures more.",
        {"name": "", "country": "", "units": ""},
    ),
    Question(
        "part", "What do you make?",
        "Every figure is for one good part. Weigh one that is dry; ten together and a tenth of it is better.",
        {"name": "tray", "mass": ("60", "2"), "service life": "2"},
    ),
    Question(
        "plastic", "Which plastic part does it stand in for?",
        "Only beside a plastic part that does the same job can the footprint be called higher or lower. Weigh one, if there "
        "is one. Where there is none, or nobody has weighed it yet, the rest of the figures come without it.",
        {
            "stands": "none", "plastic polymer": "PP", "plastic process": "injection-moulding", "plastic mass": ("50", "1.75"),
            "plastic service life": "2",
        },
    ),
    Question(
        "mould", "What do you press it in?",
        "A mould takes material and perhaps hours of printing, shared by all the parts that it presses before it is worn out.",
        {"name": "mould", "material": "PLA", "mass": ("300", "11"), "pressings": "200"},
    ),
    Question(
        "binder", "What binds the fibres?",
        "Binders differ tenfold in footprint, and decide whether a part may be composted. The first batch starts with it.",
        {"binder": "corn-starch"},
    ),
    Question(
        "blending", "What do you blend with?",
        "Once the blender is known, a batch needs only its minutes. Leave the name blank if you pulp by hand.",
        {"name": "blender", "power": "700"},
    ),
    Question(
        "drying", "How do the parts dry?",
        "Drying takes most of the electricity in many workshops: a fan for a day, or an oven for an hour. "
        "For what heats, or runs while nobody is there, the maker's manual and the fire rules of your place come first.",
        {"dryer": "room-air", "name": "", "power": "", "heated_room": ""},
    ),
    Question(
        "paper", "Where would the paper have gone without you?",
        "Only paper that would have gone to landfill is kept from it. Two weeks of looking into the bins tell more than any table.",
        {"known": UNKNOWN, "grade": "corrugated", **SHARES},
    ),
    Question(
        "end", "Where do your parts end?",
        "What goes to landfill later was kept from it only for now.",
        {"known": UNKNOWN, **SHARES},
    ),
    Question(
        "purpose", "What are the figures for?",
        "Records that are invented to try things out must say so in every report; pupils need more cautions.",
        {"purpose": "own"},
    ),
)  # fmt: skip
"""The questions in their order."""

LOOKED = ((UNKNOWN, "Nobody knows yet: the country's tables"), (KNOWN, "We know, as follows"))

OWN: Mapping[tuple[str, str], tuple[str, str, tuple[tuple[str, str], ...]]] = {
    ("part", "name"): ("Name", "as the records will call it", ()),
    ("mould", "name"): ("Name", "as the records will call it", ()),
    ("blending", "name"): ("Name", "as energy entries will call it: blender 12 min", ()),
    ("drying", "name"): ("Device", "that dries, if there is one, as energy entries will call it: fan 30 h", ()),
    ("plastic", "stands"): (
        "Is there one?", "a part of plastic that does the same job",
        ((STANDS, "Yes, and one was weighed"), ("none", "No, or nobody weighed one yet")),
    ),
    ("paper", "known"): ("Who knows?", "shares that count only where somebody looked", LOOKED),
    ("end", "known"): ("Who knows?", "shares that count only where somebody looked", LOOKED),
    ("purpose", "purpose"): (
        "The figures are", "what decides on cautions, and on what reports say of the records",
        (
            ("own", "for ourselves: to know, and to get better"), ("funder", "for whoever pays for the work"),
            ("school", "for a school: pupils make the parts"), ("trial", "to try it out: the records will be invented"),
        ),
    ),
}  # fmt: skip
"""Fields that are no settings: what each is called and says, and what may be chosen."""

CALLED = {
    "plastic polymer": "Polymer", "plastic process": "Formed by", "plastic mass": "Mass of one", "plastic service life": "Service life",
}  # fmt: skip
"""What fields are called where their question says the rest."""

MEANT = {
    ("where", "country"): "whose electricity, landfills and recycling are counted with",
    ("drying", "power"): "of the device, as its plate says or as measured; needed where there is one",
    ("blending", "power"): "of the device, as its plate says or as measured; needed where there is one",
}
"""What fields mean, where their question is narrower than the setting."""

TABLES = {
    "where": "workshop", "part": "parts", "plastic": "parts", "mould": "moulds", "blending": "equipment", "paper": "fates",
    "end": "end_of_life",
}  # fmt: skip
"""Which table of the settings the fields of a question are of."""


def fields_of(names: Names, *, us: bool) -> dict[tuple[str, str], Field]:
    """Return the field of every question and key, with the meaning of the setting that it becomes."""
    known = {section.key: section for section in sections(names, us=us, moulds=[])}
    settings = {(section.key, one.key): one for section in known.values() for one in section.fields}
    found: dict[tuple[str, str], Field] = {}
    for question in QUESTIONS:
        for key in question.fields:
            found[question.name, key] = _field(question.name, key, names, settings)
    grades = known["fates"].names
    found["paper", "grade"] = Field("grade", "the paper that you pulp most of", "choice", choices=grades)
    return found


def _field(question: str, key: str, names: Names, settings: Mapping[tuple[str, str], Field]) -> Field:
    if (question, key) in OWN:
        called, meaning, choices = OWN[question, key]
        return Field(key, meaning, "choice" if choices else "text", choices=choices, called=called)
    if key == "binder":
        return Field(key, "what holds the fibres together", "choice", choices=tuple(names.binders.items()))
    table = TABLES.get(question, "drying")
    found = settings.get((table, key)) or settings.get(("equipment" if key == "power" else "drying", key))
    if found is None:
        return Field(key, "", "text")
    meaning = MEANT.get((question, key), found.meaning)
    return replace(
        found, left_out="", called=CALLED.get(key, ""), meaning=meaning, needed=found.needed and key != "power"
    )
