-- One row per comparison and trial of its crop: used, or left out and why; filled by the pipeline.
create table estimates.eligibility (
  comparison_id varchar, trial_id varchar, site_year_id varchar, season integer, place varchar,
  is_used boolean, reason varchar, n_blocks integer, rates_missing double[], also_differs varchar
);
comment on table estimates.eligibility is 'One row per comparison and trial of its crop';
