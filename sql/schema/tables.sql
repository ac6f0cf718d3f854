-- The tables of an empty store: what was loaded, and the record of the loads.
-- People see only their own identifiers (vehicle_id, job_id, code, component); the integer keys stay inside.
create type job_reason as enum ('breakdown', 'defect', 'scheduled', 'inspection', 'campaign', 'warranty');
create type code_status as enum ('stored', 'pending', 'permanent');
create type action_kind as enum (
    'inspect', 'diagnose', 'clean', 'replace', 'repair', 'adjust', 'lubricate', 'regenerate', 'relearn', 'software',
    'clear_codes', 'road_test', 'no_fault_found', 'top_up', 'drain', 'charge', 'disable',
    'advise', 'quote', 'decline', 'defer', 'negated', 'credit', 'unstated'
);

create table codes (code_key integer not null, code varchar not null);            -- P0401, or SPN 1208 FMI 3
create table components (component_key integer not null, component varchar not null);

create table vehicles (
    vehicle_key integer not null,
    vehicle_id varchar not null,
    registration varchar,
    vin varchar,
    make varchar,
    model varchar,
    model_year integer,
    engine varchar,
    fuel varchar,
    duty varchar,
    depot varchar,
    in_service_on date,
    in_service_km double,
    history_from date,
    left_service_on date
);

create table fitted (model varchar not null, component_key integer not null, "count" integer);

create table jobs (
    job_key integer not null,
    job_id varchar not null,
    vehicle_key integer not null,
    opened_at timestamp not null,
    closed_at timestamp,
    odometer_km double,
    reason job_reason,
    complaint varchar,
    workshop varchar,
    technician varchar,
    downtime_h double
);

create table job_sources (job_key integer not null, source varchar not null);      -- the source that told of it last

create table job_codes (
    job_key integer not null,
    code_key integer not null,
    failure_type varchar,                                                           -- two hexadecimal digits, or null
    status code_status,
    from_text boolean not null default false                                        -- read from free text
);

create table job_actions (
    job_key integer not null,
    line integer,
    component_key integer not null,
    action action_kind not null,
    cause varchar,
    position varchar,
    part_number varchar,
    part_grade varchar,
    quantity double,
    labour_h double,
    labour_cost double,
    parts_cost double,
    note varchar,
    from_text boolean not null default false
);

create table job_checks (
    job_key integer not null,
    component_key integer,
    "check" varchar not null,
    value double,
    unit varchar,
    low double,
    high double,
    passed boolean
);

create table odometer (
    vehicle_key integer not null,
    read_at timestamp not null,
    odometer_km double not null,
    source varchar
);

-- Every odometer reading of every source, judged: `good` ones carry the usage, the others are listed with the reason.
create table readings (
    vehicle_key integer not null,
    read_at timestamp not null,
    km double not null,                                                             -- as used; as read where not good
    source varchar not null,                                                        -- 'in service', 'job' or the source
    job_key integer,                                                                -- the job that holds it, or null
    good boolean not null,
    why varchar,                                                                    -- null where used as read
    raw_km double not null,                                                         -- as read
    proposed_km double,                                                             -- null where no correction fits
    kind varchar not null,                                                          -- as read, runs on, corrected, unit, tenths, filler, typo, unsettled
    segment integer not null                                                        -- 1, 2, ...: the instrument, in time
);

create table settings (name varchar not null, value varchar not null);              -- as_of, currency, odometer_proposals

create table source_maps (
    header_shape varchar not null,                                                  -- hash of the sorted names of columns
    name varchar not null,
    toml varchar not null,
    remembered_at timestamp not null                                                -- UTC
);

create table loads (
    load_id integer not null,
    loaded_at timestamp not null,                                                   -- UTC
    snapshot varchar not null,                                                      -- fleet-000012
    rows_in bigint not null,
    accepted bigint not null,
    repeated bigint not null,
    refused bigint not null,
    replaced bigint not null                                                        -- of the accepted: took the place of a stored row
);

create table load_files (
    load_id integer not null,
    path varchar not null,
    table_name varchar not null,
    sha256 varchar not null,
    rows_in bigint not null,
    accepted bigint not null,
    repeated bigint not null,
    refused bigint not null,
    replaced bigint not null
);

create table refused_rows (
    load_id integer not null,
    path varchar not null,
    sha256 varchar not null,
    table_name varchar not null,
    "row" bigint not null,                                                          -- 1 is the header, 2 the first row of data
    "column" varchar not null,
    value varchar,
    rule varchar not null,                                                          -- short name of the rule that was broken
    reason varchar not null                                                         -- the sentence with the remedy
);
