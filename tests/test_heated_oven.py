"""Heat from the room: only parts that dry in room air, before a fan, or in a way not recorded draw it.

An invented workshop with figures worked out by hand.

Checked against, from outside:

- which dryer takes its heat from the room: energy balance (common practice, no source): an oven or a cabinet heats
  itself, and a dehumidifier gives the latent heat back when it condenses the water
- latent heat of water at 20 °C: IAPWS R7-97 as computed by the library iapws, 2,453.55 kJ/kg
"""

from __future__ import annotations

import pytest
from iapws import IAPWS97

from impact.account.assessment import assess
from impact.account.results import Results
from impact.factors.factorset import read_factors
from impact.records.workshop import Drying
from tests.frames import PLAIN, batches, workshop

OWN_HEAT = ("convection-oven", "heated-cabinet", "dehumidifier")


def made(dryer: str | None, *, heated: bool, heating: str = "electricity") -> Results:
    """Return 10 good parts and one reject of 50 g with 6 % water, pressed to 35 % solids, dried with 3 kWh in Germany."""
    drying = Drying(dryer=dryer, heated_room=heated, heating=heating, pressed_solids=0.35)  # type: ignore[arg-type]
    shop = workshop(country="DEU", part_moisture=0.06, drying=drying)
    return assess(shop, batches([{**PLAIN, "drying_kwh": 3.0}]), read_factors(), draws=20)


def making(results: Results) -> float:
    return results.parts[0].stages["making"]


@pytest.mark.parametrize("dryer", OWN_HEAT)
def test_heated_room_adds_nothing_to_a_dryer_with_heat_of_its_own(dryer: str) -> None:
    warm = made(dryer, heated=True)
    assert making(warm) == making(made(dryer, heated=False))
    # 3.1 kWh of electricity and 5 L of water: nothing else is used
    water = sum(read_factors().choose(f"water.{name}", ("world",)).factor.value for name in ("supply", "treatment"))
    by_hand = (3.1 * warm.settings.electricity_kgco2e_per_kwh + 0.005 * water) / 10.0
    assert making(warm) == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.parametrize("dryer", ["room-air", "fan", None])
def test_heated_room_gives_the_latent_heat_where_nothing_else_does(dryer: str | None) -> None:
    warm = made(dryer, heated=True)
    latent_kwh = (IAPWS97(T=293.15, x=1).h - IAPWS97(T=293.15, x=0).h) / 3600.0
    evaporated = 11 * 0.05 * 0.94 * (1 / 0.35 - 1 / 0.94)  # 0.927 kg
    heat = evaporated * latent_kwh * warm.settings.electricity_kgco2e_per_kwh / 10.0
    assert making(warm) - making(made(dryer, heated=False)) == pytest.approx(heat, rel=1e-4)


@pytest.mark.parametrize(("dryer", "told"), [*((name, False) for name in OWN_HEAT), ("fan", True), (None, True)])
def test_unheated_room_is_an_assumption_only_where_it_could_give_heat(dryer: str | None, told: bool) -> None:
    assert ("room-heat" in {entry.code for entry in made(dryer, heated=False).assumptions}) is told
