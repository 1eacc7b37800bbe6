"""Where a funder report answers what two standards ask a footprint report to hold, or that it does not.

The items are those of ISO 14067:2018, clause 7, and of the GHG Protocol Product Life Cycle Accounting and Reporting
Standard (2011), chapter 13, in our own words and from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from impact.base.language import message, translate


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that a standard asks for.

    Attributes
    ----------
    asked : str
        What is asked for.
    section : str
        Id of the section that answers it; blank where none does.
    said : str
        What stands there, or why it is not answered.
    """

    asked: str
    section: str
    said: str


ISO_14067 = (
    Item(
        message("Functional or declared unit, reference flow"),
        "parts",
        message("one good part over its service life; mass as weighed"),
    ),
    Item(
        message("System boundary, inputs and outputs that are elementary flows"),
        "method",
        message("stages named; use is nil; infrastructure and travel of people left out"),
    ),
    Item(
        message("Cut-off criteria"),
        "parts",
        message("recycled-content (cut-off) rule for collected paper; nothing else is cut off by size"),
    ),
    Item(
        message("Unit processes of importance"),
        "parts",
        message("footprint by stage; the stages that weigh most are seen in the chart"),
    ),
    Item(
        message("Where the data come from"),
        "quality",
        message("class of evidence of every amount; the records are attached"),
    ),
    Item(
        message("Greenhouse gases counted"),
        "method",
        message(
            "CO₂, CH₄ and N₂O where the account is ours; published factors in CO₂e hold what their publisher counted"
        ),
    ),
    Item(message("Characterization factors"), "method", message("100-year warming potentials, the set named")),
    Item(
        message("Allocation chosen and why"),
        "method",
        message("rejects to good parts, moulds by pressings, a shared run by batches"),
    ),
    Item(
        message("Timing of emissions and removals"),
        "account",
        message("landfill decay over the years named; no discounting, no delay credit"),
    ),
    Item(message("Quality of the data"), "quality", message("evidence words, shares from memory, own values")),
    Item(
        message("Sensitivity and uncertainty"),
        "decisions",
        message("break-even points, shares of the spread, 95 % intervals"),
    ),
    Item(
        message("Treatment of electricity"),
        "method",
        message("grid of the place, life-cycle basis, losses; no purchased certificates"),
    ),
    Item(
        message("Life-cycle interpretation, conclusions, limits"),
        "decisions",
        message("with what may not be said, and the note on the first page"),
    ),
    Item(message("Value choices disclosed"), "quality", message("everything assumed, each with what would replace it")),
    Item(
        message("Use and end-of-life assumptions"),
        "quality",
        message("fates assumed or stated; the part's own end of life is counted"),
    ),
    Item(message("Period for which the figure stands"), "made", message("first to last batch")),
    Item(message("Product category rules followed"), "", message("none is followed: none was found for such parts")),
    Item(
        message("Fossil and biogenic emissions and removals apart"),
        "parts",
        message(
            "biogenic carbon held is shown and not subtracted; biogenic CO₂ of decay and fire stands outside the sums"
        ),
    ),
    Item(
        message("Direct land-use change, aircraft"),
        "",
        message("not counted apart: published factors hold them or not, as their publisher chose"),
    ),
    Item(message("Critical review"), "summary", message("none was made; no comparison is asserted in public")),
)

GHG_PROTOCOL = (
    Item(
        message("Contact, and who made the inventory"),
        "",
        message("the workshop's name only: put a contact into the letter that goes with this report"),
    ),
    Item(
        message("Product studied, unit of analysis, reference flow"),
        "parts",
        message("every part by name, per good part over its service life"),
    ),
    Item(message("Kind of inventory"), "method", message("from collected paper to the end of life of the part")),
    Item(
        message("Version and date of the inventory"),
        "evidence",
        message("version, seed and draws in the attached settings; date on the cover if the workshop states one"),
    ),
    Item(
        message("Statement on limits of use and comparison"), "summary", message("on the first page, under the table")
    ),
    Item(
        message("Life-cycle stages and map of the processes"),
        "method",
        message("stages named; the flow diagram shows the paper"),
    ),
    Item(message("Processes left out, with the reason"), "parts", message("infrastructure, travel of people")),
    Item(message("Time boundary"), "account", message("landfill over the years named")),
    Item(message("Land-use change"), "", message("not counted: the paper is waste")),
    Item(message("Allocation methods"), "method", message("as above, and recycled content for collected paper")),
    Item(
        message("Data sources, quality, and efforts to better it"),
        "quality",
        message("with what to measure next for every part"),
    ),
    Item(message("Uncertainty, in words"), "quality", message("and in figures throughout")),
    Item(message("Source of the warming potentials"), "factors", message("row and citation")),
    Item(message("Total per unit of analysis"), "parts", message("all stages, with interval")),
    Item(message("Share of each stage"), "parts", message("grams of each stage beside the total")),
    Item(message("Biogenic and other emissions and removals apart"), "parts", message("as above")),
    Item(
        message("Carbon in the product that is not released"), "parts", message("biogenic CO₂ held; no storage credit")
    ),
    Item(
        message("Cradle-to-gate result apart"),
        "parts",
        message("the total less transport to the end and end of life, by the stage table"),
    ),
    Item(message("Assurance"), "", message("none by a third party; the file can be worked out again by anyone")),
    Item(
        message("Reduction target, base inventory"),
        "made",
        message("the workshop's target if it has one; no base inventory"),
    ),
)

STANDARDS = (
    (message("ISO 14067:2018, clause 7"), ISO_14067),
    (message("GHG Protocol, Product Life Cycle Accounting and Reporting Standard (2011), chapter 13"), GHG_PROTOCOL),
)


def standards(language: str) -> list[tuple[str, list[Item]]]:
    """Return the items of each standard in a language."""
    return [
        (
            translate(language, name),
            [Item(translate(language, one.asked), one.section, translate(language, one.said)) for one in items],
        )
        for name, items in STANDARDS
    ]
