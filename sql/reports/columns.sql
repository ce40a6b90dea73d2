-- One row per column of the reports layer, with what one row of its table is.
create view reports.columns as
select c.table_name, v.comment as grain, c.column_index as position, c.column_name, lower(c.data_type) as data_type
from duckdb_columns() as c inner join duckdb_views() as v on v.schema_name = c.schema_name and v.view_name = c.table_name
where c.schema_name = 'reports' and c.table_name <> 'names'
order by c.table_name, c.column_index;
comment on view reports.columns is 'One row per column of the reports layer';
