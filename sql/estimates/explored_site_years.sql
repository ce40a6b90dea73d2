-- One row per comparison, class of an exploratory breakdown and site-year in it (kg/ha); filled by the pipeline.
create table estimates.explored_site_years (
  comparison_id varchar, moderator varchar, level varchar, site_year_id varchar, place varchar, season integer,
  gain double, std_error double, n_blocks integer, n_plots integer
);
comment on table estimates.explored_site_years is 'One row per class of an exploratory breakdown and site-year in it: the gain that counted (kg/ha), at an N rate that of its plots alone';
