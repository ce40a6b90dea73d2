-- One row per comparison, target and choice of more site-years, blocks and seasons: half-width to expect (kg/ha); filled by the pipeline.
create table estimates.outlook (
  comparison_id varchar, target varchar, more_site_years integer, n_blocks integer, more_seasons integer, n_site_years integer,
  n_places integer, n_seasons integer, std_error double, df double, half_width double, reason varchar
);
comment on table estimates.outlook is 'One row per half-width to expect';
