-- keep
-- One row per run, headline and cause: the headline before and after that cause alone was let in (kg/ha); append-only.
create table if not exists estimates.run_changes (
  run_id varchar, comparison_id varchar, target varchar, position integer, cause varchar,
  before double, after double, n_before integer, n_after integer
);
comment on table estimates.run_changes is 'One row per run, headline and cause of change (kg/ha)';
