-- One row per comparison, target and moderator: does the gain differ between its classes; filled by the pipeline.
create table estimates.interaction_tests (
  comparison_id varchar, target varchar, moderator varchar, kind varchar, f_stat double, df1 double, df2 double, p_value double,
  p_value_holm double, n_tests integer, n_levels integer, n_site_years integer, n_unknown integer, sentence varchar, warnings varchar
);
comment on table estimates.interaction_tests is 'One row per interaction test, with Holm''s adjustment within its comparison and target';
