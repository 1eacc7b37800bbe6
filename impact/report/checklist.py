"""Where a funder report answers what two standards ask a footprint report to hold, or that it does not.

The items are those of ISO 14067:2018, clause 7, and of the GHG Protocol Product Life Cycle Accounting and Reporting
Standard (2011), chapter 13, in our own words and from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


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
        "Functional or declared unit, reference flow", "parts", "one good part over its service life; mass as weighed"
    ),
    Item(
        "System boundary, inputs and outputs that are elementary flows",
        "method",
        "stages named; use is nil; infrastructure and travel of people left out",
    ),
    Item(
        "Cut-off criteria",
        "parts",
        "recycled-content (cut-off) rule for collected paper; nothing else is cut off by size",
    ),
    Item(
        "Unit processes of importance", "parts", "footprint by stage; the stages that weigh most are seen in the chart"
    ),
    Item("Where the data come from", "quality", "class of evidence of every amount; the records are attached"),
    Item(
        "Greenhouse gases counted",
        "method",
        "CO₂, CH₄ and N₂O where the account is ours; published factors in CO₂e hold what their publisher counted",
    ),
    Item("Characterization factors", "method", "100-year warming potentials, the set named"),
    Item("Allocation chosen and why", "method", "rejects to good parts, moulds by pressings, a shared run by batches"),
    Item(
        "Timing of emissions and removals",
        "account",
        "landfill decay over the years named; no discounting, no delay credit",
    ),
    Item("Quality of the data", "quality", "evidence words, shares from memory, own values"),
    Item("Sensitivity and uncertainty", "decisions", "break-even points, shares of the spread, 95 % intervals"),
    Item(
        "Treatment of electricity", "method", "grid of the place, life-cycle basis, losses; no purchased certificates"
    ),
    Item(
        "Life-cycle interpretation, conclusions, limits",
        "decisions",
        "with what may not be said, and the note on the first page",
    ),
    Item("Value choices disclosed", "quality", "everything assumed, each with what would replace it"),
    Item(
        "Use and end-of-life assumptions", "quality", "fates assumed or stated; the part's own end of life is counted"
    ),
    Item("Period for which the figure stands", "made", "first to last batch"),
    Item("Product category rules followed", "", "none is followed: none was found for such parts"),
    Item(
        "Fossil and biogenic emissions and removals apart",
        "parts",
        "biogenic carbon held is shown and not subtracted; biogenic CO₂ of decay and fire stands outside the sums",
    ),
    Item(
        "Direct land-use change, aircraft",
        "",
        "not counted apart: published factors hold them or not, as their publisher chose",
    ),
    Item("Critical review", "summary", "none was made; no comparison is asserted in public"),
)

GHG_PROTOCOL = (
    Item(
        "Contact, and who made the inventory",
        "",
        "the workshop's name only: put a contact into the letter that goes with this report",
    ),
    Item(
        "Product studied, unit of analysis, reference flow",
        "parts",
        "every part by name, per good part over its service life",
    ),
    Item("Kind of inventory", "method", "from collected paper to the end of life of the part"),
    Item(
        "Version and date of the inventory",
        "evidence",
        "version, seed and draws in the attached settings; date on the cover if the workshop states one",
    ),
    Item("Statement on limits of use and comparison", "summary", "on the first page, under the table"),
    Item("Life-cycle stages and map of the processes", "method", "stages named; the flow diagram shows the paper"),
    Item("Processes left out, with the reason", "parts", "infrastructure, travel of people"),
    Item("Time boundary", "account", "landfill over the years named"),
    Item("Land-use change", "", "not counted: the paper is waste"),
    Item("Allocation methods", "method", "as above, and recycled content for collected paper"),
    Item("Data sources, quality, and efforts to better it", "quality", "with what to measure next for every part"),
    Item("Uncertainty, in words", "quality", "and in figures throughout"),
    Item("Source of the warming potentials", "factors", "row and citation"),
    Item("Total per unit of analysis", "parts", "all stages, with interval"),
    Item("Share of each stage", "parts", "grams of each stage beside the total"),
    Item("Biogenic and other emissions and removals apart", "parts", "as above"),
    Item("Carbon in the product that is not released", "parts", "biogenic CO₂ held; no storage credit"),
    Item(
        "Cradle-to-gate result apart",
        "parts",
        "the total less transport to the end and end of life, by the stage table",
    ),
    Item("Assurance", "", "none by a third party; the file can be worked out again by anyone"),
    Item("Reduction target, base inventory", "made", "the workshop's target if it has one; no base inventory"),
)

STANDARDS = (
    ("ISO 14067:2018, clause 7", ISO_14067),
    ("GHG Protocol, Product Life Cycle Accounting and Reporting Standard (2011), chapter 13", GHG_PROTOCOL),
)
