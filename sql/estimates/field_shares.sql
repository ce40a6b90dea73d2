-- One row per comparison, target and threshold: share of fields whose true gain (kg/ha) lies above it, by the model; filled by the pipeline.
create table estimates.field_shares (
  estimate_id varchar primary key, comparison_id varchar, target varchar, above varchar, threshold double, share double, tenths integer, tau double,
  n_site_years integer, n_seasons integer, reason varchar
);
comment on table estimates.field_shares is 'One row per share of fields that gain, by the model (kg/ha)';
