"""The invented region: its sites, crops, seasons and true gains. Nothing here describes a real place or product.

Every number is invented (INV) unless a source stands beside it. Yields and gains are in the trade
unit of the crop (corn and soybean bu/ac, cotton lb lint/ac), rates in lb N/ac.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.contract.units import KG_HA_PER_LB_AC, bushel_kg_ha
from pipeline.contract.vocabulary import RAINFALL_CLASSES


@dataclass(frozen=True)
class Site:
    """One soil description. Its place is the first word of its name, so each site has its own weather."""

    name: str
    drainage_class: str
    drainage_group: str
    crops: tuple[str, ...]
    texture: str
    organic_matter_pct: float
    irrigated: str = "no"
    artificial_drainage: str = "none"

    @property
    def place(self) -> str:
        return self.name.split()[0]

    @property
    def initials(self) -> str:
        return "".join(word[0] for word in self.name.split())


ALL_CROPS = ("corn", "cotton", "soybean")
SITES = (  # INV
    Site("Sandreth Plain", "excessively drained", "R", ("corn", "cotton"), "sand", 0.9, irrigated="yes"),
    Site("Wimblestrand Sands", "somewhat excessively drained", "R", ALL_CROPS, "loamy sand", 1.2),
    Site("Brackholm Bench", "well drained", "W", ("corn", "soybean"), "silt loam", 2.6),
    Site("Dunnavel Ridge", "well drained", "W", ALL_CROPS, "loam", 2.2),
    Site("Merrowgate Bench", "well drained", "W", ("cotton", "soybean"), "fine sandy loam", 1.5),
    Site("Hobbleford Prairie", "moderately well drained", "W", ("corn", "soybean"), "silty clay loam", 3.8),
    Site("Askerdale Terrace", "moderately well drained", "W", ALL_CROPS, "silt loam", 2.0),
    Site(
        "Quillmoor Flats", "somewhat poorly drained", "P", ALL_CROPS, "silt loam", 2.4, artificial_drainage="subsurface"
    ),
    Site("Yarrowick Delta", "somewhat poorly drained", "P", ALL_CROPS, "silty clay", 1.9),
    Site("Pellivane Claypan", "poorly drained", "P", ("corn", "soybean"), "silt loam", 2.1),
    Site(
        "Tarnwick Bottom",
        "poorly drained",
        "P",
        ("corn", "cotton"),
        "silty clay loam",
        2.9,
        artificial_drainage="subsurface",
    ),
    Site(
        "Ulverdine Slough",
        "very poorly drained",
        "P",
        ("corn", "soybean"),
        "clay",
        4.6,
        artificial_drainage="surface",
    ),
)
# INV: degrees north and east, in the middle of an ocean, so that no real place is meant
POSITIONS = {
    "Sandreth": (34.62, -40.91),
    "Wimblestrand": (34.35, -40.42),
    "Brackholm": (35.41, -39.87),
    "Dunnavel": (35.83, -40.55),
    "Merrowgate": (35.02, -40.08),
    "Hobbleford": (36.12, -39.95),
    "Askerdale": (35.28, -40.61),
    "Quillmoor": (35.64, -39.42),
    "Yarrowick": (34.71, -39.61),
    "Pellivane": (36.21, -40.78),
    "Tarnwick": (34.93, -39.17),
    "Ulverdine": (35.97, -39.22),
}
SITE_NAMED = {site.name: site for site in SITES}
HIGH_RATE_SITES = (
    "Dunnavel Ridge",
    "Quillmoor Flats",
    "Pellivane Claypan",
)  # INV: corn is also tried at HIGH_RATES here


@dataclass(frozen=True)
class SeasonKind:
    """What a season brings: `class_places` of the twelve places have `rainfall_class`, the others are normal."""

    name: str
    rainfall_class: str
    class_places: int


# INV. The kinds follow each other in this order from FIRST_SEASON on. For "seasons to come" each kind is
# equally likely and the places concerned are drawn at random.
SEASON_KINDS = (
    SeasonKind("dry", "dry", 10),
    SeasonKind("normal", "normal", 0),
    SeasonKind("wet", "wet", 9),
    SeasonKind("normal with some wet sites", "wet", 3),
)
FIRST_SEASON = 2091
SPI_RANGE = {
    "dry": (-1.7, -1.1),
    "normal": (-0.8, 0.8),
    "wet": (1.1, 1.8),
}  # INV: clear of the cut points at -1 and +1


def kind_of(season: int) -> SeasonKind:
    return SEASON_KINDS[(season - FIRST_SEASON) % len(SEASON_KINDS)]


@dataclass(frozen=True)
class CropScenario:
    """How one crop is grown, tried and harvested, and how its yields vary. Standard deviations in yield units."""

    name: str
    yield_unit: str
    kg_ha_per_unit: float
    trials_per_season: int
    rates: tuple[int, ...]
    middle_rate: int
    mean_yield: float  # urea, one application, middle rate
    usual_yield: tuple[float, float]  # of fertilized plots
    sd_site: float
    sd_season: float
    sd_site_season: float
    tau: float  # true gains between site-years of one drainage x rainfall cell
    sd_block: float
    sd_plot: float
    row_spacing_in: float
    rows_harvested: int
    harvest_length_ft: tuple[int, int]
    scale_step_lb: float
    stand_plants_ac: tuple[float, float]
    planted: str  # month-day, about which trials scatter
    harvested: str
    cultivar: str
    zero_n_fraction: dict[str, float] = field(default_factory=dict)  # of the plateau, by drainage group
    join_lb_ac: dict[str, float] = field(default_factory=dict)  # where the quadratic-plateau levels off
    flat_n_response: float = 0.0  # where there is no join: any N adds this
    first_pass_share: float | None = None  # grower-standard split; None where N is not standard
    second_pass_days: int = 0
    moisture_pct: tuple[float, float] | None = None
    standard_moisture_pct: float = 0.0
    bushel_lb: float = 1.0
    test_weight_lb_bu: tuple[float, float] | None = None
    gin_turnout: tuple[float, float] | None = None


CORN = CropScenario(  # INV; bushel 56 lb at 15.5% (Ohio State AGF-502)
    name="corn", yield_unit="bu/ac", kg_ha_per_unit=bushel_kg_ha(56), trials_per_season=9,
    rates=(80, 120, 160), middle_rate=120, mean_yield=178, usual_yield=(65, 275),
    sd_site=18, sd_season=8, sd_site_season=14, tau=5, sd_block=6, sd_plot=11,
    row_spacing_in=30, rows_harvested=2, harvest_length_ft=(30, 40), scale_step_lb=0.1,
    stand_plants_ac=(32_000, 1_500), planted="05-02", harvested="10-01", cultivar="K1",
    zero_n_fraction={"R": 0.50, "W": 0.60, "P": 0.52}, join_lb_ac={"R": 160, "W": 150, "P": 155},
    first_pass_share=0.30, second_pass_days=33,
    moisture_pct=(18, 3), standard_moisture_pct=15.5, bushel_lb=56, test_weight_lb_bu=(57, 1.2),
)  # fmt: skip
COTTON = CropScenario(  # INV
    name="cotton", yield_unit="lb/ac", kg_ha_per_unit=KG_HA_PER_LB_AC, trials_per_season=6,
    rates=(40, 70, 100), middle_rate=70, mean_yield=1120, usual_yield=(520, 1880),
    sd_site=150, sd_season=70, sd_site_season=110, tau=40, sd_block=45, sd_plot=105,
    row_spacing_in=38, rows_harvested=2, harvest_length_ft=(35, 40), scale_step_lb=0.05,
    stand_plants_ac=(40_000, 4_000), planted="05-12", harvested="10-12", cultivar="G1",
    zero_n_fraction={"R": 0.80, "W": 0.85, "P": 0.80}, join_lb_ac={"R": 85, "W": 85, "P": 85},
    first_pass_share=0.35, second_pass_days=38, gin_turnout=(0.40, 0.015),
)  # fmt: skip
SOYBEAN = CropScenario(  # INV; bushel 60 lb (Iowa State test-weight sheet) at 13% (universal trade base, from memory)
    name="soybean", yield_unit="bu/ac", kg_ha_per_unit=bushel_kg_ha(60), trials_per_season=6,
    rates=(40, 80), middle_rate=80, mean_yield=58, usual_yield=(26, 89),
    sd_site=7, sd_season=2.5, sd_site_season=4.5, tau=1.0, sd_block=1.8, sd_plot=3.8,
    row_spacing_in=15, rows_harvested=4, harvest_length_ft=(34, 40), scale_step_lb=0.1,
    stand_plants_ac=(120_000, 12_000), planted="05-14", harvested="10-05", cultivar="B1",
    flat_n_response=0.9,
    moisture_pct=(12, 1.5), standard_moisture_pct=13, bushel_lb=60, test_weight_lb_bu=(57, 0.8),
)  # fmt: skip
CROPS = {crop.name: crop for crop in (CORN, COTTON, SOYBEAN)}
HIGH_RATES = (200, 240)

# True gain of the half-coated blend (C50), one application, at the same N rate, by drainage group and
# rainfall class (dry, normal, wet). INV.
GAIN_OVER_UREA_ONCE = {
    "corn": {"R": (1, 4, 9), "W": (-1, 2, 6), "P": (0, 6, 16)},
    "cotton": {"R": (5, 25, 60), "W": (-10, 10, 35), "P": (-5, 20, 55)},
    "soybean": {"R": (0, 0.3, 0.6), "W": (0, 0.2, 0.5), "P": (-0.2, 0.3, 0.8)},
}
GAIN_OVER_UREA_SPLIT = {
    "corn": {"R": (0, -1, -3), "W": (0, 0, 1), "P": (0, 1, 3)},
    "cotton": {"R": (0, -5, -25), "W": (0, 0, 5), "P": (0, 5, 15)},
}
CELL_GAINS = {"urea once": GAIN_OVER_UREA_ONCE, "urea split": GAIN_OVER_UREA_SPLIT}
BLEND_GAIN_FACTOR = {
    "C25": 0.6,
    "C50": 1.0,
    "C75": 1.1,
}  # INV: gain of each blend over urea once, as a multiple of C50's
GAIN_WEIGHT_AT_HIGH_RATE = {
    200: 0.5,
    240: 0.2,
}  # INV: sources cannot differ far up the plateau; 1 at lower rates


def cell_gain(contrast: str, crop: str, drainage_group: str, rainfall_class: str) -> float:
    """True mean gain of C50 over "urea once" or "urea split" in one drainage x rainfall cell, in yield units."""
    return float(CELL_GAINS[contrast][crop][drainage_group][RAINFALL_CLASSES.index(rainfall_class)])


N_PCT = {"urea": 46, "coated urea": 44, "starter": 10}  # urea 46%: trade standard; the others INV
STARTER_N_LB_AC = 10  # INV: background N of some trials
BLOCKS = 4
ODD_BLOCKS = {5: 3, 40: 5, 61: 3}  # INV: the n-th harvested trial has another number of blocks
