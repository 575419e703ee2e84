"""Election feeds by the Voting Information Project, version 6.0, on published open data.

tests/fixtures/vip: a subset of the feed of Maricopa County for 2020-11-03 and tables derived
from the whole of it (748 precincts, 560 locations), and the version 3 examples, all from
github votinginfoproject/vip-specification, CC BY 4.0 (LICENSE.md there), cut down or flattened.
"""

from __future__ import annotations

import shutil
import zipfile
from datetime import date
from pathlib import Path

import pytest

from kb.base.errors import InputError, Problems
from kb.exchange.vip import parse_csv, parse_xml
from kb.exchange.vip_store import take
from kb.incidents.store.folder import Folder
from tests.exchange.conftest import MANAGER, Take

HERE = Path(__file__).parents[1] / "fixtures" / "vip"
DAY = date(2020, 11, 3)
SUBSET = (HERE / "vip6_subset.xml").read_bytes()


def test_a_precinct_without_a_polling_place_is_no_error() -> None:
    feed = parse_xml(SUBSET, "feed.xml", DAY)
    assert (feed.precincts, feed.without_place) == (25, 25)
    # Of 20 locations five are drop boxes.
    assert (len(feed.places), feed.drop_boxes) == (15, 5)
    first = feed.places[0]
    assert first["place"] == "ev10042_0"
    assert first["address"] == "7410 E SUTTON DR, SCOTTSDALE, AZ, 85260"


def test_the_whole_county_goes_through(loaded: Take, folder: Folder, tmp_path: Path) -> None:
    """All 748 precincts and 560 locations, none of them joined."""
    assert loaded
    shutil.copy(HERE / "maricopa2020_polling_locations.csv", tmp_path / "polling_location.txt")
    shutil.copy(HERE / "maricopa2020_precincts.csv", tmp_path / "precinct.txt")
    report = take(folder, tmp_path, actor=MANAGER, election="E2")
    boxes = (HERE / "maricopa2020_polling_locations.csv").read_text().count(",true,")
    said = str(report.warnings[-1])
    assert "748 precincts, 748 of them name no polling place" in said
    assert report.new + int(said.split("; ")[1].split(maxsplit=1)[0]) == 560
    assert boxes >= 560 - report.new
    assert len(folder.record.places()) == 2 + report.new
    assert take(folder, tmp_path, actor=MANAGER, election="E2").same == report.new


def test_precincts_are_joined_by_the_table_of_links() -> None:
    names = ("polling_location.txt", "precinct.txt", "precinct_polling_location.txt")
    feed = parse_csv({name: (HERE / name).read_text() for name in names}, "feed")
    places = {row["place"]: row for row in feed.places}
    assert feed.without_place < feed.precincts
    joined = [row["precincts"] for row in places.values() if "precincts" in row]
    assert joined
    assert places["230011"]["name"] == "ALAMANCE CIVITAN CLUB HOUSE"
    assert places["230011"]["address"] == "3328 DOCTOR PICKETT RD, BURLINGTON, NC, 27215"


def test_what_the_feed_does_not_know_stays(loaded: Take, folder: Folder, tmp_path: Path) -> None:
    assert loaded
    path = tmp_path / "polling_location.txt"
    path.write_text("id,name,line1,city\nP01,=New Hall,2 Row,Town\n")
    with zipfile.ZipFile(tmp_path / "feed.zip", "w") as archive:
        archive.write(path, "feed/polling_location.txt")
    report = take(folder, tmp_path / "feed.zip", actor=MANAGER, election="E2")
    assert (report.new, report.changed) == (0, 1)
    place = folder.record.place("P01")
    assert place is not None
    assert (place.name, place.address) == ("=New Hall", "2 Row, Town")
    assert (place.phone, place.expected_voters, place.zone) == ("555-0101", 410, "Upland")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"<VipObject", "is not XML"),
        (SUBSET.replace(b'schemaVersion="6.0"', b'schemaVersion="5.0"'), "schemaVersion"),
        (SUBSET.replace(b"<IsDropBox>false", b"<IsDropBox>perhaps", 1), "IsDropBox"),
        (b'<!DOCTYPE a [<!ENTITY b "x">]><VipObject/>', "declares entities"),
    ],
)
def test_a_feed_that_the_schema_does_not_allow_is_told(data: bytes, says: str) -> None:
    with pytest.raises(Problems, match=says):
        parse_xml(data, "feed.xml", DAY)


def test_files_that_are_no_feed_are_told(loaded: Take, folder: Folder, tmp_path: Path) -> None:
    assert loaded
    with pytest.raises(Problems, match=r"polling_location\.txt is missing"):
        take(folder, tmp_path, actor=MANAGER, election="E2")
    with pytest.raises(InputError, match="no election"):
        take(folder, tmp_path, actor=MANAGER, election="E9")
    with pytest.raises(Problems, match="stands twice"):
        parse_csv({"polling_location.txt": "id,name\nA,x\nA,y\n"}, "feed")
