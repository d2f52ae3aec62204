"""GPX as it comes: what is read, and what is refused with a reason."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from tracks import gpx_text, write

from locosim.errors import ScenarioError
from locosim.scenario import gpx as module
from locosim.scenario.gpx import read_gpx
from locosim.scenario.points import read_points

POINTS = [(46.0 + 0.001 * n, 7.0, 300.0 + n) for n in range(5)]
GOOD = gpx_text(POINTS, [("Alpha", 46.0, 7.0)])


def refused(folder: Path, text: str, match: str, **options: str) -> str:
    with pytest.raises(ScenarioError, match=match) as error:
        read_gpx(write(folder, text), **options)
    assert str(folder / "track.gpx") in str(error.value)
    return str(error.value)


def test_points_heights_and_places_are_read(tmp_path: Path) -> None:
    trace, sha256 = read_gpx(write(tmp_path, GOOD))
    assert trace.name == "Test track"
    assert trace.latitude == pytest.approx([p[0] for p in POINTS])
    assert trace.elevation == pytest.approx([p[2] for p in POINTS])
    assert trace.places[0].name == "Alpha"
    assert len(sha256) == 64


def test_missing_times_and_heights_are_no_error(tmp_path: Path) -> None:
    text = gpx_text([(46.0, 7.0, None), (46.1, 7.0, 5.0)])
    assert "<time>" not in text
    trace = read_gpx(write(tmp_path, text)).trace
    assert math.isnan(trace.elevation[0])
    assert trace.elevation[1] == 5.0


def test_every_version_and_no_namespace_is_read(tmp_path: Path) -> None:
    for text in (
        GOOD.replace("GPX/1/1", "GPX/1/0"),
        GOOD.replace(' xmlns="http://www.topografix.com/GPX/1/1"', ""),
        GOOD.replace("<gpx ", "<g:gpx xmlns:g='http://www.topografix.com/GPX/1/1' ").replace(
            "</gpx>", "</g:gpx>"
        ),
    ):
        assert len(read_gpx(write(tmp_path, text)).trace.latitude) == 5
    assert len(read_gpx(write(tmp_path, GOOD.replace("UTF-8", "ISO-8859-1"))).trace.latitude) == 5


def test_a_route_counts_as_a_track_where_there_is_none(tmp_path: Path) -> None:
    text = GOOD.replace("<trk>", "<rte>").replace("</trk>", "</rte>").replace("trkpt", "rtept")
    text = text.replace("<trkseg>", "").replace("</trkseg>", "")
    assert len(read_gpx(write(tmp_path, text)).trace.latitude) == 5


def test_segments_are_joined_with_a_note(tmp_path: Path) -> None:
    half = GOOD.index("<trkpt", GOOD.index("<trkpt") + 1)
    trace = read_gpx(write(tmp_path, GOOD[:half] + "</trkseg><trkseg>" + GOOD[half:])).trace
    assert len(trace.latitude) == 5
    assert "2 segments" in trace.notes[0].text


def test_of_two_tracks_one_must_be_chosen(tmp_path: Path) -> None:
    body = GOOD[GOOD.index("<trk>") : GOOD.index("</gpx>")]
    other = body.replace("Test track", "Other").replace("46.00", "47.00")
    text = GOOD.replace(body, body + other)
    message = refused(tmp_path, text, "has 2 tracks: choose one by its number or name with --track")
    assert "1 Test track, 5 points; 2 Other, 5 points" in message
    path = write(tmp_path, text)
    assert read_gpx(path, "Other").trace.latitude[0] == pytest.approx(47.0)
    assert read_gpx(path, "2").trace.name == "Other"
    refused(tmp_path, text, "has no track 'Third'; there are: 1 Test track", track="Third")
    refused(tmp_path, text, "has no track '3'", track="3")


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        (
            'lat="46.00100000"',
            'lat="146.001"',
            r"point 2: lat must be a number from -89 to 89, found '146.001'",
        ),
        ('lat="46.00100000"', 'lat="nan"', "point 2: lat must be"),
        ('lat="46.00100000"', 'lat="inf"', "point 2: lat must be"),
        ('lat="46.00100000"', "", "point 2: lat must be a number .* found nothing"),
        ('lon="7.00000000"><ele>303', 'lon="190"><ele>303', "point 4: lon must be"),
        ("<ele>302.0000", "<ele>deep", "point 3: ele must be a number above -1000"),
        ("<ele>302.0000", "<ele>99999", "point 3: ele must be"),
        ("<gpx ", "<kml ", "not valid XML"),
        ("</gpx>", "", "not valid XML"),
        ("UTF-8", "no-such-encoding", "not valid XML"),
    ],
)
def test_what_is_wrong_is_named_with_its_place(tmp_path: Path, old: str, new: str, match: str) -> None:
    assert old in GOOD
    refused(tmp_path, GOOD.replace(old, new, 1), match)


def test_every_wrong_point_is_listed_at_once_up_to_some_number(tmp_path: Path) -> None:
    message = refused(tmp_path, gpx_text([(200.0, 400.0, 1.0)] * 500), "40 problems")
    assert message.count("lat must be") == 20


def test_other_files_are_not_taken_for_tracks(tmp_path: Path) -> None:
    refused(tmp_path, "<kml><Document/></kml>", "begins with <kml>, not <gpx>")
    refused(tmp_path, "", "not valid XML")
    refused(tmp_path, "chainage,elevation\n0,1\n", "not valid XML")
    refused(tmp_path, '<gpx version="1.1"><wpt lat="1" lon="2"/></gpx>', "has no track")
    refused(tmp_path, gpx_text(POINTS[:1]), "one point")
    with pytest.raises(ScenarioError, match="no such file"):
        read_gpx(tmp_path / "none.gpx")
    with pytest.raises(ScenarioError, match="is a directory"):
        read_gpx(tmp_path)


def test_entities_and_document_types_are_refused(tmp_path: Path) -> None:
    bomb = (
        '<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;">]>'
    )
    outside = '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    for kind in (bomb, outside, "<!DOCTYPE gpx>", '<!DOCTYPE gpx SYSTEM "http://example.com/gpx.dtd">'):
        text = GOOD.replace("<gpx ", kind + "<gpx ", 1).replace(
            "Test track", "&c;" if kind == bomb else "&x;", 1
        )
        if kind.startswith("<!DOCTYPE gpx>") or "dtd" in kind:
            text = GOOD.replace("<gpx ", kind + "<gpx ", 1)
        refused(tmp_path, text, "document type or entities")


def test_a_file_that_is_too_large_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(tmp_path, GOOD)
    with path.open("ab") as file:
        file.truncate(100_000_000)  # sparse: takes no room
    with pytest.raises(ScenarioError, match="is larger than 50 MB; export the track with fewer points"):
        read_gpx(path)
    monkeypatch.setattr(module, "MAX_GPX_SIZE", 100)
    refused(tmp_path, GOOD, "is larger than")


def test_deep_nesting_is_read_past(tmp_path: Path) -> None:
    text = GOOD.replace("<trk>", "<a>" * 30_000 + "</a>" * 30_000 + "<trk>")
    assert len(read_gpx(write(tmp_path, text)).trace.latitude) == 5


def test_names_are_made_one_line(tmp_path: Path) -> None:
    text = GOOD.replace("Test track", "Up \n  the\tvalley \u202e!").replace("Alpha", "Caf\u00e9 &amp; Sons")
    trace = read_gpx(write(tmp_path, text)).trace
    assert trace.name == "Up the valley !"
    assert trace.places[0].name == "Café & Sons"


def test_heights_by_chainage_are_read_with_all_problems(tmp_path: Path) -> None:
    path = write(tmp_path, "chainage [mile],elevation [ft]\n0,1000\n1,1010\n2.5,1040\n", "heights.csv")
    heights = read_points(path).heights
    assert heights.chainage == pytest.approx(np.array([0.0, 1609.344, 4023.36]))
    assert heights.height == pytest.approx(np.array([304.8, 307.848, 316.992]))
    path = write(tmp_path, "chainage [mile],elevation [ft]\n0,1000\n1,\n1,1010\n0.5,1\n", "heights.csv")
    with pytest.raises(ScenarioError) as error:
        read_points(path)
    assert "row 3" in str(error.value)
    assert "no elevation" in str(error.value)
    assert str(error.value).count("must be beyond the row before") == 2
    for text, match in (
        ("chainage [mile],elevation [ft]\n0,1000\n", "1 points"),
        ("a,b\n1,2\n", "unknown heading"),
    ):
        with pytest.raises(ScenarioError, match=match):
            read_points(write(tmp_path, text, "heights.csv"))
    with pytest.raises(ScenarioError, match=r"neither a track \(.gpx\)"):
        read_points(write(tmp_path, "x", "track.kml"))
