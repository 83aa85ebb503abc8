"""The invented hire firm: its 24 cars, and how each is used.

Every name here is made up. No such firm, make or model is known to us; a likeness is chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from seed_data.models import CARDAMOM, HAMPER, MERINGA, NUTMEG, OXBOW, QUADRILLE, Model, Slot

FIRM = "Quillbeck & Daughters, wedding and touring hire"
TIME_ZONE = "Europe/London"
CURRENCY = "GBP"
RECORDS_BEGIN = date(2020, 11, 1)
RECORDS_END = date(2026, 11, 14)


@dataclass(frozen=True)
class Car:
    """One car of the fleet.

    Attributes:
        here_since: when the firm got it; its papers are followed from here or from the fire on, if later.
        dial: what its odometer showed on the day from which its papers are followed, in `unit`.
        laid_up: when it stood, first and last day.
        new_instrument: the day on which another odometer went in.
        rolls_over: its dial goes past all nines within the records.
    """

    ref: str
    name: str
    model: Model
    built: str
    here_since: date
    unit: Literal["km", "mi"]
    dial: int
    km_per_year: float
    use: Literal["weddings", "touring", "film", "station run"]
    storage: str
    notes: str = ""
    laid_up: tuple[date, date] | None = None
    new_instrument: date | None = None
    rolls_over: bool = False
    degradable_harness: bool = False

    @property
    def followed_from(self) -> date:
        """The first day of this car's records."""
        return max(self.here_since, RECORDS_BEGIN)

    @property
    def slots(self) -> tuple[Slot, ...]:
        """Every part that may stand in this car's papers."""
        extra: tuple[Slot, ...] = (("harness_degr", None),) if self.degradable_harness else ()
        return self.model.always + extra + self.model.sometimes


GARAGE, BARN, OUTSIDE = "dry garage", "unheated barn", "outside under cover"

# fmt: off
CARS: tuple[Car, ...] = (
    Car("QD01", "Dorothea", NUTMEG, "1965", date(2016, 4, 9), "mi", 71240, 1300, "weddings", GARAGE),
    Car("QD02", "Clementine", NUTMEG, "1967-06", date(2018, 3, 17), "mi", 48815, 2100, "weddings", GARAGE),
    Car("QD03", "Ottoline", NUTMEG, "1966", date(2020, 11, 21), "mi", 98130, 1750, "weddings", GARAGE,
        "Dial has five figures and goes back to noughts.", rolls_over=True),
    Car("QD04", "Hyacinth", NUTMEG, "1969", date(2021, 5, 8), "mi", 63402, 1500, "weddings", BARN,
        "Stood in the barn waiting for a gearbox.", laid_up=(date(2023, 9, 20), date(2026, 4, 3))),
    Car("QD05", "Petronella", NUTMEG, "1968", date(2023, 3, 4), "mi", 20977, 2500, "weddings", GARAGE,
        "Bought at a sale with a shoebox of bills; most of them without a distance."),
    Car("QD06", "Barnaby", CARDAMOM, "1972", date(2015, 9, 12), "mi", 82310, 5200, "touring", GARAGE),
    Car("QD07", "Ignatius", CARDAMOM, "1974-03", date(2019, 2, 23), "mi", 55168, 4300, "touring", GARAGE),
    Car("QD08", "Leopold", CARDAMOM, "1976", date(2020, 12, 5), "mi", 39027, 6100, "touring", BARN),
    Car("QD09", "Montague", CARDAMOM, "1973", date(2021, 2, 20), "mi", 91455, 3900, "touring", GARAGE,
        "Instrument replaced in 2023 before the old one broke.", new_instrument=date(2023, 3, 15)),
    Car("QD10", "Crumpet", HAMPER, "1967~", date(2017, 6, 3), "mi", 30644, 1900, "film", OUTSIDE),
    Car("QD11", "Pickle", HAMPER, "1970", date(2021, 3, 27), "mi", 67719, 3400, "film", BARN),
    Car("QD12", "Bodkin", HAMPER, "1972", date(2022, 1, 15), "mi", 12380, 2800, "film", OUTSIDE,
        "Came from a collection, built date not certain."),
    Car("QD13", "Margery", OXBOW, "1982", date(2019, 10, 5), "mi", 104210, 8400, "touring", BARN,
        "Does the station run in August: long queues, full load."),
    Car("QD14", "Winifred", OXBOW, "1981-09", date(2020, 11, 14), "mi", 88320, 7600, "touring", BARN),
    Car("QD15", "Edith", OXBOW, "1984", date(2021, 4, 10), "mi", 131876, 9300, "touring", BARN),
    Car("QD16", "Mabel", OXBOW, "1979", date(2022, 9, 3), "mi", 76031, 5600, "film", OUTSIDE),
    Car("QD17", "Hettie", OXBOW, "1986", date(2020, 11, 7), "mi", 142955, 23500, "station run", OUTSIDE,
        "Out every day of the year, two drivers."),
    Car("QD18", "Anselm", QUADRILLE, "1988", date(2018, 10, 27), "km", 142610, 9800, "touring", GARAGE),
    Car("QD19", "Florian", QUADRILLE, "1989-11", date(2021, 1, 30), "km", 118404, 7200, "touring", GARAGE),
    Car("QD20", "Casimir", QUADRILLE, "1992", date(2021, 10, 16), "km", 97265, 6800, "touring", GARAGE,
        degradable_harness=True),
    Car("QD21", "Tiberius", QUADRILLE, "1993", date(2022, 3, 5), "km", 163730, 11200, "touring", BARN,
        degradable_harness=True),
    Car("QD22", "Serafina", MERINGA, "1991", date(2020, 11, 28), "km", 88140, 5100, "touring", GARAGE),
    Car("QD23", "Ginevra", MERINGA, "1993-05", date(2021, 6, 19), "mi", 61290, 4700, "touring", GARAGE,
        "The dial reads miles; the tax office wants kilometres."),
    Car("QD24", "Rosalba", MERINGA, "1995", date(2023, 2, 11), "km", 54872, 6300, "weddings", GARAGE),
)
# fmt: on
