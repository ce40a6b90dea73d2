-- The rainfall window of each crop and the reference period, from program.yml; filled by the pipeline.
create table reference.rainfall_windows (
  crop varchar, first_day varchar, last_day varchar, first_year integer, last_year integer
);
comment on table reference.rainfall_windows is 'One row per crop: calendar window and fixed reference period';
