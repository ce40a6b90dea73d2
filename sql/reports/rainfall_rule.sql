-- needs: reference.rainfall_windows
-- One row per crop: the window and reference period by which site-years are classed.
create view reports.rainfall_rule as select * from reference.rainfall_windows order by crop;
comment on view reports.rainfall_rule is 'One row per crop: rainfall window and reference period';
