-- One row per thing a check found, with the place it stands in and what to do about it. The checks append to it.
create table trials.findings (
  check_name varchar not null,
  severity varchar not null,
  file varchar not null,
  sheet varchar,
  row_number bigint,
  table_name varchar not null,
  column_name varchar,
  trial_id varchar,
  site_id varchar,
  found varchar,
  expected varchar,
  mend varchar
);
comment on table trials.findings is 'One row per finding: noticed, not changed';
