"""Exports of three invented systems that the code wasn't written for: what is suggested, and what is loaded from it.

At first sight the complaint was taken for the work, the reading beside its unit and the marks were not recognised, and
an invoice for several vans made one vehicle of them. The rules that mend it know nothing of these files.
"""

from pathlib import Path

from intake.maps.conftest import Export, answered_with, ask_store
from intake.small import faults

from fleetlens.intake.load import load

LEDGER = """
    Depot Ledger;;;;;;;
    Printed 03.11.2026;;;;;;;
    Slip;Van;Rolled in;Rolled out;Clock;Grumble;Bench work;Paid
    S-201;14;13.01.25;14.01.25;88'120;no power, eml on P0401;egr valve stripped and cleaned, relearnt;1.120,50
    ;;;;;;road test ok;
    S-202;15;20.01.25;20.01.25;41'002;service due;oil + filters changed;210,00
    S-203;14;03.02.25;05.02.25;88'990;limp mode;turbo actuator seized, new turbo fitted;1.890,00
    Total;;;;;;;3.220,50
"""
NESTED = (
    '{"case":{"key":9001},"unit":{"tag":"KR-07"},"times":{"arrive":"2025-03-04T08:10:00+01:00",'
    '"leave":"2025-03-05T16:00:00+01:00"},"usage":{"amount":120455,"uom":"km"},"dtc":["P0401","P0404"]}\n'
    '{"case":{"key":9002},"unit":{"tag":"KR-08"},"times":{"arrive":"2025-03-06T09:00:00+01:00",'
    '"leave":"2025-03-06T11:00:00+01:00"},"usage":{"amount":60222,"uom":"km"},"dtc":[]}\n'
)
BARRED = """
    Invoice|VRM|Inv date|Miles|Narrative|Lab hrs|Lab amt|Pts amt
    I77|KX21 ABC|02/25/2025|45,120|P2463 dpf blocked, forced regen carried out|1.5|90.00|0.00
    I77|KX21 ABC|02/25/2025|45,120|glow plugs x4 replaced|2.0|120.00|88.40
    I78|KX21 ABD, KX21 ABE, KX21 ABF|03/14/2025||seasonal check of three vans|6|360.00|0
"""


def test_a_ledger_with_titles_and_words_of_its_own(export: Export, store: Path) -> None:
    path = export(LEDGER)
    report = load([path], store, maps=[answered_with(path, odometer="km")])
    assert report.refused == 0
    jobs = (
        "select job_id, opened_at::date::varchar, closed_at::date::varchar, odometer_km, complaint from jobs order by 1"
    )
    assert ask_store(store, jobs)[0] == ("S-201", "2025-01-13", "2025-01-14", 88_120.0, "no power, eml on P0401")
    done = "select job_id, component, action::varchar from job_actions join components using (component_key)"
    assert {
        ("S-201", "egr_valve", "clean"),
        ("S-201", "vehicle", "road_test"),
        ("S-203", "turbocharger", "replace"),
    } <= set(ask_store(store, f"{done} join jobs using (job_key)"))


def test_a_nested_system_with_the_unit_beside_the_reading(export: Export, store: Path) -> None:
    path = export(NESTED, "cases.ndjson")
    report = load([path], store, maps=[answered_with(path)])
    assert report.refused == 0
    assert ask_store(store, "select job_id, odometer_km, closed_at is not null from jobs order by 1") == [
        ("9001", 120_455.0, True),
        ("9002", 60_222.0, True),
    ]
    assert ask_store(store, "select count(*) from job_codes") == [(2,)]


def test_34_one_invoice_for_several_vans_is_refused_with_the_remedy(export: Export, store: Path) -> None:
    path = export(BARRED)
    report = load([path], store, maps=[answered_with(path)])
    told = {fault[2:] for fault in faults(report) if fault[4] == "unreadable"}
    sentence = "several vehicles in one cell: write a row for each, with its share of the costs"
    assert told == {("vehicle_id", "KX21 ABD, KX21 ABE, KX21 ABF", "unreadable", sentence)}
    assert ask_store(store, "select vehicle_id from vehicles") == [("KX21 ABC",)]
    assert ask_store(store, "select sum(labour_cost), sum(parts_cost) from job_actions") == [(210.0, 88.4)]
