"""What a map is suggested to be: invented headers in several languages and orders, evidence, questions."""

import pytest
from intake.maps.conftest import Export, Suggest

from fleetlens.errors import FleetlensError

GERMAN = """
    Teile EUR;Fehlercodes;Auftragsnr;KM-Stand;Kennzeichen;Annahme;Fertigstellung;Auftragsart;Arbeiten;Lohn EUR
    300,00;P0401, P0404;1001;120.500;OV-A 12;14.03.2024;15.03.2024;Reparatur;AGR Ventil ersetzt;120,50
    ;;1001;120.500;OV-A 12;14.03.2024;15.03.2024;Reparatur;Probefahrt gemacht und Speicher gelesen;20,00
    12,00;;1002;80.100;OV-A 13;02.04.2024;02.04.2024;Wartung;Motoröl und Filter gewechselt;50,00
"""
DUTCH = """
    Kenteken,Werkordernummer,Datum,Tellerstand,Foutcodes,Werkzaamheden,Arbeidsloon,Onderdelen
    12-OV-AB,W1,14-3-2024,120500 km,P0401,EGR klep gereinigd en getest,80.50,12.10
    12-OV-AB,W2,20-4-2024,121900 km,,Olie ververst en filter vervangen,40.25,30.00
    13-OV-AB,W3,25-4-2024,50000 km,P2002,Roetfilter geregenereerd op de brug,60.75,0.00
"""
FRENCH = """
    Immatriculation\tN° OR\tDate d'entrée\tKilométrage\tCodes défaut\tTravaux effectués\tMain d'œuvre\tPièces HT
    OV-012-AB\tR1\t14/03/2024\t120 500\tP0401\tvanne EGR nettoyée et adaptée\t80,50\t12,10
    OV-012-AB\tR2\t20/04/2024\t121 900\t\tvidange et filtre à huile\t40,25\t30,00
    OV-013-AB\tR3\t25/04/2024\t50 000\tP2002\trégénération du filtre forcée\t60,75\t0,00
"""
SPANISH = """
    Orden de trabajo|Matrícula|Fecha entrada|Kilometraje|Código de avería|Trabajo realizado|Mano de obra
    T1|0012 OVA|14/03/2024|120.500|P0401|limpieza de la válvula EGR|80,50
    T2|0012 OVA|20/04/2024|121.900||cambio de aceite y filtro|40,25
    T3|0013 OVA|25/04/2024|50.000|P2002|regeneración forzada del filtro|60,75
"""
POLISH = """
    Nr zlecenia;Nr rejestracyjny;Data przyjęcia;Przebieg;Kody błędów;Opis prac;Robocizna
    Z1;OV 12A;14.03.2024;120500;P0401;czyszczenie zaworu EGR i adaptacja;80,50
    Z2;OV 12A;20.04.2024;121900;;wymiana oleju i filtra;40,25
    Z3;OV 13A;25.04.2024;50000;P2002;wypalanie filtra DPF;60,75
"""
SWEDISH = """
    Regnr,Arbetsorder,Inlämnad,Mätarställning km,Felkoder,Utfört arbete
    OVA 012,A1,2024-03-14,120500,P0401,EGR ventil rengjord och testad
    OVA 012,A2,2024-04-20,121900,,olja och filter bytt
    OVA 013,A3,2024-04-25,50000,P2002,partikelfilter regenererat på plats
"""
LANGUAGES = [GERMAN, DUTCH, FRENCH, SPANISH, POLISH, SWEDISH]


@pytest.mark.parametrize("text", LANGUAGES, ids=["de", "nl", "fr", "es", "pl", "sv"])
def test_a_wide_export_in_any_of_several_languages(text: str, export: Export, suggested: Suggest) -> None:
    found = suggested(export(text)).column_map
    assert found.kind == "wide"
    assert set(found.tables) == {"vehicles", "jobs", "job_codes", "job_actions"}
    assert {"job_id", "vehicle_id", "opened_at", "odometer"} <= set(found.tables["jobs"])
    assert found.tables["job_codes"]["code"].split
    assert found.tables["job_actions"]["note"].text
    assert found.tables["jobs"]["vehicle_id"] == found.tables["vehicles"]["registration"]


def test_the_keys_come_from_what_the_columns_hold(export: Export, suggested: Suggest) -> None:
    found = suggested(export(GERMAN))
    jobs, done = found.column_map.tables["jobs"], found.column_map.tables["job_actions"]
    assert (jobs["opened_at"].date_order, jobs["odometer"].unit) == ("day_first", "km")
    assert (done["labour_cost"].decimal, done["parts_cost"].decimal) == (",", ",")
    assert found.questions == ()


def test_contents_tell_what_names_do_not(export: Export, suggested: Suggest) -> None:
    vins = ["G0XWA23C0RV000001", "G0XSK15A1LV000002", "G0XWA23C0RV000003"]  # invented, in the form of ISO 3779
    rows = [
        f"{number},{vins[number % 3]},{2020 + number // 12}-{1 + number % 12:02}-03,{10_000 + 700 * number},P0401/P0404"
        for number in range(24)
    ]
    found = suggested(export("\n".join(["X1,X2,X3,X4,X5", *rows])))
    taken = {choice.column: choice.ours for choice in found.choices}
    assert "vehicles.vin" in taken["X2"]
    assert taken["X3"] == ("jobs.opened_at",)
    assert taken["X4"] == ("jobs.odometer",)
    assert taken["X5"] == ("job_codes.code",)
    assert taken["X1"] == ("jobs.job_id",)
    grown = next(choice for choice in found.choices if choice.column == "X4")
    assert "grow from row to row (100 % of the steps)" in grown.evidence[0]


def test_what_the_file_does_not_decide_is_asked(export: Export, suggested: Suggest) -> None:
    found = suggested(
        export(
            """
            Job,Reg,Date in,Mileage,Job type,Work done
            1,OV1,03/04/2021,52100,service,oil and filter changed today
            2,OV2,05/06/2021,42100,XZ,egr valve replaced and relearnt
            """
        )
    )
    asked = {question.partition(":")[0] for question in found.questions}
    assert asked == {"jobs.opened_at.date_order", "jobs.odometer", "jobs.reason"}
    jobs = found.column_map.tables["jobs"]
    assert (jobs["opened_at"].date_order, jobs["odometer"].unit, jobs["reason"].values) == ("?", "?", {"XZ": "?"})
    with pytest.raises(FleetlensError, match=r"leaves 3 questions open"):
        found.column_map.check_decided()


def test_a_job_without_a_number_gets_one_from_vehicle_and_day(export: Export, suggested: Suggest) -> None:
    found = suggested(
        export("Reg,Date in,Work done\nOV1,2021-04-13,egr valve cleaned by hand\nOV1,2021-05-13,road test only done\n")
    )
    assert found.column_map.tables["jobs"]["job_id"].made_from == ("vehicle_id", "opened_at")


def test_blank_columns_after_the_first_line_of_a_job(export: Export, suggested: Suggest) -> None:
    found = suggested(
        export(
            """
            Job No,Reg,Date in,Work done
            1,OV1,2021-04-13,egr valve replaced and relearnt
            ,,,road test ok after that
            2,OV2,2021-04-14,dpf pressure pipes cleaned out
            ,,,forced regen carried out
            """
        )
    )
    assert found.column_map.first_row_only
    assert any("the lines after a job's first" in line for line in found.conclusions)


@pytest.mark.parametrize(
    ("text", "table"),
    [
        (
            "Fleet no,VIN,Make,Model,Fuel,First registered\nV1,G0XWA23C0RV000001,Kestrane,Skiff,diesel,2020-01-13\n",
            "vehicles",
        ),
        ("Fleet no,Fuel date,Odometer km\nV1,2020-01-13,1200\nV1,2020-02-13,2200\n", "odometer"),
        ("Job no,Fault code,Code status\nJ1,P0401,stored\nJ2,P0404,pending\n", "job_codes"),
        ("Model,Component,Number fitted\nSkiff,egr_valve,1\nSkiff,dpf,1\n", "fitted"),
    ],
)
def test_a_file_of_one_table(text: str, table: str, export: Export, suggested: Suggest) -> None:
    found = suggested(export(text)).column_map
    assert (found.kind, list(found.tables)) == ("table", [table])
    assert found.ignore == ()


def test_what_differs_within_a_job_is_no_column_of_the_job(export: Export, suggested: Suggest) -> None:
    rows = [
        f"{job},OV{job % 7},2021-04-{13 + job % 9},M{line},egr valve checked and cleaned {job} {line}"
        for job in range(20)
        for line in (1, 2)
    ]
    found = suggested(export("\n".join(["Job No,Reg,Date in,Mechanic,Work done", *rows])))
    assert "technician" not in found.column_map.tables["jobs"]
    assert "Mechanic" in found.column_map.ignore
    assert any("'Mechanic' differs between the lines of 100 % of the jobs" in line for line in found.conclusions)


def test_a_name_is_judged_by_what_stands_below(export: Export, suggested: Suggest) -> None:
    parts = suggested(
        export(
            """
            ticket;asset.ref;Came;Went;Part;Did
            T1;V12;2024-01-13;2024-01-14;EGR valve;replaced
            T2;V13;2024-02-13;2024-02-14;turbo;cleaned
            """
        )
    ).column_map
    assert parts.tables["job_actions"]["component"].column == "Part"
    assert parts.tables["jobs"]["vehicle_id"].column == "asset.ref"
    assert parts.tables["jobs"]["closed_at"].column == "Went"
    numbers = suggested(
        export(
            """
            ticket;asset.ref;Came;Part;Text
            T1;V12;2024-01-13;77-4410;egr valve replaced and relearnt
            T2;V13;2024-02-13;77-4411;turbo cleaned and tested well
            """
        )
    ).column_map
    assert numbers.tables["job_actions"]["part_number"].column == "Part"


@pytest.mark.parametrize("header", ["Job;Reg;Kwam;Ging", "Job;Reg;Ging;Kwam"])
def test_of_two_dates_without_known_names_the_later_closes_the_job(
    header: str, export: Export, suggested: Suggest
) -> None:
    came, went = ["2024-01-13", "2024-02-13", "2024-03-13"], ["2024-01-14", "2024-02-13", "2024-03-19"]
    days = [(came, went) if header.endswith("Ging") else (went, came)][0]
    rows = [f"{n};OV{n};{one};{two}" for n, (one, two) in enumerate(zip(*days, strict=True))]
    jobs = suggested(export("\n".join([header, *rows]))).column_map.tables["jobs"]
    assert (jobs["opened_at"].column, jobs["closed_at"].column) == ("Kwam", "Ging")


def test_a_number_that_repeats_within_a_job_is_no_number_of_a_line(export: Export, suggested: Suggest) -> None:
    rows = [
        f"{job},OV{job},2021-04-13,{seq},EGR valve,cleaned,{seq}{n}"
        for job in (1, 2)
        for n, seq in enumerate((1, 1, 2))
    ]
    found = suggested(export("\n".join(["Job No,Reg,Date in,Seq,Component,Action,Labour cost", *rows])))
    assert found.column_map.tables["job_actions"]["line"].counted
    assert "'Seq' has one number on several rows of a job: no number of a line, left aside" in found.conclusions


def test_a_list_by_marks_alone_says_so(export: Export, suggested: Suggest) -> None:
    found = suggested(export("Plate,Make,Model\nHX12 ABC,Brellan,Corvo\nHX13 ABD,Brellan,Corvo\n"))
    mine = found.column_map.tables["vehicles"]
    assert (mine["vehicle_id"].column, mine["registration"].column) == ("Plate", "Plate")
    assert "no column numbers the vehicles: 'Plate' tells them" in found.conclusions


def test_nothing_recognised_is_said(export: Export, suggested: Suggest) -> None:
    with pytest.raises(FleetlensError, match="none of the columns was recognised"):
        suggested(export("qqq,zzz\nab,cd\nef,gh\n"))
