-- needs: trials.row_counts
-- One row per season and table: delivered = used + set aside + held.
create view reports.row_counts as select * from trials.row_counts order by season, table_name;
comment on view reports.row_counts is 'One row per season and table';
