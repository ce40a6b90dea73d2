-- Reviewed changes (corrections.yml of each season); filled by the pipeline.
create table reference.corrections (
  correction varchar primary key, position integer, season integer, table_name varchar, n_conditions integer, says varchar,
  cause varchar, who varchar, date date, treatment_known boolean
);
comment on table reference.corrections is 'One row per correction: cause, who, when';
