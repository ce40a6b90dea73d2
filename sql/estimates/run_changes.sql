-- keep
-- One row per run, headline and cause: the headline before and after that cause alone was let in (kg/ha); append-only.
create table if not exists estimates.run_changes (
  run_id varchar, comparison_id varchar, target varchar, position integer, cause varchar,
  before double, after double, n_before integer, n_after integer
);
-- a warehouse of an earlier version has the table without the ends of the intervals
alter table estimates.run_changes add column if not exists conf_low_before double;
alter table estimates.run_changes add column if not exists conf_high_before double;
alter table estimates.run_changes add column if not exists conf_low_after double;
alter table estimates.run_changes add column if not exists conf_high_after double;
comment on table estimates.run_changes is 'One row per run, headline and cause of change (kg/ha)';
