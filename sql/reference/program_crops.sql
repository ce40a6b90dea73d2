-- Crops that program.yml adds; filled by the pipeline.
create table reference.program_crops (
  word varchar, product varchar, bushel_lb double, standard_moisture_pct double, display_unit varchar,
  display_digits integer, typical_low double, typical_high double, hard_low double, hard_high double
);
comment on table reference.program_crops is 'One row per crop added by program.yml';
