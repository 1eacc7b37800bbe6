"""The terms of a report, each in one plain sentence of our own."""

from __future__ import annotations

from impact.base.language import message, translate

TERMS = {
    message("functional unit"): message("What is compared: one good part doing its job for its service life."),
    message("footprint"): message("The greenhouse gases of making, using and disposing of one part, added up."),
    message("CO₂e"): message(
        "Carbon dioxide equivalent: the amount of CO₂ that would warm the air as much as all the gases counted."
    ),
    message("warming potential"): message(
        "How much a kilogram of a gas warms the air over 100 years, beside a kilogram of CO₂."
    ),
    message("biogenic carbon"): message(
        "Carbon that a plant took from the air not long ago; burnt or decayed to CO₂, it is told apart and not added."
    ),
    message("fossil carbon"): message("Carbon from oil, gas or coal; burnt, it adds to the CO₂ in the air."),
    message("cut-off"): message(
        "The rule that waste paper arrives without the burden of its first life, and leaves what comes after recycling to the next user."
    ),
    message("factor"): message("A number of the tables that turns an amount into gases, energy or mass."),
    message("central value"): message("The result when every input has its best single value."),
    message("draw"): message(
        "One run of the calculation with every uncertain input picked at random within its spread."
    ),
    message("95 % interval"): message("The range that holds 95 of 100 draws, with as many left out below as above."),
    message("chance"): message("The share of the draws in which something is so."),
    message("break-even"): message(
        "The value of one input at which the moulded part and the plastic part emit the same."
    ),
    message("kept from landfill"): message(
        "Paper that would have gone to a landfill and did not, less what the workshop sends there itself."
    ),
    message("deferred"): message("Kept from landfill for now only: the part made of it is expected to end there."),
    message("fines"): message(
        "Small fibres and fillers that leave with the water of the press and are not found again."
    ),
    message("displaced"): message(
        "Plastic parts that were not made because a moulded part took their place, by the share that the workshop states."
    ),
    message("disposal avoided"): message(
        "The gases that the paper would have caused in a landfill, a fire or a compost heap."
    ),
    message("net account"): message(
        "What the workshop emitted, less the disposal and the plastic avoided, plus the recycling that lost its fibre."
    ),
    message("DOC"): message("Degradable organic carbon: the carbon in a waste that can decay."),
    message("recovered fibre"): message("Fibre from used paper, ready to be made into paper again."),
    message("metered, weighed"): message("An amount read off a meter or a scale: its error is small."),
    message("nameplate"): message("Energy worked out from the power printed on a device and the time that it ran."),
    message("estimated, assumed"): message(
        "An amount that nobody recorded, taken from the tables, and one that nobody looked into."
    ),
    message("seen, secondary copy"): message(
        "A value read in the publication itself, or in a reprint or data file of others."
    ),
    message("from memory, common practice"): message(
        "A published value that nobody here has seen, and a working assumption without a source."
    ),
}
"""What each term means, in the order in which a reader meets them."""


def glossary(language: str) -> list[tuple[str, str]]:
    """Return the terms in the order of the alphabet, each with its meaning, in a language."""
    told = ((translate(language, term), translate(language, said)) for term, said in TERMS.items())
    return sorted(told, key=lambda pair: pair[0].casefold())
