-- One row per comparison, target and what is multiplied: half-width to expect (kg/ha); filled by the pipeline.
create table estimates.substitution (
  comparison_id varchar, target varchar, grown varchar, times integer, std_error double, half_width double, reason varchar
);
comment on table estimates.substitution is 'One row per half-width when one thing is multiplied';
