-- One row per comparison with a margin, target and number of more seasons: site-years needed to show it; filled by the pipeline.
create table estimates.needed (
  comparison_id varchar, target varchar, aim varchar, size double, expected_gain double, power double, n_blocks integer,
  more_seasons integer, more_site_years integer, reached double, reason varchar
);
comment on table estimates.needed is 'One row per number of site-years needed';
