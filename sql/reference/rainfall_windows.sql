-- The rainfall window of each crop, the reference period and the day both were fixed, from program.yml; filled by the pipeline.
create table reference.rainfall_windows (
  crop varchar, first_day varchar, last_day varchar, first_year integer, last_year integer, fewest_years integer, fixed_on date
);
comment on table reference.rainfall_windows is 'One row per crop: calendar window and fixed reference period';
