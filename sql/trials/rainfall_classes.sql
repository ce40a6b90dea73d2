-- needs: trials.window_rainfall, trials.reference_rainfall
-- One row per place, season and crop: standardized precipitation index and class; filled by the pipeline, blind to yields.
create table trials.rainfall_classes (
  site_year_id varchar, place varchar, season integer, crop varchar, window_from varchar, window_to varchar,
  rain_mm double, n_days integer, n_days_missing integer, normal_mm double, percent_of_normal double, spi double,
  rainfall_class varchar, spi_class varchar, reference_years integer, near_cut boolean, reason varchar
);
comment on table trials.rainfall_classes is 'One row per place, season and crop: rainfall class and why';
