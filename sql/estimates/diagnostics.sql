-- One row per comparison and pooled site-year, and per block of its trials: residual (kg/ha) and where it ranks; filled by the pipeline.
create table estimates.diagnostics (
  comparison_id varchar, kind varchar, site_year_id varchar, trial_id varchar, block varchar,
  residual double, standardized double, normal_quantile double
);
comment on table estimates.diagnostics is 'One row per residual of a site-year or block (kg/ha), with its normal quantile';
