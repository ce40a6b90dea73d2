-- One row per headline and site-year: its weight in the headline and its gain (kg/ha) as the leading method sees it; filled by the pipeline.
create table estimates.headline_weights (comparison_id varchar, target varchar, site_year_id varchar, weight double, gain double);
comment on table estimates.headline_weights is 'One row per headline and site-year; weights add up to 1, sum of weight x gain is the headline (kg/ha)';
