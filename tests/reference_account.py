"""What one batch brings to the inventory, worked out a second time with plain numbers, one batch after the other.

Written from the equations of the method and apart from the package, so that the two can be held against each other:
nothing here calls a calculation of `impact`. A batch is a plain mapping of the canonical columns of the log; None is a
blank. Moisture is on the wet basis (ISO 287), so dry matter is D = M (1 - w); the rest is conservation of mass.

1. Paper: D = sum of M_g (1 - w) over the grades g; w as recorded, else the usual moisture of the grade.
2. Own rejects pulped again: R = M_r (1 - w_p), with w_p the moisture of a finished part at room conditions.
3. Binder: B = M_b s, with the solids s as recorded, else of the workshop's recipe, else of the tables; B = dose D where
   no mass is recorded. As used it weighs B / s.
4. In: D + B + R. Out: n m (1 - w_p) of the n good parts, of the rejects, and T (1 - w_p) of the trim. Dried is what came
   out, else what went in.
5. Parts and losses are made of what was fresh in the pulp: share of a grade D_g / (D + B), of the binder B / (D + B).
   Without either, of own rejects, whose make-up other batches tell; without paper, but with binder, all is binder.
6. As weighed, dry fibre weighs D_x W / D, with W the paper as weighed; of own rejects alone D_x / (1 - w_p).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from impact.records.workshop import Workshop

Batch = Mapping[str, Any]
Central = Callable[[str], float]
Key = tuple[str, str, str, str]
"""Account, activity, item, evidence class."""
Account = dict[Key, float]

UNITS = {
    **dict.fromkeys(("shredding", "binder preparation", "blending", "pressing", "drying"), "kWh"),
    **dict.fromkeys(("pressings", "batches", "good parts", "rejects", "cost"), "1"),
    "water": "m3", "driving": "km", "hours": "h",
}  # fmt: skip
"""Unit of an activity; kg of every other."""


@dataclass(frozen=True)
class Pulp:
    """What went into a batch: kg as weighed and dry, and what its binder is."""

    dry: dict[str, float]
    weighed: float
    fibre: float
    own: float
    binder: str | None
    binder_dry: float
    solids: float

    @property
    def inflow(self) -> float:
        return self.fibre + self.binder_dry + self.own

    def shares(self) -> tuple[dict[str, float], float]:
        """Return the share of each grade, and of the binder, in what came of the pulp; equation 5."""
        fresh = self.fibre + self.binder_dry
        if fresh == 0.0:
            return {"own rejects": 1.0}, 0.0
        return {grade: dry / fresh for grade, dry in self.dry.items()}, self.binder_dry / fresh


@dataclass(frozen=True)
class Output:
    """What came out: counts, and dry kg of good parts, rejects and trim."""

    good: float
    rejects: float
    good_dry: float
    lost: dict[str, float]

    @property
    def outflow(self) -> float:
        return self.good_dry + self.lost["rejects"] + self.lost["trim"]


def reference_account(batch: Batch, workshop: Workshop, central: Central) -> Account:
    """Return the amounts of one batch by line, none of them 0.

    Parameters
    ----------
    batch : mapping
        Canonical columns of one batch, None where nothing was recorded.
    workshop : Workshop
        Parts, moulds, recipes, drying and vehicle.
    central : callable
        Central value of a factor key.
    """
    wet = central("part.moisture") if workshop.part_moisture is None else workshop.part_moisture
    pulp = _pulp(batch, workshop, central, wet)
    output = _output(batch, workshop, central, wet)
    lines = [
        *_paper(batch, pulp),
        *_binder(batch, workshop, pulp),
        *_parts(pulp, output, wet),
        *_losses(batch, pulp, output, wet),
        *_making(batch, workshop, pulp, output),
        *_counts(batch, pulp, output),
    ]
    return added([{key: amount} for key, amount in lines])


def added(accounts: Sequence[Account]) -> Account:
    """Return the sum of accounts by line, without lines that come to nothing."""
    found: dict[Key, list[float]] = {}
    for account in accounts:
        for key, amount in account.items():
            found.setdefault(key, []).append(amount)
    return {key: fsum(amounts) for key, amounts in found.items() if any(amounts)}


# -- the steps -------------------------------------------------------------------------------------


def _pulp(batch: Batch, workshop: Workshop, central: Central, wet: float) -> Pulp:
    dry, weighed = {}, 0.0
    for column, mass in batch.items():
        if column.startswith("paper.") and mass:
            grade = column[len("paper.") : -len("_kg")]
            moisture = batch["moisture"] if batch["moisture"] is not None else central(f"paper.moisture.{grade}")
            dry[grade] = mass * (1.0 - moisture)
            weighed += mass
    fibre = sum(dry.values())
    own = (batch["own_rejects_kg"] or 0.0) * (1.0 - wet)
    binder = None if batch["binder"] == "none" else batch["binder"]
    if binder is None:
        return Pulp(dry, weighed, fibre, own, None, 0.0, 1.0)
    if batch["binder_solids"] is not None:
        solids = batch["binder_solids"]
    elif _recipe_solids(workshop, binder) is not None:
        solids = _recipe_solids(workshop, binder)
    else:
        solids = central(f"binder.solids.{binder}")
    if batch["binder_kg"] is not None:
        binder_dry = batch["binder_kg"] * solids
    else:
        binder_dry = central(f"binder.dose.{binder}") * fibre
    return Pulp(dry, weighed, fibre, own, binder, binder_dry, solids)


def _recipe_solids(workshop: Workshop, binder: str) -> float | None:
    return workshop.binders[binder].solids if binder in workshop.binders else None


def _output(batch: Batch, workshop: Workshop, central: Central, wet: float) -> Output:
    good, rejects, trim = batch["good_parts"], batch["rejects"], batch["trim_kg"]
    mass = batch["part_mass_kg"] if batch["part_mass_kg"] is not None else workshop.parts[batch["part"]].mass_kg
    if rejects is None:  # a rate is rejects over all that was pressed
        rate = central("estimate.reject-rate")
        rejects = good / (1.0 - rate) - good
    if trim is None:
        trim = central("estimate.trim") * good * mass
    lost = {"rejects": rejects * mass * (1.0 - wet), "trim": trim * (1.0 - wet)}
    return Output(good, rejects, good * mass * (1.0 - wet), lost)


def _as_weighed(dry: float, pulp: Pulp, wet: float) -> float:
    return dry * pulp.weighed / pulp.fibre if pulp.weighed else dry / (1.0 - wet)


# -- the lines -------------------------------------------------------------------------------------

Lines = list[tuple[Key, float]]


def _paper(batch: Batch, pulp: Pulp) -> Lines:
    """Return the paper by weight, and what it would have become: dry where moisture is known, else as weighed."""
    lines: Lines = [(("mass", "dry fibre", "", "weighed"), pulp.fibre)]
    for grade, dry in pulp.dry.items():
        mass, item = batch[f"paper.{grade}_kg"], f"{grade}|{batch['fate'] or 'split'}"
        lines.append((("mass", "collected", item, "weighed"), mass))
        if batch["moisture"] is not None:
            lines.append((("diverted", "dry paper", item, "weighed"), dry))
        else:
            lines.append((("diverted", "paper as weighed", item, "weighed"), mass))
    return lines


def _binder(batch: Batch, workshop: Workshop, pulp: Pulp) -> Lines:
    """Return the binder: dry where its solids are known, as used where the tables give them, else by its dose."""
    name = pulp.binder
    if name is None:
        return []
    if batch["binder_kg"] is None:
        making = (("binder", "estimated binder", name, "estimated"), pulp.fibre)
    elif batch["binder_solids"] is not None or _recipe_solids(workshop, name) is not None:
        making = (("binder", "dry binder", name, "weighed"), pulp.binder_dry)
    else:
        making = (("binder", "binder as used", name, "weighed"), batch["binder_kg"])
    return [making, *_energy(batch, "binder", "binder preparation", name, pulp.binder_dry / pulp.solids)]


def _parts(pulp: Pulp, output: Output, wet: float) -> Lines:
    """Return what good parts are made of, and the paper that they put to use."""
    fibres, glue = pulp.shares()
    recovered = (pulp.fibre + pulp.binder_dry) / pulp.inflow if pulp.inflow else 1.0
    own_in_parts = output.good_dry * pulp.own / pulp.inflow if pulp.inflow else 0.0
    lines: Lines = [(("mass", "own rejects in parts", "", "weighed"), own_in_parts)]
    for item, share in fibres.items():
        dry = output.good_dry * share
        lines += [
            (("end_of_life", "fibre in parts", item, "weighed"), dry),
            (("mass", "put to use", item, "weighed"), _as_weighed(dry, pulp, wet)),
            (("mass", "recovered fibre in parts", item, "weighed"), dry * recovered),
            (("mass", "pulped again", item, "weighed"), _as_weighed(pulp.own * share, pulp, wet)),
        ]
    if pulp.binder is not None:
        lines.append((("end_of_life", "binder in parts", pulp.binder, "weighed"), output.good_dry * glue))
    return lines


def _losses(batch: Batch, pulp: Pulp, output: Output, wet: float) -> Lines:
    """Return rejects and trim by what they are made of and where they went; landfill where nobody wrote it."""
    fibres, glue = pulp.shares()
    lines: Lines = []
    for loss, column in (("rejects", "rejects"), ("trim", "trim_kg")):
        route = batch[f"{loss}_to"] or "landfill"
        stated = "weighed" if batch[f"{loss}_to"] else "assumed"
        evidence = "estimated" if batch[column] is None else stated
        for item, share in fibres.items():
            dry = output.lost[loss] * share
            lines.append((("end_of_life", "fibre in losses", f"{item}|{route}", evidence), dry))
            lines.append((("mass", "returned", f"{item}|{route}", evidence), _as_weighed(dry, pulp, wet)))
        if pulp.binder is not None:
            key = ("end_of_life", "binder in losses", f"{pulp.binder}|{route}", evidence)
            lines.append((key, output.lost[loss] * glue))
    return lines


def _energy(batch: Batch, account: str, activity: str, item: str, driver: float) -> Lines:
    """Return electricity as recorded, else the dry or wet mass that its estimate goes by."""
    column = f"{activity.replace(' ', '_')}_kwh"
    if batch[column] is None:
        return [((account, f"estimated {activity}", item, "estimated"), driver)]
    return [((account, activity, "electricity", batch[f"{column}_evidence"]), batch[column])]


def _making(batch: Batch, workshop: Workshop, pulp: Pulp, output: Output) -> Lines:
    """Return electricity, heat, water, mould pressings and driving."""
    pulped, drying = pulp.fibre + pulp.own, workshop.drying
    dried = output.outflow or pulp.inflow
    mould = workshop.parts[batch["part"]].mould
    life = "metered" if workshop.moulds[mould].retired else "assumed"
    lines: Lines = [
        *_energy(batch, "paper", "shredding", "", pulp.fibre),
        *_energy(batch, "making", "blending", "", pulped),
        *_energy(batch, "making", "pressing", "", pulped),
        *_energy(batch, "making", "drying", drying.dryer or "unrecorded", dried),
        (("mould", "pressings", mould, life), output.good + output.rejects),
    ]
    if drying.heated_room:
        lines.append((("making", "heat from the room", drying.heating, "estimated"), dried))
    if batch["water_l"] is None:
        lines.append((("making", "estimated water", "", "estimated"), pulped))
    else:
        lines.append((("making", "water", "", "weighed"), batch["water_l"] / 1000.0))
    if batch["transport_km"] is None:
        lines.append((("transport", "estimated driving", workshop.vehicle, "estimated"), pulp.weighed))
    else:
        lines.append((("transport", "driving", workshop.vehicle, "metered"), batch["transport_km"]))
    return lines


def _counts(batch: Batch, pulp: Pulp, output: Output) -> Lines:
    counts = {
        "batches": 1.0,
        "good parts": output.good,
        "rejects": output.rejects,
        "dry mass of good parts": output.good_dry,
        "dry mass in": pulp.inflow,
        "dry mass out": output.outflow,
        "dry binder": pulp.binder_dry,
        "hours": batch["hours"] or 0.0,
        "cost": batch["cost"] or 0.0,
    }
    return [(("count", activity, "", ""), amount) for activity, amount in counts.items()]


# -- the fines ---------------------------------------------------------------------------------------


def fines(account: Account) -> tuple[float, float]:
    """Return the fibre not found again, as weighed, and its share of the paper, from the sums over all batches.

    What came in is the paper and the rejects pulped again; what was found are good parts, rejects and trim. More found
    than came in is error of the scales, and no fines.
    """
    sums: dict[str, float] = {}
    for (name, activity, _, _), amount in account.items():
        if name == "mass":
            sums[activity] = sums.get(activity, 0.0) + amount
    came = sums.get("collected", 0.0) + sums.get("pulped again", 0.0)
    lost = max(came - sums.get("put to use", 0.0) - sums.get("returned", 0.0), 0.0)
    return (lost, lost / sums["collected"]) if sums.get("collected") else (0.0, 0.0)


def kept_from(account: Account, fate: str, shares: Mapping[str, Mapping[str, float]], to: str) -> float:
    """Return the paper kept from a fate, net: less what returned there as a loss, and less its fines.

    `shares` are the shares of the fates by grade and recorded fate, `to` is where fines go.
    """
    _, missing = fines(account)
    found = 0.0
    for (name, activity, item, _), amount in account.items():
        if (name, activity) == ("mass", "collected"):
            share = shares[item].get(fate, 0.0)
            found += amount * (share - {"sewer": missing * share, fate: missing}.get(to, 0.0))
        if (name, activity) == ("mass", "returned") and item.endswith(f"|{fate}"):
            found -= amount
    return found


# -- the make-up of own rejects --------------------------------------------------------------------


def with_makeup(account: Account, of_part: Account, of_all: Account) -> Account:
    """Return an account whose parts and losses of nothing but own rejects have the make-up of other batches.

    Parameters
    ----------
    account : dict
        Batches of one part.
    of_part, of_all : dict
        The sums over all batches of that part and of the workshop: the mean make-up of the parts of the first, else of
        the second, is taken over; else that of mixed paper.
    """
    makeup = _makeup(of_part) or _makeup(of_all) or {("fibre", "mixed"): 1.0}
    pieces: list[Account] = []
    for (name, activity, item, evidence), amount in account.items():
        what, stroke, route = item.partition("|")
        if name == "end_of_life" and what == "own rejects":
            where = activity.removeprefix("fibre ")
            for (kind, made_of), share in makeup.items():
                pieces.append({(name, f"{kind} {where}", f"{made_of}{stroke}{route}", evidence): amount * share})
        else:
            pieces.append({(name, activity, item, evidence): amount})
    return added(pieces)


def _makeup(account: Account) -> dict[tuple[str, str], float]:
    known = {
        (activity.split()[0], item): amount
        for (_, activity, item, _), amount in account.items()
        if activity in ("fibre in parts", "binder in parts") and item != "own rejects"
    }
    return {what: amount / sum(known.values()) for what, amount in known.items()}
