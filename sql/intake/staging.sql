-- One row is: a row of a file that keeps all rules of its own, typed and in our spelling, with its own identifiers still.
-- Reads:      nothing; makes the temporary tables that a load fills, one for each input table
-- Parameters: none
-- Columns:    place (file number * ROWS + row number * PARTS + part, as merge has them); known (this very file gave the row to an earlier load); the rest as in the store
create or replace temp table staged_vehicles (
    place bigint, known boolean, vehicle_id varchar, registration varchar, vin varchar, make varchar, model varchar,
    model_year integer, engine varchar, fuel varchar, duty varchar, depot varchar,
    in_service_on date, in_service_km double, history_from date, left_service_on date
);
create or replace temp table staged_fitted (
    place bigint, known boolean, model varchar, component varchar, "count" integer
);
create or replace temp table staged_jobs (
    place bigint, known boolean, job_id varchar, vehicle_id varchar, opened_at timestamp, closed_at timestamp, odometer_km double,
    reason varchar, complaint varchar, workshop varchar, technician varchar, downtime_h double
);
create or replace temp table staged_job_codes (
    place bigint, known boolean, job_id varchar, code varchar, failure_type varchar, status varchar, from_text boolean
);
create or replace temp table staged_job_actions (
    place bigint, known boolean, job_id varchar, line integer, component varchar, action varchar, cause varchar, position varchar,
    part_number varchar, part_grade varchar, quantity double, labour_h double, labour_cost double, parts_cost double, note varchar,
    from_text boolean
);
create or replace temp table staged_job_checks (
    place bigint, known boolean, job_id varchar, component varchar, "check" varchar, value double, unit varchar,
    low double, high double, passed boolean
);
create or replace temp table reused_jobs (job_id varchar);
create or replace temp table staged_odometer (
    place bigint, known boolean, vehicle_id varchar, read_at timestamp, odometer_km double, source varchar
);
