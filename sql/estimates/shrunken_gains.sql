-- One row per comparison and site-year: its gain (kg/ha) drawn towards the others'; filled by the pipeline.
create table estimates.shrunken_gains (
  comparison_id varchar, site_year_id varchar, gain double, shrunken_gain double, shrunken_std_error double
);
comment on table estimates.shrunken_gains is 'One row per comparison and site-year: best prediction of its true gain (kg/ha)';
