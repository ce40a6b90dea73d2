"""A position is on the earth, or it is not known: no map and no water use of a crop is worked out from another."""

from __future__ import annotations

import pytest

from tests.tiny_program import write_tiny_program

# latitude, longitude, as they are kept
POSITIONS = {
    ("35.12", "-40.25"): (35.12, -40.25),
    ("90", "-180"): (90.0, -180.0),
    ("-90", "180"): (-90.0, 180.0),
    ("90.01", "180.01"): (None, None),
    ("-90.01", "-180.01"): (None, None),
    ("3512", "-40.25"): (None, -40.25),  # without its point
    ("1e308", "-1e308"): (None, None),
    ("", ""): (None, None),
}
BEYOND = {name: f"sites.{name} outside its hard range" for name in ("latitude", "longitude")}


@pytest.fixture(scope="module")
def sites(tmp_path_factory):
    tiny = write_tiny_program(tmp_path_factory.mktemp("positions") / "program")
    for name in BEYOND:
        tiny.fill("sites", name, "")
    for number, (latitude, longitude) in enumerate(POSITIONS):
        tiny.append("sites", site_id=str(number), place="Alder", latitude=latitude, longitude=longitude)
    with tiny.loaded() as warehouse:
        read = warehouse.read("select site_id, latitude, longitude from trials.sites").set_index("site_id")
        return read, warehouse.table("trials.findings")


@pytest.mark.parametrize(("number", "kept"), [*enumerate(POSITIONS.values())], ids=map(", ".join, POSITIONS))
def test_a_position_beyond_the_poles_or_the_date_line_is_noted_and_not_known(sites, number, kept):
    read, findings = sites
    position = read.loc[str(number), list(BEYOND)]
    assert tuple(position.astype(object).where(position.notna(), None)) == kept
    noted = findings.loc[findings["site_id"] == str(number), "check_name"]
    delivered = list(POSITIONS)[number]
    beyond = {name for name, text, value in zip(BEYOND, delivered, kept, strict=True) if text and value is None}
    assert set(noted) & set(BEYOND.values()) == {BEYOND[name] for name in beyond}
