-- keep
-- One row per run that published estimates; append-only.
create table if not exists estimates.runs (
  run_id varchar primary key, started timestamp, command varchar, code_commit varchar, lock_sha256 varchar,
  python varchar, packages varchar, r_versions varchar, settings_sha256 varchar, inputs_sha256 varchar, deciding_texts varchar
);
comment on table estimates.runs is 'One row per run: code, software, settings and inputs';
